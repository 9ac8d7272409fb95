// SPDX-License-Identifier: GPL-3.0-or-later
#include "sample_frame.h"

#include <algorithm>
#include <cmath>

namespace basefog::pipeline {
namespace {

constexpr double kSpotMm = 0.1;        // Defined by the report's contract: shares are stated for a 0.1 mm spot.
constexpr double kEdgeMarginMm = 0.3;  // Chosen: spots this near the frame's edge are left out (blur and the finder's own error); safe range 0.2 to 0.6.

/// Area average around a position of overview pixels: a box of `side` pixels by bilinear weights at its border.
DensityRgbi box_average(const Image<DensityRgbi>& image, double x, double y, double side) {
    const double x0 = std::max(0.0, x - side / 2), x1 = std::min<double>(static_cast<double>(image.width()), x + side / 2);
    const double y0 = std::max(0.0, y - side / 2), y1 = std::min<double>(static_cast<double>(image.height()), y + side / 2);
    double r = 0, g = 0, b = 0, ir = 0, weight = 0;
    for (auto iy = static_cast<std::int64_t>(y0); iy < image.height() && static_cast<double>(iy) < y1; ++iy) {
        const double wy = std::min<double>(static_cast<double>(iy + 1), y1) - std::max<double>(static_cast<double>(iy), y0);
        for (auto ix = static_cast<std::int64_t>(x0); ix < image.width() && static_cast<double>(ix) < x1; ++ix) {
            const double w = wy * (std::min<double>(static_cast<double>(ix + 1), x1) - std::max<double>(static_cast<double>(ix), x0));
            const DensityRgbi& p = image(ix, iy);
            r += w * p.r;
            g += w * p.g;
            b += w * p.b;
            ir += w * p.ir;
            weight += w;
        }
    }
    if (weight <= 0) return {};
    return {static_cast<float>(r / weight), static_cast<float>(g / weight), static_cast<float>(b / weight), static_cast<float>(ir / weight)};
}

bool any_defect(const Image<Defect>& defects, double x, double y, double side) {
    const auto x0 = static_cast<std::int64_t>(std::floor(x - side / 2)), x1 = static_cast<std::int64_t>(std::ceil(x + side / 2));
    const auto y0 = static_cast<std::int64_t>(std::floor(y - side / 2)), y1 = static_cast<std::int64_t>(std::ceil(y + side / 2));
    for (std::int64_t iy = std::max<std::int64_t>(0, y0); iy < std::min(y1, defects.height()); ++iy)
        for (std::int64_t ix = std::max<std::int64_t>(0, x0); ix < std::min(x1, defects.width()); ++ix)
            if (defects(ix, iy) != Defect::none) return true;
    return false;
}

}  // namespace

Rgb<Density> under_pictures(const StripBase& base, const StripResidue& residue) {
    const Density veil = residue.veil_separable && residue.veil.value > Density(0) ? residue.veil.value : Density(0);
    return {base.base.r.value + veil, base.base.g.value + veil, base.base.b.value + veil};
}

FrameSamples sample_frame(const Image<DensityRgbi>& density, const Image<Defect>& defects, const FrameBox& frame, const Rgb<Density>& under, Density under_ir,
                          int factor, PixelsPerMm scale) {
    FrameSamples samples;
    samples.kind = frame.kind;
    const double width_mm = to_mm(distance(frame.corners[0], frame.corners[1]), scale).value();
    const double height_mm = to_mm(distance(frame.corners[0], frame.corners[3]), scale).value();
    const auto columns = std::max<std::int64_t>(1, std::llround(width_mm / kSpotMm)), rows = std::max<std::int64_t>(1, std::llround(height_mm / kSpotMm));
    samples.above_base = Image<DensityRgbi>(columns, rows);
    samples.usable = Image<std::uint8_t>(columns, rows, 0);
    const double side = std::max(1.0, to_px(Millimetres(kSpotMm), scale) / factor);
    const DensityRgbi below{static_cast<float>(under.r.value()), static_cast<float>(under.g.value()), static_cast<float>(under.b.value()),
                            static_cast<float>(under_ir.value())};
    const auto margin = static_cast<std::int64_t>(std::lround(kEdgeMarginMm / kSpotMm));
    for (std::int64_t y = 0; y < rows; ++y) {
        for (std::int64_t x = 0; x < columns; ++x) {
            const PointPx p = inside(frame.corners, (static_cast<double>(x) + 0.5) / static_cast<double>(columns),
                                     (static_cast<double>(y) + 0.5) / static_cast<double>(rows)) *
                              (1.0 / factor);
            const DensityRgbi d = box_average(density, p.x, p.y, side);
            samples.above_base(x, y) = {d.r - below.r, d.g - below.g, d.b - below.b, d.ir - below.ir};
            const bool in_scan = p.x >= 0 && p.y >= 0 && p.x < static_cast<double>(density.width()) && p.y < static_cast<double>(density.height());
            const bool inner = x >= margin && y >= margin && x < columns - margin && y < rows - margin;
            samples.usable(x, y) = in_scan && inner && !any_defect(defects, p.x, p.y, side) ? 1 : 0;
        }
    }
    return samples;
}

}  // namespace basefog::pipeline
