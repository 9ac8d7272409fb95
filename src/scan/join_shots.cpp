// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/join_shots.h"

#include "scan/light_frame.h"
#include "scan/pass_on.h"
#include "scan/resample.h"

#include <fmt/format.h>

#include <algorithm>
#include <list>
#include <optional>
#include <utility>
#include <vector>

namespace basefog::scan {
namespace {

class Shots final : public StripShots {
public:
    Shots(const std::string& path, const ScanOptions& options, Observer& observer) : options_(options), observer_(observer) {
        files_.push_back({path, options.other_exposures});
        files_.insert(files_.end(), options.further_shots.begin(), options.further_shots.end());
        options_.further_shots.clear(), options_.join.reset(), options_.lens.reset(), options_.infrared_path.clear();
        options_.ignore_infrared = true;
        options_.from_the_top = false;  // the strip may run across the shot
        light_path_ = std::exchange(options_.light_frame_path, {});
        dark_path_ = std::exchange(options_.dark_frame_path, {});
    }
    [[nodiscard]] std::size_t count() const override { return files_.size(); }
    [[nodiscard]] const std::string& path(std::size_t shot) const override { return files_[shot].path; }
    [[nodiscard]] Result<std::unique_ptr<ScanReader>> open(std::size_t shot) override {
        ScanOptions own = options_;
        own.other_exposures = files_[shot].other_exposures;
        if (first_) own.orientation = first_->orientation;
        auto opened = open_scan(files_[shot].path, own, observer_);
        if (!opened) return opened;
        const ScanInfo& info = (*opened)->info();
        if (first_ && (info.width != first_->width || info.height != first_->height))
            return fail(
                ErrorCode::malformed,
                fmt::format("has {} x {} pixels where the strip's shot {} has {} x {}", info.width, info.height, first_->path, first_->width, first_->height),
                info.path, "join only shots by one camera, all of one size and held the same way");
        if (!first_) first_ = info;
        if (light_path_.empty()) return opened;
        if (!light_) {
            ScanOptions frames = own;
            frames.light_frame_path = light_path_, frames.dark_frame_path = dark_path_;
            auto read = read_light_frame(info, frames, observer_);
            if (!read) return Failure(std::move(read.error()));
            light_ = std::move(*read);
        }
        return divide_by_light_frame(std::move(*opened), light_);
    }

private:
    ScanOptions options_;
    Observer& observer_;
    std::vector<ShotFiles> files_;
    std::string light_path_, dark_path_;
    std::shared_ptr<const LightAndDark> light_;
    std::optional<ScanInfo> first_;
};

class Joined final : public ScanReader {
public:
    Joined(std::unique_ptr<StripShots> shots, std::unique_ptr<ScanReader> first, const StripJoin& join, const LensModel& lens)
        : shots_(std::move(shots)),
          join_(join),
          info_(first->info()),
          view_(lens, info_.width, info_.height),
          shot_width_(info_.width),
          shot_height_(info_.height),
          shot_bytes_(first->held_bytes()) {
        if (join.falloff) falloff_ = tabulate(*join.falloff, shot_width_, shot_height_);
        info_.width = join.width, info_.height = join.height;
        info_.resolution.reset();  // what a camera writes there means nothing
        info_.resolution_origin = Origin::assumed;
        info_.shots = static_cast<int>(join.shots.size());
        if (lens != LensModel{}) info_.lens = lens;
        for (const StripJoin::Shot& shot : join.shots) to_shot_.push_back(shot.to_strip.inverse());
        for (std::size_t i = 0; i < join.shots.size(); ++i)
            if (join.shots[i].file == 0) open_.emplace_front(i, std::move(first));
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return Access::random; }
    void will_average(std::int64_t factor) override {
        averaged_over_ = factor;
        for (const auto& [shot, reader] : open_) reader->will_average(factor);
    }
    [[nodiscard]] std::int64_t held_bytes() const override { return shot_bytes_ * static_cast<std::int64_t>(std::min(kMostOpen, join_.shots.size())); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        for (std::int64_t y = 0; y < out.height(); ++y) std::fill(out.row(y), out.row(y) + out.width(), LinearRgbi{});
        for (std::size_t i = 0; i < join_.shots.size(); ++i) {
            PxRect part = rect;
            if (i > 0) part.y0 = std::max(part.y0, static_cast<std::int64_t>(std::floor(join_.seams[i - 1].at - join_.seams[i - 1].half)));
            if (i < join_.seams.size()) part.y1 = std::min(part.y1, static_cast<std::int64_t>(std::ceil(join_.seams[i].at + join_.seams[i].half)));
            if (part.empty()) continue;
            if (auto added = add(i, part, rect, out); !added) return added;
        }
        return {};
    }

private:
    /// Mostly two shots are open: where they overlap both are needed, and rows are asked for from the top. Chosen: a shot may take 200 MB.
    static constexpr std::size_t kMostOpen = 2;

    [[nodiscard]] Result<ScanReader*> reader(std::size_t shot) {
        const auto known = std::find_if(open_.begin(), open_.end(), [&](const auto& o) { return o.first == shot; });
        if (known != open_.end()) {
            open_.splice(open_.begin(), open_, known);
            return open_.front().second.get();
        }
        while (open_.size() >= kMostOpen) open_.pop_back();
        auto opened = shots_->open(static_cast<std::size_t>(join_.shots[shot].file));
        if (!opened) return Failure(std::move(opened.error()));
        (*opened)->will_average(averaged_over_);
        open_.emplace_front(shot, std::move(*opened));
        return open_.front().second.get();
    }

