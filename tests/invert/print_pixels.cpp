// SPDX-License-Identifier: GPL-3.0-or-later
// Prints digests of positives, rendered in many ways from a picture that is always the same. Linked with the library, whose loops choose by the processor, and
// with the same loops for any processor.
#include "basefog/core/sha256.h"

#include "invert/invert_world.h"

#include <cmath>
#include <cstdio>
#include <numbers>

using namespace basefog;

namespace {

constexpr std::int64_t kWidth = 700, kHeight = 500;
constexpr PxRect kRect{0, 0, kWidth, kHeight};

/// From below base to beyond the shoulder, with noise and strong colours.
Image<LinearRgbi> picture(const test::FilmWorld& film) {
    Image<LinearRgbi> pixels(kWidth, kHeight);
    test::Random random(5);
    for (std::int64_t y = 0; y < kHeight; ++y)
        for (std::int64_t x = 0; x < kWidth; ++x) {
            const double scene = 0.005 * std::exp2(11.0 * double(x) / kWidth);
            const DensityRgbi d = film.expose(scene * (0.3 + random()), scene * (0.3 + double(y) / kHeight), scene * (0.5 + random()));
            const auto light = [&](float density) { return static_cast<float>(0.9 * std::pow(10.0, -double(density)) * (0.9 + 0.2 * random())); };
            pixels(x, y) = {light(d.r), light(d.g), light(d.b), 0.5F};
        }
    return pixels;
}

/// About the picture's middle.
Quad turned(double degrees, double half_width, double half_height) {
    const double c = std::cos(degrees * std::numbers::pi / 180), s = std::sin(degrees * std::numbers::pi / 180);
    const auto corner = [&](double u, double v) { return PointPx{kWidth / 2.0 + u * c - v * s, kHeight / 2.0 + u * s + v * c}; };
    return {corner(-half_width, -half_height), corner(half_width, -half_height), corner(half_width, half_height), corner(-half_width, half_height)};
}

std::string digest(const Image<EncodedRgb16>& positive) {
    std::string bytes;
    for (std::int64_t y = 0; y < positive.height(); ++y)
        bytes.append(reinterpret_cast<const char*>(positive.row(y)), static_cast<std::size_t>(positive.width()) * sizeof(EncodedRgb16));
    return sha256(bytes);
}

}  // namespace

int main() {
    const test::FilmWorld film;
    const Image<LinearRgbi> pixels = picture(film);
    const ViewSource source(kRect, pixels.view());
    LightField light;
    light.scan_width = kWidth;
    light.scan_height = kHeight;
    light.coefficient[0] = {-0.1, 0.01, 0.02, 0.003, 0.001, 0.002};
    const auto means = ShadowMeans::make(source, light, 9, {Density(film.base[0]), Density(film.base[1]), Density(film.base[2])}, Density(0.02));
    if (!means) return 1;
    for (const OutputSpace space : {OutputSpace::srgb, OutputSpace::wide})
        for (const double strength : {1.0, 1.2})
            for (const double degrees : {0.0, 0.4, 3.0, 20.0, 45.0, 91.0, 200.0}) {
                InvertOptions options;
                options.output = space;
                options.contrast = options.saturation = strength;
                const auto profile = OutputProfile::make(options);
                // Upright on whole pixels, or between them and partly beyond the scan.
                const Quad corners = degrees == 0 ? turned(0, 300, 200) : turned(degrees, 291.3, 203.7);
                const PositiveSize size = positive_size(corners);
                Image<EncodedRgb16> positive(size.width, size.height);
                const bool settle = space == OutputSpace::wide;
                if (!profile || !render_rows(source, corners, light, film.inverter(options), *profile, 0, positive.view(), settle ? &*means : nullptr))
                    return 1;
                std::printf("%s\n", digest(positive).c_str());
            }
    return 0;
}
