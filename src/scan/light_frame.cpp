// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/light_frame.h"

#include "scan/pass_on.h"

#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

namespace basefog::scan {
namespace {

/// Pixels along the longer side that a light or dark frame is kept at. Chosen: a speck on the lamp's glass, out of focus, is wider than two of them, and
/// averaging takes the frame's own noise away.
constexpr std::int64_t kKeptLongSide = 1600;
/// Above this share of clipped pixels a light frame says nothing about the brightest part. Chosen: hot pixels are fewer.
constexpr double kMostClipped = 0.001;
/// Of full scale; a darker light frame is mostly noise. Chosen: a twentieth, four stops and a half under white.
constexpr double kLeastLight = 0.05;
/// Light from a lamp and a lens changes smoothly. Spread of its logarithm about a smooth surface, between the 2 % and the 98 % point: above this
/// there is something in the picture. Chosen: dirt on the glass stays under .1, the thinnest film with a picture or perforations above .3.
constexpr double kMostTexture = 0.2;

/// A frame averaged down, read by interpolation.
class Reduced {
public:
    [[nodiscard]] static Result<Reduced> read(ScanReader& reader, Observer& observer) {
        OverviewOptions wanted;
        const ScanInfo& info = reader.info();
        const std::int64_t longer = std::max(info.width, info.height), factor = std::max<std::int64_t>(1, longer / kKeptLongSide);
        wanted.target_dpi = 1e9;  // by size alone, whatever resolution the file states
        wanted.max_pixels = ((info.width + factor - 1) / factor) * ((info.height + factor - 1) / factor);
        reader.will_average(overview_factor(info, wanted));
        auto overview = read_overview(reader, wanted, observer);
        if (!overview) return Failure(std::move(overview.error()));
        return Reduced(std::move(*overview));
    }
    [[nodiscard]] const Overview& overview() const { return overview_; }
    /// At a pixel of the full frame.
    [[nodiscard]] std::array<float, 3> at(std::int64_t x, std::int64_t y) const {
        const float fx = place(x, overview_.pixels.width()), fy = place(y, overview_.pixels.height());
        const auto x0 = static_cast<std::int64_t>(fx), y0 = static_cast<std::int64_t>(fy);
        const std::int64_t x1 = std::min(x0 + 1, overview_.pixels.width() - 1), y1 = std::min(y0 + 1, overview_.pixels.height() - 1);
        const float u = fx - static_cast<float>(x0), v = fy - static_cast<float>(y0);
        const LinearRgbi &a = overview_.pixels(x0, y0), &b = overview_.pixels(x1, y0), &c = overview_.pixels(x0, y1), &d = overview_.pixels(x1, y1);
        const auto mix = [&](float p, float q, float r, float s) { return (p * (1 - u) + q * u) * (1 - v) + (r * (1 - u) + s * u) * v; };
        return {mix(a.r, b.r, c.r, d.r), mix(a.g, b.g, c.g, d.g), mix(a.b, b.b, c.b, d.b)};
    }

private:
    explicit Reduced(Overview overview) : overview_(std::move(overview)) {}
    [[nodiscard]] float place(std::int64_t pixel, std::int64_t cells) const {
        const float at = (static_cast<float>(pixel) + 0.5F) / static_cast<float>(overview_.factor) - 0.5F;
        return std::clamp(at, 0.0F, static_cast<float>(cells - 1));
    }
    Overview overview_;
};

}  // namespace

/// What light and dark frames say of every pixel.
class LightAndDark {
public:
    LightAndDark(Reduced bright, std::optional<Reduced> black) : light_(std::move(bright)), dark_(std::move(black)) {}