    /// One over the falloff, every kStep pixels of a shot.
    static constexpr std::int64_t kStep = 32;
    [[nodiscard]] static Image<std::array<float, 3>> tabulate(const ShotFalloff& falloff, std::int64_t width, std::int64_t height) {
        Image<std::array<float, 3>> out(width / kStep + 2, height / kStep + 2);
        for (std::int64_t y = 0; y < out.height(); ++y)
            for (std::int64_t x = 0; x < out.width(); ++x) {
                const std::array<double, 3> light = falloff.at({static_cast<double>(x * kStep), static_cast<double>(y * kStep)}, width, height);
                out(x, y) = {static_cast<float>(1 / light[0]), static_cast<float>(1 / light[1]), static_cast<float>(1 / light[2])};
            }
        return out;
    }
    [[nodiscard]] std::array<float, 3> brighten(PointPx p) const {
        const float fx = std::clamp(static_cast<float>(p.x) / kStep, 0.0F, static_cast<float>(falloff_.width() - 1) - 0.001F);
        const float fy = std::clamp(static_cast<float>(p.y) / kStep, 0.0F, static_cast<float>(falloff_.height() - 1) - 0.001F);
        const auto x = static_cast<std::int64_t>(fx), y = static_cast<std::int64_t>(fy);
        const float u = fx - static_cast<float>(x), v = fy - static_cast<float>(y);
        const auto &a = falloff_(x, y), &b = falloff_(x + 1, y), &c = falloff_(x, y + 1), &d = falloff_(x + 1, y + 1);
        std::array<float, 3> out{};
        for (std::size_t k = 0; k < 3; ++k) out[k] = (a[k] * (1 - u) + b[k] * u) * (1 - v) + (c[k] * (1 - u) + d[k] * u) * v;
        return out;
    }

    /// A shot's share of a row: falls from 1 to 0 across its seams, as a cubic that leaves and arrives level, so that no line shows.
    [[nodiscard]] float share(std::size_t shot, std::int64_t y) const {
        const auto gone = [&](const StripJoin::Seam& seam) {
            const double t = std::clamp((static_cast<double>(y) + 0.5 - seam.at) / (2 * seam.half) + 0.5, 0.0, 1.0);
            return t * t * (3 - 2 * t);
        };
        const double begun = shot > 0 ? gone(join_.seams[shot - 1]) : 1, ended = shot < join_.seams.size() ? gone(join_.seams[shot]) : 0;
        return static_cast<float>(begun - ended);
    }

    [[nodiscard]] Result<void> add(std::size_t shot, PxRect part, PxRect rect, View<LinearRgbi> out) {
        const Similarity& to_shot = to_shot_[shot];
        const auto seen = [&](PointPx p) { return view_.seen(to_shot.at(p)); };
        const PointPx middle = join_.shots[shot].to_strip.at({0.5 * static_cast<double>(shot_width_), 0.5 * static_cast<double>(shot_height_)});
        const PxRect source = source_of(part, middle, shot_width_, shot_height_, seen);
        auto from = reader(shot);
        if (!from) return Failure(std::move(from.error()));
        Image<LinearRgbi> pixels(source.width(), source.height());
        if (auto read = (*from)->read_region(source, pixels.view()); !read) return read;
        const int file = join_.shots[shot].file;
        pass_on_warnings(**from, info_, file == 0 ? std::string() : shots_->path(static_cast<std::size_t>(file)) + ": ");
        const Rgb<double>& level = join_.shots[shot].level;
        const std::array<float, 3> by{static_cast<float>(1 / level.r), static_cast<float>(1 / level.g), static_cast<float>(1 / level.b)};
        for (std::int64_t y = part.y0; y < part.y1; ++y) {
            const float weight = share(shot, y);
            if (weight <= 0) continue;
            LinearRgbi* row = out.row(y - rect.y0);
            for (std::int64_t x = part.x0; x < part.x1; ++x) {
                const PointPx at = seen({static_cast<double>(x) + 0.5, static_cast<double>(y) + 0.5});
                const LinearRgbi p = between(pixels, source, at);
                const std::array<float, 3> more = falloff_.empty() ? std::array<float, 3>{1, 1, 1} : brighten(at);
                LinearRgbi& sum = row[x - rect.x0];
                sum.r += weight * by[0] * more[0] * p.r, sum.g += weight * by[1] * more[1] * p.g, sum.b += weight * by[2] * more[2] * p.b;
            }
        }
        return {};
    }

    std::unique_ptr<StripShots> shots_;
    StripJoin join_;
    std::int64_t averaged_over_ = 1;
    ScanInfo info_;
    LensView view_;
    std::int64_t shot_width_, shot_height_, shot_bytes_;
    Image<std::array<float, 3>> falloff_;  ///< empty: none to undo
    std::vector<Similarity> to_shot_;
    std::list<std::pair<std::size_t, std::unique_ptr<ScanReader>>> open_;  ///< latest used first
};

}  // namespace

Result<std::unique_ptr<ScanReader>> join_shots(const std::string& path, const ScanOptions& options, Observer& observer) {
    auto shots = strip_shots(path, options, observer);
    auto first = shots->open(0);
    if (!first) return first;
    return std::make_unique<Joined>(std::move(shots), std::move(*first), *options.join, options.lens.value_or(LensModel{}));
}

}  // namespace basefog::scan

namespace basefog {

std::unique_ptr<StripShots> strip_shots(const std::string& path, const ScanOptions& options, Observer& observer) {
    return std::make_unique<scan::Shots>(path, options, observer);
}

}  // namespace basefog
