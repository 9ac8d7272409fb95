// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_camera.h"

#include "support/synthetic_random.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace synthetic {
namespace {

constexpr double kSecondsAtOne = 0.02;  // of a shot with exposure 1

void write_codes(const std::string& path, const CopyCamera& camera, double exposure, const cv::Mat& codes) {
    DngSpec spec;
    spec.width = static_cast<std::uint32_t>(camera.width), spec.height = static_cast<std::uint32_t>(camera.height);
    spec.black = {static_cast<float>(camera.black)};
    spec.white = static_cast<std::uint32_t>(camera.white);
    if (exposure > 0) spec.settings = ShotSettings{kSecondsAtOne * exposure, 8, 100};
    write_dng(path, spec, [&](std::uint32_t x, std::uint32_t y, int) { return codes.at<std::uint16_t>(static_cast<int>(y), static_cast<int>(x)); });
}

}  // namespace

std::array<double, 2> Lens::seen(std::array<double, 2> u) const {
    const double r2 = u[0] * u[0] + u[1] * u[1], by = 1 + k1 * r2 + k2 * r2 * r2;
    return {u[0] * by, u[1] * by};
}

std::array<double, 2> Lens::perfect(std::array<double, 2> d) const {
    const double wanted = std::hypot(d[0], d[1]);
    if (wanted == 0) return d;
    double r = wanted;
    for (int i = 0; i < 20; ++i) r -= (r * (1 + k1 * r * r + k2 * r * r * r * r) - wanted) / (1 + 3 * k1 * r * r + 5 * k2 * r * r * r * r);
    return {d[0] * r / wanted, d[1] * r / wanted};
}

cv::Mat seen_light(const CopyCamera& camera, const CopyShot& shot, const cv::Mat& film, double px_per_mm) {
    const double half = 0.5 * std::hypot(camera.width, camera.height), a = shot.tilt_deg * CV_PI / 180, c = std::cos(a), s = std::sin(a);
    cv::Mat places(camera.height, camera.width, CV_32FC2), out;
    for (int y = 0; y < camera.height; ++y)
        for (int x = 0; x < camera.width; ++x) {
            const auto u = camera.lens.perfect({(x + 0.5 - 0.5 * camera.width) / half, (y + 0.5 - 0.5 * camera.height) / half});
            const double mm_x = u[0] * half / camera.px_per_mm, mm_y = u[1] * half / camera.px_per_mm;
            const double at_x = (shot.x_mm + c * mm_x - s * mm_y) * px_per_mm - 0.5, at_y = (shot.y_mm + s * mm_x + c * mm_y) * px_per_mm - 0.5;
            places.at<cv::Vec2f>(y, x) = {static_cast<float>(at_x), static_cast<float>(at_y)};
        }
    // A sensor's pixel is as wide as its pitch; film drawn finer is averaged to it.
    cv::Mat soft;
    const double finer = px_per_mm / camera.px_per_mm;
    cv::GaussianBlur(film, soft, {}, std::max(0.35, 0.4 * finer));
    cv::remap(soft, out, places, {}, cv::INTER_CUBIC, cv::BORDER_CONSTANT, cv::Scalar::all(1));
    for (int y = 0; y < camera.height; ++y)
        for (int x = 0; x < camera.width; ++x) {
            const double u = (x + 0.5 - 0.5 * camera.width) / half, v = (y + 0.5 - 0.5 * camera.height) / half;
            const double light = shot.exposure * (1 - camera.falloff * (u * u + v * v));
            auto& p = out.at<cv::Vec3f>(y, x);
            for (int k = 0; k < 3; ++k) p[k] = static_cast<float>(static_cast<double>(std::max(p[k], 0.0F)) * light * camera.lamp[static_cast<std::size_t>(k)]);
        }
    return out;
}

cv::Mat mosaic_of(const CopyCamera& camera, const CopyShot& shot, const cv::Mat& light) {
    cv::Mat out(light.size(), CV_16U);
    for (int y = 0; y < light.rows; ++y)
        for (int x = 0; x < light.cols; ++x) {
            const int colour = y % 2 + x % 2;  // red, green / green, blue
            double electrons = static_cast<double>(light.at<cv::Vec3f>(y, x)[colour]) * camera.full_scale_electrons;
            if (shot.noise)
                electrons += normal_from(mix(shot.seed, static_cast<std::uint64_t>(y), static_cast<std::uint64_t>(x))) *
                             std::sqrt(electrons + camera.read_electrons * camera.read_electrons);
            const double code = camera.black + electrons / camera.full_scale_electrons * (camera.white - camera.black);
            out.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(std::clamp(std::round(code), 0.0, camera.white));
        }
    return out;
}

void write_shot(const std::string& path, const CopyCamera& camera, const CopyShot& shot, const cv::Mat& film, double px_per_mm) {
    write_codes(path, camera, shot.exposure, mosaic_of(camera, shot, seen_light(camera, shot, film, px_per_mm)));
}

void write_bare_shot(const std::string& path, const CopyCamera& camera, double exposure, std::uint64_t seed) {
    CopyShot shot;
    shot.exposure = exposure, shot.seed = seed;
    write_shot(path, camera, shot, cv::Mat(2, 2, CV_32FC3, cv::Scalar::all(1)), 1);
}

}  // namespace synthetic
