// SPDX-License-Identifier: GPL-3.0-or-later
// Scenes painted from far to near in layers of noise: hills, sea, flowers, trees, snow.
#include "support/synthetic_random.h"
#include "support/synthetic_solids.h"
#include "support/synthetic_views.h"

#include <algorithm>
#include <vector>

namespace synthetic {
namespace {

constexpr int kFine = 2;  ///< each way: samples per pixel

/// Calls `colour(x, y)`, x and y in units of the picture's width from its top-left corner, and averages.
template <class Colour>
cv::Mat paint_picture(int width, int height, Colour&& colour) {
    cv::Mat image(height, width, CV_32FC3);
    for (int row = 0; row < height; ++row) {
        for (int col = 0; col < width; ++col) {
            Vec sum;
            for (int k = 0; k < kFine * kFine; ++k) sum += colour((col + (k % kFine + 0.5) / kFine) / width, (row + (k / kFine + 0.5) / kFine) / width);
            sum = sum * (1.0 / (kFine * kFine));
            image.ptr<cv::Vec3f>(row)[col] = cv::Vec3f(static_cast<float>(sum.x), static_cast<float>(sum.y), static_cast<float>(sum.z));
        }
    }
    return image;
}

Vec sky(double x, double y, std::uint64_t seed, double cover) {
    const Vec clear = blend({0.23, 0.36, 0.66}, {0.62, 0.70, 0.80}, std::clamp(y / 0.35, 0.0, 1.0));
    const double flat = 1 / (0.55 - std::min(y, 0.5));
    const double cloud = rough_noise(x * 2.2 + 0.3 * flat, y * 6 + flat, seed, 6) + cover;
    const double lit = rough_noise(x * 2.2 + 0.3 * flat - 0.06, y * 6 + flat - 0.12, seed, 5) + cover;
    return blend(clear, blend({0.86, 0.87, 0.88}, {0.48, 0.51, 0.56}, std::clamp(lit * 1.1 - cloud * 0.4, 0.0, 1.0)), std::clamp(cloud * 2.2, 0.0, 1.0));
}

/// Height of a ridge line above the picture's top, in widths.
double ridge(double x, double base, double rise, double rough, std::uint64_t seed) { return base - rise * rough_noise(x * rough, 0.37, seed, 6); }

struct Tree {
    double x, foot, tall;
    std::uint64_t seed;
    bool slim;
};

/// Crown and trunk; true where the tree stands before what is behind it.
bool tree_at(const Tree& tree, double x, double y, Vec& colour) {
    const double u = (x - tree.x) / tree.tall, v = (tree.foot - y) / tree.tall;
    if (v < 0 || v > 1.05 || std::abs(u) > 0.5) return false;
    if (v < 0.3 && std::abs(u) < 0.03) {
        colour = paint(74, 58, 46) * (0.7 + 0.6 * (u / 0.06 + 0.5));
        return true;
    }
    const double wide = tree.slim ? 0.20 * (1.05 - v) + 0.02 : 0.34;
    const double reach = tree.slim ? std::abs(u) / wide : std::hypot(u / wide, (v - 0.62) / 0.38);
    const double ragged = rough_noise(u * 9, v * 9, tree.seed, 4);
    if (reach + 0.35 * ragged > 1 || v < 0.14) return false;
    const double light = std::clamp(0.55 - 0.9 * u + 0.5 * (v - 0.5) + 0.5 * rough_noise(u * 16, v * 16, tree.seed + 3, 4), 0.08, 1.2);
    const Vec leaf = tree.slim ? paint(62, 88, 58) : blend(paint(92, 122, 52), paint(150, 138, 58), unit_from(mix(tree.seed)) * 0.6);
    colour = leaf * (0.35 + 1.0 * light);
    return true;
}

std::vector<Tree> grove(Random& random, int count, double near_foot, double far_foot, double tall, double slim_share) {
    std::vector<Tree> trees;
    for (int i = 0; i < count; ++i) {
        const double depth = static_cast<double>(i) / std::max(1, count - 1);
        trees.push_back({random.unit(), far_foot + (near_foot - far_foot) * depth, tall * (0.35 + 0.65 * depth) * random.between(0.7, 1.2), random.bits(),
                         random.unit() < slim_share});
    }
    return trees;
}

}  // namespace

cv::Mat hills(int width, int height, std::uint64_t seed) {
    Random random(seed);
    const double horizon = random.between(0.26, 0.36), cover = random.between(-0.15, 0.15), hut = random.between(0.15, 0.8);
    const std::vector<Tree> trees = grove(random, 14, horizon + 0.20, horizon + 0.045, 0.15, 0.4);
    const std::uint64_t a = random.bits(), b = random.bits(), c = random.bits(), d = random.bits();
    const bool dry = random.unit() < 0.4;
    return paint_picture(width, height, [&](double x, double y) {
        Vec out = sky(x, y, a, cover);
        const Vec haze{0.55, 0.62, 0.70};
        for (int layer = 0; layer < 3; ++layer) {
            const double top = ridge(x + 0.7 * layer, horizon - 0.10 + 0.055 * layer, 0.10 - 0.02 * layer, 2.0 + layer, b + static_cast<std::uint64_t>(layer));
            if (y < top) continue;
            const double slope =
                ridge(x + 0.004 + 0.7 * layer, horizon - 0.10 + 0.055 * layer, 0.10 - 0.02 * layer, 2.0 + layer, b + static_cast<std::uint64_t>(layer)) - top;
            const double rough = rough_noise(x * 22, (y - top) * 40, c + static_cast<std::uint64_t>(layer), 5);
            const Vec rock = blend(dry ? paint(160, 128, 92) : paint(108, 118, 84), paint(116, 104, 96), std::clamp(0.5 + rough, 0.0, 1.0));
            out = blend(rock * std::clamp(0.75 + 40 * slope + 0.3 * rough, 0.25, 1.4), haze, 0.62 - 0.22 * layer);
        }
        const double field = horizon + 0.02 + 0.012 * smooth_noise(x * 3, 0, d);
        if (y > field) {
            const double depth = (y - field) / 0.35, rows = rough_noise(x * 40 / (0.3 + depth), 90 * depth / (0.25 + depth), d, 5);
            const double patch = smooth_noise(x * 3 + 2 * depth, 6 * depth, d + 4);
            const Vec grass =
                blend(dry ? paint(196, 170, 98) : paint(118, 142, 66), dry ? paint(150, 138, 76) : paint(150, 160, 84), std::clamp(0.5 + patch, 0.0, 1.0));
            out = grass * (0.85 + 0.45 * rows);
            if (smooth_noise(x * 160 / (0.3 + depth), 300 * depth / (0.3 + depth), d + 8) > 0.78 && depth > 0.2) out = blend(out, paint(220, 70, 60), 0.8);
        }
        const double hx = (x - hut) / 0.045, hy = (horizon + 0.065 - y) / 0.045;
        if (std::abs(hx) < 1 && hy > 0 && hy < 0.8)
            out = (hx > 0.15 ? paint(226, 220, 206) : paint(150, 148, 150)) * (0.9 + 0.1 * rough_noise(x * 300, y * 300, d, 3));
        if (hy >= 0.75 && hy < 1.5 && std::abs(hx) < 1.15 - 0.7 * (hy - 0.75)) out = paint(164, 70, 54) * (0.8 + 0.3 * rough_noise(x * 200, y * 500, d, 3));
        for (const Tree& tree : trees) tree_at(tree, x, y, out);
        return out;
    });
}

cv::Mat coast(int width, int height, std::uint64_t seed) {
    Random random(seed);
    const double horizon = random.between(0.22, 0.30), cover = random.between(-0.25, 0.1);
    const std::uint64_t a = random.bits(), b = random.bits(), c = random.bits();
    struct Parasol {
        double x, y, size;
        Vec colour;
    };
    const Vec cloths[] = {paint(208, 58, 52), paint(236, 190, 60), paint(44, 110, 160), paint(236, 232, 222), paint(56, 140, 112)};
    std::vector<Parasol> parasols;
    for (int i = 0; i < 9; ++i) {
        const double depth = (i + random.unit()) / 9;
        parasols.push_back({random.unit(), horizon + 0.20 + 0.15 * depth, 0.022 + 0.05 * depth, cloths[random.below(5)]});
    }
    return paint_picture(width, height, [&](double x, double y) {
        Vec out = sky(x, y, a, cover);
        const double head = ridge(x, horizon - 0.03 + 0.10 * std::max(0.0, x - 0.45), 0.04, 4, b);
        if (x < 0.62 && y > head)
            out =
                blend(blend(paint(98, 106, 80), paint(150, 128, 104), std::clamp(0.5 + rough_noise(x * 30, y * 50, b, 5), 0.0, 1.0)), {0.6, 0.66, 0.74}, 0.35);
        if (y > horizon) {
            const double depth = (y - horizon) / 0.4, wave = rough_noise(x * 14 / (0.06 + depth), 60 * std::log(0.02 + depth), c, 5);
            out = blend(paint(58, 108, 138), paint(96, 164, 168), std::clamp(depth * 3, 0.0, 1.0)) * (0.85 + 0.35 * wave);
            if (wave > 0.55) out = blend(out, {0.9, 0.92, 0.92}, std::clamp((wave - 0.55) * 4, 0.0, 0.8));
        }
        const double shore = horizon + 0.14 + 0.03 * std::sin(4 * x + 1) + 0.012 * rough_noise(x * 6, 0, c + 1, 4);
        if (y > shore) {
            const double wet = std::clamp(1 - (y - shore) / 0.03, 0.0, 1.0),
                         grit = rough_noise(x * 120, y * 120, c + 2, 4) + 0.6 * rough_noise(x * 12, y * 30, c + 3, 4);
            out = blend(paint(224, 200, 160), paint(150, 128, 98), wet) * (0.92 + 0.14 * grit);
            if (y < shore + 0.006) out = {0.85, 0.88, 0.88};
        }
        for (const Parasol& p : parasols) {
            const double u = (x - p.x) / p.size, v = (p.y - y) / p.size;
            if (std::hypot(u - 0.9, (v + 0.05) * 3) < 0.75) out = out * 0.55;
            if (std::abs(u) < 0.025 && v > 0 && v < 1.2) out = paint(180, 160, 130);
            if (v > 0.9 && v < 1.55 && std::abs(u) < std::sqrt(std::max(0.0, 1 - std::pow((v - 0.9) / 0.65, 2)))) {
                const bool stripe = static_cast<int>(std::floor((u / std::sqrt(std::max(0.05, 1 - std::pow((v - 0.9) / 0.65, 2))) + 1) * 3)) & 1;
                out = (stripe ? p.colour : blend(p.colour, paint(240, 236, 228), 0.8)) * (0.75 + 0.35 * (v - 0.9) - 0.18 * u);
            }
        }
        return out;
    });
}

cv::Mat meadow(int width, int height, std::uint64_t seed) {
    Random random(seed);
    struct Flower {
        double x, y, size, tilt;
        int petals;
        Vec colour, heart;
    };
    const Vec hues[] = {paint(214, 52, 56),   paint(238, 196, 52), paint(122, 92, 176), paint(238, 236, 230),
                        paint(232, 120, 150), paint(70, 104, 186), paint(236, 128, 44)};
    std::vector<Flower> flowers;
    for (int i = 0; i < 70; ++i) {
        const double depth = static_cast<double>(i) / 69;
        const int hue = random.below(7);
        flowers.push_back({random.unit(), 0.10 + 0.56 * depth + random.between(-0.06, 0.06), 0.010 + 0.045 * depth * depth, random.between(0.6, 1.0),
                           5 + random.below(8), hues[hue], hue == 1 ? paint(90, 58, 30) : paint(232, 186, 50)});
    }
    const std::uint64_t a = random.bits(), b = random.bits();
    return paint_picture(width, height, [&](double x, double y) {
        const double depth = std::clamp(y / 0.66, 0.0, 1.0), sharp = 6 + 40 * depth;
        const double blade = rough_noise(x * sharp * 2.4, y * sharp * 0.5 + 3 * smooth_noise(x * 4, y * 4, a), a, 5);
        Vec out = blend(paint(46, 74, 34), paint(138, 164, 72), std::clamp(0.45 + 0.8 * blade + 0.25 * (0.4 - depth), 0.0, 1.0)) * (1.05 - 0.35 * depth);
        out = blend(out, {0.50, 0.58, 0.48}, std::max(0.0, 0.55 - 2.2 * depth));
        for (const Flower& f : flowers) {
            const double u = (x - f.x) / f.size, v = (y - f.y) / (f.size * f.tilt), r = std::hypot(u, v);
            if (r > 1.1) {
                if (std::abs(u) < 0.06 && v > 0 && v < 4) out = paint(88, 120, 54) * 0.8;
                continue;
            }
            const double angle = std::atan2(v, u), rim = 0.78 + 0.22 * std::cos(angle * f.petals), vein = smooth_noise(angle * 14, r * 2, b);
            if (r < rim) out = f.colour * (0.62 + 0.38 * r + 0.10 * vein + 0.12 * (-u - v)) * (std::cos(angle * f.petals) > -0.75 ? 1.0 : 0.72);
            if (r < 0.27) out = f.heart * (1.05 - 1.4 * r + 0.2 * rough_noise(u * 12, v * 12, b, 3));
        }
        return out;
    });
}

cv::Mat forest(int width, int height, std::uint64_t seed) {
    Random random(seed);
    struct Trunk {
        double x, half, foot, lean;
        std::uint64_t seed;
        double depth;
    };
    std::vector<Trunk> trunks;
    for (int i = 0; i < 22; ++i) {
        const double depth = static_cast<double>(i) / 21;
        trunks.push_back(
            {random.unit(), 0.005 + 0.028 * depth * depth * random.between(0.7, 1.3), 0.40 + 0.22 * depth, random.between(-0.03, 0.03), random.bits(), depth});
    }
    const std::uint64_t a = random.bits(), b = random.bits();
    const bool autumn = random.unit() < 0.5;
    const double sun_x = random.between(0.25, 0.75);
    return paint_picture(width, height, [&](double x, double y) {
        const double glow = std::exp(-8 * ((x - sun_x) * (x - sun_x) + (y - 0.2) * (y - 0.2)));
        const double crown = rough_noise(x * 9, y * 9, a, 6);
        Vec leaf =
            blend(autumn ? paint(176, 108, 40) : paint(72, 112, 50), autumn ? paint(214, 164, 66) : paint(150, 176, 82), std::clamp(0.5 + crown, 0.0, 1.0));
        Vec out = leaf * (0.35 + 0.5 * std::max(0.0, crown + 0.3)) + Vec{0.9, 0.9, 0.75} * (0.75 * glow * std::max(0.0, 0.5 - crown));
        const double ground = 0.40 + 0.02 * smooth_noise(x * 4, 0, b);
        if (y > ground) {
            const double depth = (y - ground) / 0.27, litter = rough_noise(x * 26 / (0.35 + depth), 60 * depth / (0.35 + depth), b, 5);
            out =
                blend(autumn ? paint(120, 72, 40) : paint(70, 84, 44), autumn ? paint(190, 120, 60) : paint(116, 118, 62), std::clamp(0.5 + litter, 0.0, 1.0)) *
                0.8;
            const double beam = smooth_noise(x * 5 + 2.5 * depth * (x - sun_x), depth * 3, b + 5);
            out = out * (0.55 + 1.3 * std::max(0.0, beam));
        }
        for (const Trunk& t : trunks) {
            if (y > t.foot) continue;
            const double u = (x - t.x - t.lean * (t.foot - y)) / t.half;
            if (std::abs(u) > 1) continue;
            const double bark = rough_noise(u * 2.2, y * 30, t.seed, 5);
            const Vec tone = blend(paint(98, 82, 68), paint(150, 140, 124), std::clamp(0.4 + 0.8 * bark, 0.0, 1.0)) *
                             (0.30 + 0.55 * std::sqrt(1 - u * u) * (u * (sun_x > x ? 1 : -1) * 0.5 + 0.7));
            out = blend(tone, out, 0.45 * (1 - t.depth));
        }
        return out;
    });
}

cv::Mat snow(int width, int height, std::uint64_t seed) {
    Random random(seed);
    const double horizon = random.between(0.18, 0.26);
    const std::vector<Tree> trees = grove(random, 9, horizon + 0.15, horizon + 0.03, 0.16, 1.0);
    const std::uint64_t a = random.bits(), b = random.bits();
    const double path = random.between(0.35, 0.65), fence = horizon + 0.20;
    return paint_picture(width, height, [&](double x, double y) {
        Vec out = blend({0.62, 0.68, 0.78}, {0.86, 0.86, 0.86}, std::clamp(y / horizon, 0.0, 1.0));
        const double far = ridge(x, horizon - 0.02, 0.05, 3, a);
        if (y > far) out = blend(paint(96, 108, 116), {0.8, 0.83, 0.88}, std::clamp(0.55 + rough_noise(x * 30, y * 60, a, 5), 0.0, 1.0));
        const double field = horizon + 0.012 * smooth_noise(x * 3, 0, b);
        if (y > field) {
            const double depth = (y - field) / 0.45, drift = rough_noise(x * 3 + depth, 8 * std::sqrt(depth), b, 5);
            out = blend({0.62, 0.70, 0.84}, {0.95, 0.94, 0.92}, std::clamp(0.6 + 0.9 * drift, 0.0, 1.0)) * (0.97 + 0.04 * rough_noise(x * 150, y * 150, b, 3));
            const double middle = path + 0.12 * std::sin(5 * depth), wide = 0.012 + 0.10 * depth;
            if (std::abs(x - middle) < wide) out = out * (0.72 + 0.12 * rough_noise(x * 60, y * 60, b + 2, 4));
        }
        for (const Tree& tree : trees) {
            if (tree_at(tree, x, y, out) && rough_noise(x * 50, y * 90, tree.seed, 4) > 0.12) out = {0.84, 0.87, 0.92};
        }
        const double post = x * 9 - std::floor(x * 9);
        if (y > fence - 0.045 && y < fence && post < 0.10) out = paint(96, 74, 58) * (0.8 + 0.4 * rough_noise(x * 200, y * 60, b, 3));
        if ((std::abs(y - fence + 0.034) < 0.003 || std::abs(y - fence + 0.016) < 0.003)) out = paint(110, 86, 66);
        return out;
    });
}

cv::Mat dusk(int width, int height, std::uint64_t seed) {
    Random random(seed);
    const double horizon = random.between(0.36, 0.44), sun_x = random.between(0.25, 0.75);
    const std::vector<Tree> trees = grove(random, 8, horizon + 0.10, horizon + 0.02, 0.22, 0.3);
    const std::uint64_t a = random.bits(), b = random.bits();
    return paint_picture(width, height, [&](double x, double y) {
        const double low = std::clamp(y / horizon, 0.0, 1.0), near = std::exp(-6 * (x - sun_x) * (x - sun_x));
        Vec out = blend({0.10, 0.16, 0.34}, blend({0.40, 0.26, 0.30}, {0.95, 0.50, 0.20}, near), low * low);
        const double cloud = rough_noise(x * 3, y * 16, a, 6);
        out = blend(out, blend({0.22, 0.17, 0.24}, {1.0, 0.42, 0.24}, near * low), std::clamp(cloud * 1.8, 0.0, 0.85));
        const double disc = std::hypot(x - sun_x, y - horizon + 0.035);
        out += Vec{9, 6, 2.5} * (disc < 0.018 ? 1.0 : 0.05 * std::exp(-30 * disc));
        if (y > horizon) {
            const double depth = (y - horizon) / 0.3, ripple = rough_noise(x * 12 / (0.1 + depth), 40 * std::log(0.05 + depth), b, 5);
            const double lane = std::exp(-std::pow((x - sun_x + 0.02 * ripple) / (0.03 + 0.07 * depth), 2));
            out = blend({0.08, 0.10, 0.18}, {0.50, 0.30, 0.24}, std::exp(-4 * depth)) * (0.8 + 0.5 * ripple) +
                  Vec{2.2, 1.3, 0.55} * (lane * std::max(0.0, 0.35 + ripple));
        }
        for (const Tree& tree : trees) {
            Vec leaf;
            if (tree_at(tree, x, y, leaf)) out = leaf * 0.09;
        }
        const double bank = ridge(x, horizon + 0.25 + 0.10 * std::abs(x - 0.5), 0.03, 5, b + 3);
        if (y > bank) out = blend(paint(38, 42, 32), paint(70, 62, 44), std::clamp(0.5 + rough_noise(x * 60, y * 25, b, 5), 0.0, 1.0)) * 0.35;
        return out;
    });
}

}  // namespace synthetic
