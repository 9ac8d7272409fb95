// SPDX-License-Identifier: GPL-3.0-or-later
// A strip on a copy stand, photographed from one end to the other: the film, the stand, and where each shot was taken.
#pragma once

#include "support/synthetic_camera.h"
#include "support/synthetic_film.h"

#include <opencv2/core.hpp>

#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

namespace synthetic {

inline constexpr double kShotFilmDpi = 500, kShotFilmPxPerMm = kShotFilmDpi / 25.4;
inline constexpr double kShotStripX = 8, kShotStripY = 8;

/// Transmittance of a strip of three frames, with the truth; nothing of a scanner.
inline Sheet strip_to_photograph() {
    SheetSpec spec;
    spec.dpi = kShotFilmDpi;
    StripSpec strip;
    strip.roll = "A";
    strip.x = kShotStripX, strip.y = kShotStripY;
    strip.gap_jitter = 0.08;
    for (const SceneKind scene : {SceneKind::hills, SceneKind::still_life, SceneKind::chart}) {
        FrameSpec frame;
        frame.scene.kind = scene;
        frame.number = static_cast<int>(strip.frames.size()) + 1;
        strip.frames.push_back(frame);
    }
    spec.strips = {strip};
    spec.width = strip_length(strip) + 2 * kShotStripX;
    spec.height = 35 + 2 * kShotStripY;
    spec.scanner.white = 1;
    spec.scanner.falloff = spec.scanner.flare = spec.scanner.blur_px = spec.scanner.read_noise = spec.scanner.shot_noise = 0;
    spec.scanner.lean = {0, 0, 0};
    return draw_sheet(spec);
}

/// Under a holder that leaves only this much of the film's width open, in its middle.
inline cv::Mat under_holder(const cv::Mat& film, double open_mm) {
    cv::Mat out = film.clone();
    const double middle = kShotStripY + 17.4875;
    constexpr float kHolder = 0.0004F;  // density 3.4
    for (int y = 0; y < out.rows; ++y)
        if (std::abs((y + 0.5) / kShotFilmPxPerMm - middle) > open_mm / 2) out.row(y).setTo(cv::Scalar::all(kHolder));
    return out;
}

/// Sees 54 by 36 mm; a pixel stands for sixteen of a usual sensor of 24 million.
inline CopyCamera strip_stand() {
    CopyCamera camera;
    camera.width = 972, camera.height = 648;
    camera.px_per_mm = 18;
    camera.full_scale_electrons *= 16, camera.read_electrons *= 4;
    camera.lens = {-0.02, 0.004};
    camera.falloff = 0.25;
    return camera;
}

struct StripShotSpec {
    CopyCamera camera;
    CopyShot shot;
};
/// Shots `step` apart, each turned, shifted and scaled a little otherwise.
inline std::vector<StripShotSpec> shots_along(int count, double step_mm) {
    std::vector<StripShotSpec> out;
    for (int i = 0; i < count; ++i) {
        StripShotSpec spec{strip_stand(), {}};
        spec.camera.px_per_mm *= 1 + 0.003 * i;
        spec.shot.x_mm = kShotStripX + 22 + i * step_mm;
        spec.shot.y_mm = kShotStripY + 17.4875 + 0.2 * (i % 2);
        spec.shot.tilt_deg = 0.5 * i - 0.4;
        spec.shot.seed = 300 + static_cast<std::uint64_t>(i);
        out.push_back(spec);
    }
    return out;
}

/// Where a shot shows a place on the film: its pixels, as the lens bends them.
inline std::array<double, 2> shown_at(const StripShotSpec& spec, double x_mm, double y_mm) {
    const double a = spec.shot.tilt_deg * 3.14159265358979323846 / 180, dx = x_mm - spec.shot.x_mm, dy = y_mm - spec.shot.y_mm;
    const double half = 0.5 * std::hypot(spec.camera.width, spec.camera.height), k = spec.camera.px_per_mm / half;
    const auto seen = spec.camera.lens.seen({k * (std::cos(a) * dx + std::sin(a) * dy), k * (-std::sin(a) * dx + std::cos(a) * dy)});
    return {seen[0] * half + 0.5 * spec.camera.width, seen[1] * half + 0.5 * spec.camera.height};
}

}  // namespace synthetic
