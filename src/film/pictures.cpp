// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/pictures.h"

#include <cmath>

namespace basefog::film {
namespace {

/// A frame with fewer usable reduced spots says nothing. Chosen: 2 % of a full frame.
constexpr std::int64_t kLeastSpots = 400;
constexpr double kLeastDensity = -0.5;  // below this a value is no film

/// Usable, and within what film can be.
bool is_film(const FrameSamples& frame, std::int64_t x, std::int64_t y) {
    const DensityRgbi& d = frame.above_base(x, y);
    return is_usable(frame, x, y) && d.r > kLeastDensity && d.g > kLeastDensity && d.b > kLeastDensity && d.r < kMaxDensity && d.g < kMaxDensity &&
           d.b < kMaxDensity;
}

Picture reduce(const FrameSamples& frame, std::size_t index) {
    Picture picture;
    picture.frame = index;
    picture.width = frame.above_base.width() / 2;
    picture.height = frame.above_base.height() / 2;
    const auto area = static_cast<std::size_t>(picture.width * picture.height);
    picture.density.assign(area, Triple{});
    picture.usable.assign(area, 0);
    for (std::int64_t y = 0; y < picture.height; ++y)
        for (std::int64_t x = 0; x < picture.width; ++x) {
            Triple sum{};
            int n = 0;
            for (int k = 0; k < 4; ++k) {
                const std::int64_t sx = 2 * x + k % 2, sy = 2 * y + k / 2;
                if (!is_film(frame, sx, sy)) continue;
                const DensityRgbi& d = frame.above_base(sx, sy);
                sum[0] += static_cast<double>(d.r), sum[1] += static_cast<double>(d.g), sum[2] += static_cast<double>(d.b);
                ++n;
            }
            if (n < 2) continue;
            for (double& v : sum) v /= n;
            picture.density[picture.at(x, y)] = sum;
            picture.usable[picture.at(x, y)] = 1;
            ++picture.n_usable;
        }
    return picture;
}

}  // namespace

bool is_usable(const FrameSamples& frame, std::int64_t x, std::int64_t y) {
    if (!frame.usable.empty() && frame.usable(x, y) == 0) return false;
    const DensityRgbi& d = frame.above_base(x, y);
    return std::isfinite(d.r) && std::isfinite(d.g) && std::isfinite(d.b);
}

std::vector<Picture> reduce_pictures(const RollSamples& roll, std::size_t index) {
    std::vector<Picture> pictures;
    for (std::size_t i = 0; i < roll.frames.size(); ++i) {
        const FrameSamples& frame = roll.frames[i];
        const bool sizes_match =
            frame.usable.empty() || (frame.usable.width() == frame.above_base.width() && frame.usable.height() == frame.above_base.height());
        const bool a_scene = frame.note.use == FrameUse::picture || frame.note.use == FrameUse::colour_chart;
        if (frame.kind != FrameKind::picture || !a_scene || frame.above_base.empty() || !sizes_match) continue;
        Picture picture = reduce(frame, i);
        picture.roll = index;
        if (picture.n_usable >= kLeastSpots) pictures.push_back(std::move(picture));
    }
    return pictures;
}

}  // namespace basefog::film
