// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_film.h"

#include "support/synthetic_defects.h"
#include "support/synthetic_random.h"
#include "support/synthetic_strip.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace synthetic {
namespace {

constexpr double kMmPerInch = 25.4;

using Pixel = std::array<float, 4>;

/// Share of each pixel the holder leaves open.
cv::Mat open_share(const SheetSpec& spec, cv::Size size) {
    if (spec.holder.kind == HolderKind::none) return cv::Mat::ones(size, CV_32F);
    cv::Mat open = cv::Mat::zeros(size, CV_32F);
    const double px_per_mm = spec.dpi / kMmPerInch, px_per_mm_x = px_per_mm * (1 + spec.stretch);
    for (const auto& [x, y, w, h] : openings(spec)) {
        for (int row = 0; row < size.height; ++row) {
            const double cover_y = overlap(row, row + 1, y * px_per_mm, (y + h) * px_per_mm);
            if (cover_y <= 0) continue;
            auto* out = open.ptr<float>(row);
            for (int col = 0; col < size.width; ++col) {
                const double cover_x = overlap(col, col + 1, x * px_per_mm_x, (x + w) * px_per_mm_x);
                out[col] = std::min(1.0f, out[col] + static_cast<float>(cover_x * cover_y));
            }
        }
    }
    return open;
}

/// The lamp over the sheet, 1 at the centre, per channel.
Pixel lamp(const Scanner& scanner, double u, double v) {
    const double radial = 1 - scanner.falloff * (u * u + v * v) / 2;
    Pixel p{};
    for (int i = 0; i < 4; ++i) p[i] = static_cast<float>(scanner.white * radial * (1 + (i < 3 ? scanner.lean[i] : 0) * u));
    return p;
}

/// From transmittances to light on the sensor: lamp, holder, stray light, blur, noise.
void scan(const SheetSpec& spec, std::vector<cv::Mat>& planes, const cv::Mat& open) {
    const cv::Size size = open.size();
    const auto shut = static_cast<float>(std::pow(10.0, -spec.holder.density));
    for (int row = 0; row < size.height; ++row) {
        const auto* o = open.ptr<float>(row);
        for (int col = 0; col < size.width; ++col) {
            const Pixel light = lamp(spec.scanner, 2.0 * (col + 0.5) / size.width - 1, 2.0 * (row + 0.5) / size.height - 1);
            for (std::size_t i = 0; i < planes.size(); ++i) {
                float& value = planes[i].ptr<float>(row)[col];
                value = light[i] * (o[col] * value + (1 - o[col]) * shut);
            }
        }
    }
    for (std::size_t i = 0; i < planes.size(); ++i) {
        cv::Mat& plane = planes[i];
        const double stray = spec.scanner.flare * cv::mean(plane)[0];
        plane += stray;
        if (i == 3 && (spec.scanner.infrared_shift_x_px != 0 || spec.scanner.infrared_shift_y_px != 0)) {
            const cv::Mat shift = (cv::Mat_<double>(2, 3) << 1, 0, spec.scanner.infrared_shift_x_px, 0, 1, spec.scanner.infrared_shift_y_px);
            cv::warpAffine(plane.clone(), plane, shift, size, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
        }
        if (i == 3 && spec.scanner.infrared_blur_px > 0)
            cv::GaussianBlur(plane, plane, cv::Size(), spec.scanner.infrared_blur_px, spec.scanner.infrared_blur_px, cv::BORDER_REPLICATE);
        if (spec.scanner.blur_px > 0) cv::GaussianBlur(plane, plane, cv::Size(), spec.scanner.blur_px, spec.scanner.blur_px, cv::BORDER_REPLICATE);
        if (!spec.noise) continue;
        for (int row = 0; row < size.height; ++row) {
            auto* p = plane.ptr<float>(row);
            const std::uint64_t seed = mix(spec.seed, 0x5ca0 + i, static_cast<std::uint64_t>(row));
            for (int col = 0; col < size.width; ++col) {
                const double shot = spec.scanner.shot_noise * spec.scanner.shot_noise * std::max(0.0f, p[col]);
                const double sigma = std::sqrt(spec.scanner.read_noise * spec.scanner.read_noise + shot);
                p[col] += static_cast<float>(sigma * normal_from(mix(seed + static_cast<std::uint64_t>(col))));
            }
        }
    }
}

/// Residue as a share of the visible film, and the grade that the sheet's truth gives it.
void judge_residue(StripTruth& truth, const Residue& residue, double dense_area, double density_sum, double film_area) {
    if (film_area <= 0) return;
    truth.residue_area_percent = 100 * dense_area / film_area;
    truth.residue_mean_density = density_sum / film_area;
    truth.residue_veil = residue.veil;
    const double area = truth.residue_area_percent, veil = residue.veil;
    // By the report's own definition, docs/stages/residue.md: below these nothing is told from dust and noise.
    const bool nothing = area <= 0.02 && veil < 0.004;
    truth.residue_level = nothing ? "clean" : area > 12 || veil > 0.025 ? "heavy" : area > 2 || veil >= 0.01 ? "partial" : "trace";
}

double encoded(double linear, Encoding encoding) {
    const double v = std::clamp(linear, 0.0, 1.0);
    switch (encoding) {
        case Encoding::linear:
            return v;
        case Encoding::gamma22:
            return std::pow(v, 1 / 2.2);
        case Encoding::srgb:
            return v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;  // [IEC61966-2-1]
    }
    return v;
}

}  // namespace

std::vector<std::array<double, 4>> openings(const SheetSpec& spec) {
    std::vector<std::array<double, 4>> found = spec.holder.empty_openings;
    for (const StripSpec& strip : spec.strips) {
        const double across = spec.holder.opening > 0 ? spec.holder.opening : spec.holder.kind == HolderKind::hides_perforations ? 27.0 : 35.6;
        const double along = spec.holder.opening_length > 0 ? spec.holder.opening_length : strip_length(strip) + 2 * spec.holder.beyond_ends;
        const double s = -spec.holder.beyond_ends, t = (strip.film_width - across) / 2;
        if (strip.direction == Direction::horizontal) {
            found.push_back({strip.x + s, strip.y + t, along, across});
        } else {
            found.push_back({strip.x + t, strip.y + s, across, along});
        }
    }
    return found;
}

Sheet draw_sheet(const SheetSpec& spec) {
    const double px_per_mm = spec.dpi / kMmPerInch;
    const cv::Size size(static_cast<int>(std::lround(spec.width * px_per_mm * (1 + spec.stretch))), static_cast<int>(std::lround(spec.height * px_per_mm)));
    std::vector<cv::Mat> planes;
    for (int i = 0; i < (spec.infrared ? 4 : 3); ++i) planes.push_back(cv::Mat::ones(size, CV_32F));
    const cv::Mat open = open_share(spec, size);

    Sheet sheet;
    sheet.residue = cv::Mat::zeros(size, CV_32F);
    for (std::size_t i = 0; i < spec.strips.size(); ++i) {
        StripPainter painter(spec.strips[i], spec, mix(spec.seed, 0x571, i));
        painter.paint(planes, sheet.residue, open);
        StripTruth truth = painter.truth();
        judge_residue(truth, spec.strips[i].residue, painter.dense_area(), painter.density_sum(), painter.film_area());
        sheet.strips.push_back(std::move(truth));
    }
    sheet.dust = draw_dust(spec.dust, size, px_per_mm, mix(spec.seed, 0xd057));
    for (int row = 0; row < size.height; ++row) {
        const auto* d = sheet.dust.ptr<float>(row);
        for (int col = 0; col < size.width; ++col) {
            if (d[col] <= 0) continue;
            const float pass = std::pow(10.0f, -d[col]);
            for (cv::Mat& plane : planes) plane.ptr<float>(row)[col] *= pass;
        }
    }
    scan(spec, planes, open);
    cv::merge(planes, sheet.light);
    return sheet;
}

cv::Mat encode(const Sheet& sheet, const SheetSpec& spec) {
    constexpr int kSteps = 1 << 16;
    const double top = spec.bits == 8 ? 255 : 65535;
    std::vector<float> table(kSteps + 1);
    for (int i = 0; i <= kSteps; ++i) table[i] = static_cast<float>(top * encoded(static_cast<double>(i) / kSteps, spec.encoding));
    cv::Mat out(sheet.light.size(), CV_MAKETYPE(spec.bits == 8 ? CV_8U : CV_16U, sheet.light.channels()));
    const int samples = sheet.light.cols * sheet.light.channels();
    for (int row = 0; row < out.rows; ++row) {
        const auto* in = sheet.light.ptr<float>(row);
        for (int i = 0; i < samples; ++i) {
            const float place = std::clamp(in[i], 0.0f, 1.0f) * kSteps;
            const int k = std::min(static_cast<int>(place), kSteps - 1);
            const float value = spec.encoding == Encoding::linear ? std::clamp(in[i], 0.0f, 1.0f) * static_cast<float>(top)
                                                                  : table[k] + (place - k) * (table[k + 1] - table[k]);
            if (spec.bits == 8) {
                out.ptr<std::uint8_t>(row)[i] = static_cast<std::uint8_t>(value + 0.5f);
            } else {
                out.ptr<std::uint16_t>(row)[i] = static_cast<std::uint16_t>(value + 0.5f);
            }
        }
    }
    return out;
}

}  // namespace synthetic
