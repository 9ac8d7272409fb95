// SPDX-License-Identifier: GPL-3.0-or-later
// Film on a copy stand, as a camera sees it: a lens that distorts and darkens the corners, a lamp, a mosaic of colours, and the noise of photons
// and of reading them out. Includes no header of the library and shares none of its formulas.
#pragma once

#include "support/dng_file.h"
#include "support/synthetic_stock.h"

#include <opencv2/core.hpp>

#include <array>
#include <cstdint>
#include <string>

namespace synthetic {

/// A place the perfect lens would put at u, counted from the picture's middle in halves of its diagonal, is put at u (1 + k1 r^2 + k2 r^4), r = |u|.
struct Lens {
    double k1 = 0, k2 = 0;
    [[nodiscard]] std::array<double, 2> seen(std::array<double, 2> perfect) const;
    [[nodiscard]] std::array<double, 2> perfect(std::array<double, 2> seen) const;
};

struct CopyCamera {
    int width = 1600, height = 1080;
    double px_per_mm = 40;  ///< at the picture's middle
    Lens lens;
    double falloff = 0;             ///< share of light lost at half the diagonal
    Triple lamp{0.55, 0.80, 0.42};  ///< bare light in the middle, of full scale
    double full_scale_electrons = 40000;
    double read_electrons = 3.5;
    double black = 512, white = 15800;  ///< codes
};

/// How the film lies and how long it was exposed.
struct CopyShot {
    double x_mm = 0, y_mm = 0;  ///< place on the film that the picture's middle sees
    double tilt_deg = 0;
    double exposure = 1;  ///< times that which gives `lamp`
    std::uint64_t seed = 1;
    bool noise = true;
};

/// Transmittances of film, drawn `px_per_mm` fine, 1 outside of it: what the sensor sees, without noise, in three colours, full scale 1.
[[nodiscard]] cv::Mat seen_light(const CopyCamera& camera, const CopyShot& shot, const cv::Mat& film, double px_per_mm);
/// The same through the mosaic (red, green / green, blue), with its noise, as codes: CV_16U.
[[nodiscard]] cv::Mat mosaic_of(const CopyCamera& camera, const CopyShot& shot, const cv::Mat& light);
/// As a digital negative.
void write_shot(const std::string& path, const CopyCamera& camera, const CopyShot& shot, const cv::Mat& film, double px_per_mm);
/// Bare light, or, with exposure 0, nothing.
void write_bare_shot(const std::string& path, const CopyCamera& camera, double exposure, std::uint64_t seed);

}  // namespace synthetic