    void divide(PxRect where, View<LinearRgbi> pixels) const {
        constexpr float kLeast = 1e-4F;  // of full scale: beyond the lens' picture circle
        for (std::int64_t y = 0; y < pixels.height(); ++y)
            for (std::int64_t x = 0; x < pixels.width(); ++x) {
                LinearRgbi& p = pixels(x, y);
                const std::array<float, 3> bright = light_.at(where.x0 + x, where.y0 + y);
                const std::array<float, 3> black = dark_ ? dark_->at(where.x0 + x, where.y0 + y) : std::array<float, 3>{};
                p.r = (p.r - black[0]) / std::max(bright[0] - black[0], kLeast);
                p.g = (p.g - black[1]) / std::max(bright[1] - black[1], kLeast);
                p.b = (p.b - black[2]) / std::max(bright[2] - black[2], kLeast);
            }
    }

private:
    Reduced light_;
    std::optional<Reduced> dark_;
};

namespace {

class StoredDivided final : public StoredFormat {
public:
    StoredDivided(std::shared_ptr<const StoredFormat> shot, std::shared_ptr<const LightAndDark> by) : shot_(std::move(shot)), by_(std::move(by)) {}
    [[nodiscard]] std::int64_t pixel_bytes() const override { return shot_->pixel_bytes(); }
    void linear(const std::byte* stored, PxRect where, View<LinearRgbi> out) const override {
        shot_->linear(stored, where, out);
        by_->divide(where, out);
    }

private:
    std::shared_ptr<const StoredFormat> shot_;
    std::shared_ptr<const LightAndDark> by_;
};

class Divided final : public ScanReader {
public:
    Divided(std::unique_ptr<ScanReader> shot, std::shared_ptr<const LightAndDark> by) : shot_(std::move(shot)), info_(shot_->info()), by_(std::move(by)) {
        info_.light_divided = true;
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return shot_->access(); }
    void will_average(std::int64_t factor) override { shot_->will_average(factor); }
    [[nodiscard]] std::int64_t held_bytes() const override { return shot_->held_bytes(); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        if (auto read = shot_->read_region(rect, out); !read) return read;
        by_->divide(rect, out);
        pass_on_warnings(*shot_, info_);
        return {};
    }
    [[nodiscard]] std::shared_ptr<const StoredFormat> stored_format() const override { return std::make_shared<StoredDivided>(shot_->stored_format(), by_); }
    [[nodiscard]] Result<void> read_stored(PxRect rect, std::byte* out) override {
        auto read = shot_->read_stored(rect, out);
        pass_on_warnings(*shot_, info_);
        return read;
    }

private:
    std::unique_ptr<ScanReader> shot_;
    ScanInfo info_;
    std::shared_ptr<const LightAndDark> by_;
};

/// Spread of green's logarithm about the quadric that fits it best, between the 2 % and the 98 % point.
double texture(const Overview& light) {
    const auto w = static_cast<int>(light.pixels.width()), h = static_cast<int>(light.pixels.height());
    constexpr int kAcross = 300;  // places asked along the longer side
    const int step = std::max(1, std::max(w, h) / kAcross);
    cv::Mat terms(0, 6, CV_64F), level(0, 1, CV_64F);
    for (int y = 0; y < h; y += step)
        for (int x = 0; x < w; x += step) {
            const double u = (2 * x + 1.0) / w - 1, v = (2 * y + 1.0) / h - 1;
            terms.push_back(cv::Mat(cv::Matx<double, 1, 6>(1, u, v, u * u, u * v, v * v)));
            level.push_back(std::log(std::max(static_cast<double>(light.pixels(x, y).g), 1e-6)));
        }
    cv::Mat surface;
    cv::solve(terms, level, surface, cv::DECOMP_NORMAL | cv::DECOMP_CHOLESKY);
    const cv::Mat off = level - terms * surface;
    std::vector<double> sorted(off.begin<double>(), off.end<double>());
    std::sort(sorted.begin(), sorted.end());
    const auto at = [&](double share) { return sorted[static_cast<std::size_t>(share * static_cast<double>(sorted.size() - 1))]; };
    return at(0.98) - at(0.02);
}

Result<void> check_light(const Overview& light, const std::string& path) {
    for (int c = 0; c < 3; ++c)
        if (light.clipped_share[c] > kMostClipped)
            return fail(ErrorCode::malformed, "this frame of the bare light is at the camera's white limit", path,
                        "take it again with less exposure, the same as for the film");
    double mean = 0;
    for (std::int64_t y = 0; y < light.pixels.height(); ++y)
        for (std::int64_t x = 0; x < light.pixels.width(); ++x) mean += static_cast<double>(light.pixels(x, y).g);
    mean /= static_cast<double>(light.pixels.width() * light.pixels.height());
    if (mean < kLeastLight)
        return fail(ErrorCode::malformed, "this frame of the bare light is nearly black", path, "take it with the lamp on, no film, and the film's exposure");
    if (texture(light) > kMostTexture)
        return fail(ErrorCode::malformed, "this frame should show the bare light, but there is something in it: film, a holder's edge or a shadow", path,
                    "take the film out, let the light fill the picture, and take it again");
    return {};
}

Rgb<double> mean_of(const Overview& frame) {
    Rgb<double> sum;
    for (std::int64_t y = 0; y < frame.pixels.height(); ++y)
        for (std::int64_t x = 0; x < frame.pixels.width(); ++x) {
            const LinearRgbi& p = frame.pixels(x, y);
            sum.r += static_cast<double>(p.r), sum.g += static_cast<double>(p.g), sum.b += static_cast<double>(p.b);
        }
    const double n = static_cast<double>(frame.pixels.width() * frame.pixels.height());
    return {sum.r / n, sum.g / n, sum.b / n};
}

Result<void> check_dark(const Overview& dark, const Overview& light, const std::string& path) {
    /// Of the light frame's mean. Chosen: glow and heat stay a hundredth of it; a lens not capped is all of it.
    constexpr double kMostDark = 0.1;
    const Rgb<double> black = mean_of(dark), bright = mean_of(light);
    for (int c = 0; c < 3; ++c)
        if (black[c] > kMostDark * bright[c])
            return fail(ErrorCode::malformed, "this dark frame is not dark: it has a tenth of the bare light or more", path,
                        "take it with the lens capped and the settings of the film's shots, or leave it out");
    return {};
}

Result<Reduced> open_reduced(const std::string& path, const ScanInfo& shot, const ScanOptions& options, Observer& observer) {
    ScanOptions own = options;
    own.light_frame_path.clear();
    own.dark_frame_path.clear();
    own.infrared_path.clear();
    own.other_exposures.clear();
    own.lens.reset(), own.join.reset(), own.further_shots.clear();
    own.ignore_infrared = true;
    own.orientation = shot.orientation;  // a camera over a table cannot tell which way is up, and notes anything
    auto reader = open_scan(path, own, observer);
    if (!reader) return Failure(std::move(reader.error()));
    const ScanInfo& info = (*reader)->info();
    if (info.width != shot.width || info.height != shot.height)
        return fail(ErrorCode::malformed,
                    "has " + std::to_string(info.width) + " x " + std::to_string(info.height) + " pixels where the shot " + shot.path + " has " +
                        std::to_string(shot.width) + " x " + std::to_string(shot.height),
                    path, "take both with the same camera, settings and orientation");
    return Reduced::read(**reader, observer);
}

}  // namespace

Result<std::shared_ptr<const LightAndDark>> read_light_frame(const ScanInfo& shot, const ScanOptions& options, Observer& observer) {
    auto light = open_reduced(options.light_frame_path, shot, options, observer);
    if (!light) return Failure(std::move(light.error()));
    if (auto good = check_light(light->overview(), options.light_frame_path); !good) return Failure(std::move(good.error()));
    std::optional<Reduced> dark;
    if (!options.dark_frame_path.empty()) {
        auto read = open_reduced(options.dark_frame_path, shot, options, observer);
        if (!read) return Failure(std::move(read.error()));
        if (auto good = check_dark(read->overview(), light->overview(), options.dark_frame_path); !good) return Failure(std::move(good.error()));
        dark = std::move(*read);
    }
    return std::make_shared<const LightAndDark>(std::move(*light), std::move(dark));
}

std::unique_ptr<ScanReader> divide_by_light_frame(std::unique_ptr<ScanReader> shot, std::shared_ptr<const LightAndDark> by) {
    return std::make_unique<Divided>(std::move(shot), std::move(by));
}

}  // namespace basefog::scan
