// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/merge_exposures.h"

#include "scan/pass_on.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace basefog::scan {
namespace {

/// From here on a pixel says no more than that it was bright, and so do those beside it that were interpolated from it. Chosen: sensors bend a little
/// before they saturate.
constexpr float kNearWhite = 0.97F;
constexpr std::int64_t kSpoiltAround = 2;  // pixels: as far as the interpolation of a mosaic reaches
/// Weight falls to nothing from here to white, so that no seam shows. Chosen.
constexpr float kFadeFrom = 0.8F;
/// Variance of reading out over that of photons at full scale. Chosen: 3.5 electrons of 40,000, as usual sensors have; a factor of three either way
/// changes weights only where both are uncertain.
constexpr float kReading = 3e-4F;

/// Light at which exposures are compared, of full scale: under it noise, above it the sensor's bend. Chosen.
constexpr float kDarkest = 0.02F, kBrightest = 0.85F;
constexpr std::int64_t kComparedRows = 120;
constexpr std::size_t kLeastCompared = 500;
/// Half of the pixels compared must agree this closely, as a logarithm. Chosen: noise at the darkest is .04; a picture shifted by two pixels is .1 off.
constexpr double kAgree = 0.06;
/// Shutters repeat to some per cent; further off than this, what the camera noted is not what it did. Chosen.
constexpr double kAsNotedStops = 0.2;

float value(const LinearRgbi& p, int c) { return c == 0 ? p.r : c == 1 ? p.g : p.b; }

double middle_of(std::vector<double>& values) {
    const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), at, values.end());
    return *at;
}

/// How much more light `other` got than `shot`: the middle of the proportions of pixels that both saw well.
Result<double> exposure_of(ScanReader& other, ScanReader& shot, const std::string& path) {
    const std::int64_t width = shot.info().width, height = shot.info().height, step = std::max<std::int64_t>(1, height / kComparedRows);
    Image<LinearRgbi> a(width, 1), b(width, 1);
    std::vector<double> logs;
    for (std::int64_t y = step / 2; y < height; y += step) {
        if (auto read = shot.read_region({0, y, width, y + 1}, a.view()); !read) return Failure(std::move(read.error()));
        if (auto read = other.read_region({0, y, width, y + 1}, b.view()); !read) return Failure(std::move(read.error()));
        for (std::int64_t x = 0; x < width; x += 3)
            for (int c = 0; c < 3; ++c) {
                const float one = value(a(x, 0), c), two = value(b(x, 0), c);
                if (one > kDarkest && one < kBrightest && two > kDarkest && two < kBrightest) logs.push_back(std::log(static_cast<double>(two / one)));
            }
    }
    const char* hint = "merge only shots of the same film, with neither it nor the camera touched in between, and exposures within three stops";
    if (logs.size() < kLeastCompared)
        return fail(ErrorCode::malformed, "shows hardly anything well exposed that " + shot.info().path + " shows well, too", path, hint);
    const double middle = middle_of(logs);
    std::vector<double> off;
    for (const double l : logs) off.push_back(std::abs(l - middle));
    if (middle_of(off) > kAgree) return fail(ErrorCode::malformed, "does not show the same as " + shot.info().path + ", or something moved", path, hint);
    return std::exp(middle);
}

class Merged final : public ScanReader {
public:
    struct Other {
        std::unique_ptr<ScanReader> reader;
        float exposure = 1;  ///< times the shot's
    };
    Merged(std::unique_ptr<ScanReader> shot, std::vector<Other> others) : info_(shot->info()) {
        shots_.push_back({std::move(shot), 1});
        for (Other& other : others) {
            info_.other_exposures.push_back(static_cast<double>(other.exposure));
            shots_.push_back(std::move(other));
        }
        for (std::size_t i = 1; i < shots_.size(); ++i)
            if (shots_[i].exposure < shots_[least_exposed_].exposure) least_exposed_ = i;
    }
    void warn(std::vector<std::string> warnings) { std::move(warnings.begin(), warnings.end(), std::back_inserter(info_.warnings)); }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return shots_.front().reader->access(); }
    void will_average(std::int64_t factor) override {
        for (const Other& shot : shots_) shot.reader->will_average(factor);
    }
    [[nodiscard]] std::int64_t held_bytes() const override {
        std::int64_t sum = 0;
        for (const Other& shot : shots_) sum += shot.reader->held_bytes();
        return sum;
    }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        const PxRect wide = intersection({rect.x0 - kSpoiltAround, rect.y0 - kSpoiltAround, rect.x1 + kSpoiltAround, rect.y1 + kSpoiltAround},
                                         {0, 0, info_.width, info_.height});
        std::vector<Image<LinearRgbi>> pixels;
        std::vector<Image<float>> bright;
        for (const Other& shot : shots_) {
            pixels.emplace_back(wide.width(), wide.height());
            if (auto read = shot.reader->read_region(wide, pixels.back().view()); !read) return read;
            pass_on_warnings(*shot.reader, info_);
            bright.push_back(brightest_around(pixels.back()));
        }
        for (std::int64_t y = 0; y < out.height(); ++y)
            for (std::int64_t x = 0; x < out.width(); ++x) out(x, y) = merged(pixels, bright, rect.x0 - wide.x0 + x, rect.y0 - wide.y0 + y);
        return {};
    }

