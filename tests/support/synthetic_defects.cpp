// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_defects.h"

#include "support/synthetic_film.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace synthetic {
namespace {

/// 1 inside, 0 outside, a smooth flank of width `soft` between.
double soft_step(double distance, double soft) {
    const double u = std::clamp(0.5 - distance / soft, 0.0, 1.0);
    return u * u * (3 - 2 * u);
}

/// Raises the field to `density * shape(x, y)` within a box around a place; shape in the field's own pixels.
template <class Shape>
void raise(cv::Mat& field, double x, double y, double reach, double density, Shape&& shape) {
    const int x0 = std::max(0, static_cast<int>(x - reach)), x1 = std::min(field.cols - 1, static_cast<int>(x + reach) + 1);
    const int y0 = std::max(0, static_cast<int>(y - reach)), y1 = std::min(field.rows - 1, static_cast<int>(y + reach) + 1);
    for (int row = y0; row <= y1; ++row) {
        for (int col = x0; col <= x1; ++col) {
            auto& value = field.ptr<float>(row)[col];
            value = std::max(value, static_cast<float>(density * shape(col + 0.5 - x, row + 0.5 - y)));
        }
    }
}

void add_smears(cv::Mat& field, const Residue& residue, std::uint64_t seed) {
    for (int row = 0; row < field.rows; ++row) {
        const double t = (row + 0.5) / kResiduePxPerMm;
        const double from_edge = std::min(t, field.rows / kResiduePxPerMm - t);
        if (from_edge > 11) continue;
        const std::uint64_t side = seed + (2 * row < field.rows ? 0 : 1);
        for (int col = 0; col < field.cols; ++col) {
            const double s = (col + 0.5) / kResiduePxPerMm;
            const double along = rough_noise(s / 14, 0.5, side, 3) * 0.9 + residue.edge_smears * 1.4 - 0.65;
            if (along <= 0) continue;
            const double reach = 0.8 + 10 * along * (0.8 + 0.4 * smooth_noise(s / 2.5, t / 1.5, side + 7));
            const double ragged = 0.75 + 0.25 * rough_noise(s / 0.8, t / 0.3, side + 9, 3);
            field.ptr<float>(row)[col] += static_cast<float>(residue.density * soft_step(from_edge - reach / 2, reach) * ragged * std::min(1.0, 2.5 * along));
        }
    }
}

void add_spots(cv::Mat& field, const Residue& residue, int frames, std::uint64_t seed) {
    Random random(seed);
    const int count = static_cast<int>(residue.spots_per_frame * frames + random.unit());
    for (int i = 0; i < count; ++i) {
        const double x = random.unit() * field.cols, y = random.unit() * field.rows;
        const double size = random.unit();
        const double radius = (0.06 + 0.75 * size * size * size) * kResiduePxPerMm, stretch = random.between(1, 2.2),
                     density = residue.density * random.between(0.4, 1.5);
        const std::uint64_t ragged = random.bits();
        raise(field, x, y, 3 * radius * stretch, density, [&](double dx, double dy) {
            const double r = std::hypot(dx / stretch, dy) / radius;
            return soft_step(r - 1 - 0.35 * rough_noise(dx / radius * 1.3, dy / radius * 1.3, ragged, 3), 0.8);
        });
    }
}

void add_streaks(cv::Mat& field, const Residue& residue, std::uint64_t seed) {
    Random random(seed);
    const int count = static_cast<int>(residue.streaks + random.unit());
    for (int i = 0; i < count; ++i) {
        const double from = random.unit() * field.cols, length = random.between(12, 70) * kResiduePxPerMm;
        const double y = random.unit() * field.rows, half = random.between(0.06, 0.35) * kResiduePxPerMm, density = residue.density * random.between(0.3, 0.9);
        const std::uint64_t wander = random.bits();
        for (int col = std::max(0, static_cast<int>(from)); col < std::min(static_cast<double>(field.cols), from + length); ++col) {
            const double u = (col - from) / length;
            const double middle = y + 0.5 * kResiduePxPerMm * smooth_noise(col / kResiduePxPerMm / 15, 0, wander);
            const double strength = density * std::min(1.0, 8 * u * (1 - u)) * (0.7 + 0.3 * rough_noise(col / kResiduePxPerMm / 2, 3, wander, 3));
            for (int row = std::max(0, static_cast<int>(middle - 3 * half)); row < std::min(static_cast<double>(field.rows), middle + 3 * half); ++row) {
                auto& value = field.ptr<float>(row)[col];
                value = std::max(value, static_cast<float>(strength * soft_step(std::abs(row + 0.5 - middle) - half, half)));
            }
        }
    }
}

/// A crumb with an uneven outline.
void add_speck(cv::Mat& field, Random& random, double px_per_mm) {
    const double x = random.unit() * field.cols, y = random.unit() * field.rows, size = random.unit();
    const double radius = std::max(0.35, (0.018 + 0.11 * size * size * size) * px_per_mm), stretch = random.between(1, 2), angle = random.unit() * CV_PI;
    const double c = std::cos(angle), s = std::sin(angle), density = random.between(0.35, 1.6);
    const std::uint64_t outline = random.bits();
    raise(field, x, y, 2.5 * radius * stretch + 2, density, [&](double dx, double dy) {
        const double along = (dx * c + dy * s) / stretch, across = -dx * s + dy * c;
        const double edge = radius * (1 + 0.4 * smooth_noise(along / radius, across / radius, outline));
        return std::clamp(0.5 - (std::hypot(along, across) - edge), 0.0, 1.0);
    });
}

/// A hair: a path that turns slowly, drawn as a chain of discs of its width.
void add_fibre(cv::Mat& field, Random& random, double px_per_mm) {
    double x = random.unit() * field.cols, y = random.unit() * field.rows, heading = random.unit() * 2 * CV_PI, turn = random.between(-1, 1);
    const double half = std::max(0.3, random.between(0.010, 0.026) * px_per_mm), density = random.between(0.4, 1.3), length = random.between(0.6, 4.5);
    const double step = 0.4 / px_per_mm;
    for (double gone = 0; gone < length; gone += step) {
        raise(field, x, y, half + 2, density, [&](double dx, double dy) { return std::clamp(half + 0.5 - std::hypot(dx, dy), 0.0, 1.0); });
        turn += 0.25 * random.normal();
        turn *= 0.995;
        heading += turn * step;
        x += std::cos(heading) * step * px_per_mm;
        y += std::sin(heading) * step * px_per_mm;
    }
}

void add_scratch(cv::Mat& field, Random& random, double px_per_mm) {
    const double y = random.unit() * field.rows, from = random.unit() * field.cols, length = random.between(8, 60) * px_per_mm;
    const double half = std::max(0.25, random.between(0.008, 0.02) * px_per_mm), density = random.between(0.08, 0.30);
    for (int col = static_cast<int>(from); col < std::min(static_cast<double>(field.cols), from + length); ++col) {
        for (int row = std::max(0, static_cast<int>(y - half) - 2); row < std::min(field.rows, static_cast<int>(y + half) + 3); ++row) {
            auto& value = field.ptr<float>(row)[col];
            value = std::max(value, static_cast<float>(density * std::clamp(half + 0.5 - std::abs(row + 0.5 - y), 0.0, 1.0)));
        }
    }
}

}  // namespace

