// SPDX-License-Identifier: GPL-3.0-or-later
// What the sheet's light says: how bright bare light is at each place, and how dark an opaque holder.
#pragma once

#include "constants.h"

#include "basefog/core/geometry.h"
#include "basefog/scan/types.h"

#include <array>
#include <limits>
#include <opencv2/core.hpp>

namespace basefog::frames {

/// Linear light of one pixel with bad values (NaN, infinite, negative) replaced by 0.
[[nodiscard]] inline float clean_light(float v) { return v > 0 && v <= std::numeric_limits<float>::max() ? v : 0.0F; }
[[nodiscard]] inline std::array<float, 3> clean_light(const LinearRgbi& pixel) { return {clean_light(pixel.r), clean_light(pixel.g), clean_light(pixel.b)}; }

/// Bilinear sample of the weighted sum of the colours; continuous pixel coordinates, held at the borders.
[[nodiscard]] float light_at(const Overview& overview, PointPx p, const std::array<float, 3>& gain);

/// The overview averaged once more by a whole factor, for everything that wants no detail.
struct CoarseSheet {
    cv::Mat light;  ///< CV_32FC3: red, green, blue
    int step = 1;   ///< overview pixels per coarse pixel
};
[[nodiscard]] CoarseSheet reduce(const Overview& overview, int step);

enum class Shade : unsigned char { dark = 0, film = 1, bare = 2 };

/// Density (log10) of any pixel relative to bare light, whose falloff over the sheet is a quadratic of log light.
/// Where no bare light is in view, relative to the clearest film instead, and nothing counts as bare.
class SheetLight {
public:
    /// Bare light is 1 everywhere: the picture was divided by it.
    static SheetLight known(double overview_width, double overview_height);
    static SheetLight measure(const CoarseSheet& sheet, double overview_width, double overview_height);

    [[nodiscard]] bool bare_seen() const { return bare_seen_; }
    [[nodiscard]] bool any_light() const { return any_light_; }
    /// The level taken for bare light turned out to be clear film: nothing counts as bare, densities are relative to it.
    void deny_bare() { bare_seen_ = false; }
    [[nodiscard]] double dark_density() const { return dark_density_; }
    /// Density under which a place is bare light.
    [[nodiscard]] double bare_density() const { return bare_density_; }
    /// log10 of bare light in each channel at a place, in overview pixels.
    [[nodiscard]] std::array<double, 3> bare_log(double x, double y) const;
    [[nodiscard]] std::array<float, 3> density(const std::array<float, 3>& light, double x, double y) const;
    [[nodiscard]] Shade shade(const std::array<float, 3>& density) const;

private:
    void find_levels(const CoarseSheet& sheet);
    void fit_from_above(const CoarseSheet& sheet);
    void part_bare_from_clear(const CoarseSheet& sheet);
    void fit_falloff(const CoarseSheet& sheet);

    std::array<std::array<double, 6>, 3> falloff_{};  ///< of 1, x, y, xx, xy, yy with x, y from -1 to 1
    double width_ = 1, height_ = 1;
    double dark_density_ = 2, bare_density_ = kBareDensity;
    bool bare_seen_ = false, any_light_ = false;
};

/// Overview pixels per coarse pixel; `px_per_mm` 0 where the scale is unknown.
[[nodiscard]] int coarse_step(const Overview& overview, double px_per_mm);
/// The light of a whole overview.
[[nodiscard]] SheetLight measure_light(const Overview& overview, double px_per_mm);

/// CV_8U map of Shade for a coarse sheet.
[[nodiscard]] cv::Mat shade_map(const CoarseSheet& sheet, const SheetLight& light);

}  // namespace basefog::frames