private:
    /// The brightest channel of the pixels within kSpoiltAround.
    [[nodiscard]] static Image<float> brightest_around(const Image<LinearRgbi>& pixels) {
        const std::int64_t w = pixels.width(), h = pixels.height();
        Image<float> along(w, h), out(w, h);
        const auto most = [](std::int64_t at, std::int64_t n, const auto& get) {
            float best = 0;
            for (std::int64_t i = std::max<std::int64_t>(0, at - kSpoiltAround); i <= std::min(n - 1, at + kSpoiltAround); ++i) best = std::max(best, get(i));
            return best;
        };
        for (std::int64_t y = 0; y < h; ++y)
            for (std::int64_t x = 0; x < w; ++x)
                along(x, y) = most(x, w, [&](std::int64_t i) { return std::max({pixels(i, y).r, pixels(i, y).g, pixels(i, y).b}); });
        for (std::int64_t y = 0; y < h; ++y)
            for (std::int64_t x = 0; x < w; ++x) out(x, y) = most(y, h, [&](std::int64_t i) { return along(x, i); });
        return out;
    }
    [[nodiscard]] LinearRgbi merged(const std::vector<Image<LinearRgbi>>& pixels, const std::vector<Image<float>>& bright, std::int64_t x,
                                    std::int64_t y) const {
        std::array<float, 3> sum{}, weight{};
        for (std::size_t i = 0; i < shots_.size(); ++i) {
            const float fade = std::clamp((kNearWhite - bright[i](x, y)) / (kNearWhite - kFadeFrom), 0.0F, 1.0F);
            if (fade <= 0) continue;
            const float e = shots_[i].exposure;
            for (int c = 0; c < 3; ++c) {
                const float v = value(pixels[i](x, y), c);
                // Of light v / e the variance is (v + reading) / e^2, in photons of the shot's full scale.
                const float w = fade * e * e / (std::max(v, 0.0F) + kReading);
                sum[static_cast<std::size_t>(c)] += w * v / e;
                weight[static_cast<std::size_t>(c)] += w;
            }
        }
        const LinearRgbi& last = pixels[least_exposed_](x, y);
        const auto out = [&](int c) {
            const auto k = static_cast<std::size_t>(c);
            return weight[k] > 0 ? sum[k] / weight[k] : value(last, c) / shots_[least_exposed_].exposure;
        };
        return {out(0), out(1), out(2), pixels.front()(x, y).ir};
    }

    ScanInfo info_;
    std::vector<Other> shots_;
    std::size_t least_exposed_ = 0;
};

/// Stops by which a camera noted more exposure for `other`; nothing where it noted no shutter.
std::optional<double> noted_stops(const CameraSettings& shot, const CameraSettings& other) {
    if (!(shot.seconds > 0 && other.seconds > 0)) return std::nullopt;
    double stops = std::log2(other.seconds / shot.seconds);
    if (shot.f_number > 0 && other.f_number > 0) stops -= 2 * std::log2(other.f_number / shot.f_number);
    if (shot.iso > 0 && other.iso > 0) stops += std::log2(other.iso / shot.iso);
    return stops;
}

}  // namespace

Result<std::unique_ptr<ScanReader>> merge_exposures(std::unique_ptr<ScanReader> shot, const ScanOptions& options, Observer& observer) {
    ScanOptions own = options;
    own.light_frame_path.clear(), own.dark_frame_path.clear(), own.infrared_path.clear(), own.other_exposures.clear();
    own.ignore_infrared = true;
    own.lens.reset(), own.join.reset(), own.further_shots.clear();
    own.from_the_top = false;
    own.orientation = shot->info().orientation;
    std::vector<Merged::Other> others;
    std::vector<std::string> warnings;
    for (const std::string& path : options.other_exposures) {
        auto other = open_scan(path, own, observer);
        if (!other) return other;
        const ScanInfo &a = shot->info(), &b = (*other)->info();
        if (a.width != b.width || a.height != b.height)
            return fail(ErrorCode::malformed, fmt::format("has {} x {} pixels where the shot {} has {} x {}", b.width, b.height, a.path, a.width, a.height),
                        path, "merge only shots of the same film by the same camera");
        const auto exposure = exposure_of(**other, *shot, path);
        if (!exposure) return Failure(exposure.error());
        const double stops = std::log2(*exposure);
        if (const auto noted = noted_stops(a.settings, b.settings); noted && std::abs(stops - *noted) > kAsNotedStops)
            warnings.push_back(
                fmt::format("{} got {:.2f} stops more light than {} by its pixels, but {:.2f} by what the camera noted. The pixels are believed.", path, stops,
                            a.path, *noted));
        others.push_back({std::move(*other), static_cast<float>(*exposure)});
    }
    auto merged = std::make_unique<Merged>(std::move(shot), std::move(others));
    merged->warn(std::move(warnings));
    return merged;
}

}  // namespace basefog::scan