cv::Mat draw_residue(const Residue& residue, double length, double width, int frames, std::uint64_t seed) {
    if (residue.veil <= 0 && residue.edge_smears <= 0 && residue.spots_per_frame <= 0 && residue.streaks <= 0) return {};
    cv::Mat field = cv::Mat::zeros(static_cast<int>(std::ceil(width * kResiduePxPerMm)), static_cast<int>(std::ceil(length * kResiduePxPerMm)), CV_32F);
    if (residue.edge_smears > 0) add_smears(field, residue, mix(seed, 1));
    add_spots(field, residue, frames, mix(seed, 2));
    add_streaks(field, residue, mix(seed, 3));
    if (residue.veil > 0) {
        for (int row = 0; row < field.rows; ++row) {
            for (int col = 0; col < field.cols; ++col) {
                field.ptr<float>(row)[col] +=
                    static_cast<float>(residue.veil * (1 + 0.35 * smooth_noise(col / kResiduePxPerMm / 30, row / kResiduePxPerMm / 12, seed)));
            }
        }
    }
    return field;
}

cv::Mat draw_dust(const Dust& dust, cv::Size size, double px_per_mm, std::uint64_t seed) {
    cv::Mat field = cv::Mat::zeros(size, CV_32F);
    const double cm2 = size.width / px_per_mm * size.height / px_per_mm / 100;
    Random specks(mix(seed, 1)), fibres(mix(seed, 2)), scratches(mix(seed, 3));
    for (int i = 0; i < static_cast<int>(dust.specks_per_cm2 * cm2); ++i) add_speck(field, specks, px_per_mm);
    for (int i = 0; i < static_cast<int>(dust.fibres_per_cm2 * cm2); ++i) add_fibre(field, fibres, px_per_mm);
    for (int i = 0; i < static_cast<int>(dust.scratches); ++i) add_scratch(field, scratches, px_per_mm);
    return field;
}

}  // namespace synthetic
