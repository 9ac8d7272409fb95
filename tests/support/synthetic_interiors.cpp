// SPDX-License-Identifier: GPL-3.0-or-later
// Scenes made of solids: tables, rooms, streets, people as plain forms.
#include "support/synthetic_random.h"
#include "support/synthetic_solids.h"
#include "support/synthetic_views.h"

#include <algorithm>
#include <array>

namespace synthetic {
namespace {

Surface plain(Vec colour, double gloss = 0, double sharpness = 40) {
    Surface s;
    s.colour = colour;
    s.gloss = gloss;
    s.sharpness = sharpness;
    return s;
}
Surface patterned(Pattern pattern, Vec colour, Vec second, double size, double gloss = 0) {
    Surface s;
    s.pattern = pattern;
    s.colour = colour;
    s.second = second;
    s.size = size;
    s.gloss = gloss;
    return s;
}
Surface glowing(Vec light) {
    Surface s = plain({0.6, 0.6, 0.6});
    s.glow = light;
    return s;
}
Light lamp(Vec place, Vec colour, double radius = 0.1) { return {place, colour, radius, false}; }
Light sun(Vec towards, Vec colour, double spread = 0.04) { return {unit(towards), colour, spread, true}; }

/// Neutral sky, brighter overhead, a little blue away from the sun.
Vec day_sky(Vec d) {
    const double up = std::max(0.0, d.y);
    return blend({0.62, 0.66, 0.70}, {0.26, 0.38, 0.62}, std::sqrt(up)) * (d.y < 0 ? 0.45 : 1.0);
}

constexpr int kFruits = 6;
Surface fruit(int kind) {
    switch (kind % kFruits) {
        case 0:
            return patterned(Pattern::peel, paint(226, 128, 28), {}, 0.012, 0.05);
        case 1:
            return patterned(Pattern::peel, paint(176, 34, 36), {}, 0.06, 0.10);
        case 2:
            return patterned(Pattern::peel, paint(128, 166, 50), {}, 0.05, 0.10);
        case 3:
            return patterned(Pattern::peel, paint(232, 204, 62), {}, 0.02, 0.06);
        case 4:
            return patterned(Pattern::peel, paint(86, 44, 78), {}, 0.06, 0.08);
        default:
            return patterned(Pattern::peel, paint(222, 158, 116), {}, 0.05, 0.02);
    }
}

}  // namespace

cv::Mat still_life(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    w.floor(0, patterned(Pattern::wood, paint(150, 104, 70), paint(96, 62, 42), 0.12, 0.03));
    const std::array<Vec, 4> walls{paint(148, 152, 150), paint(118, 134, 142), paint(160, 146, 124), paint(126, 140, 120)};
    w.box({0, 1.5, -0.9}, {4, 2, 0.1}, patterned(Pattern::speckle, walls[static_cast<std::size_t>(random.below(4))], walls[0], 0.8));
    w.solids.back().shades = false;
    w.box({-0.05, 0.004, 0.05}, {0.55, 0.005, 0.30}, patterned(Pattern::weave, paint(216, 210, 196), {}, 0.012), 0.12);
    const double bowl_x = random.between(-0.05, 0.12);
    w.oval({bowl_x, 0.035, 0.0}, {0.19, 0.035, 0.19}, plain(paint(70, 110, 150), 0.12, 90));
    for (int i = 0; i < 5; ++i) {
        const double a = i * 1.2566 + random.between(-0.2, 0.2), r = random.between(0.042, 0.052);
        w.ball({bowl_x + 0.085 * std::cos(a), 0.075 + r * 0.6, 0.085 * std::sin(a)}, r, fruit(random.below(kFruits)));
    }
    w.ball({bowl_x, 0.165, 0.0}, 0.05, fruit(random.below(kFruits)));
    const double jug = -0.30 + random.between(-0.03, 0.03);
    const Surface clay = plain(random.unit() < 0.5 ? paint(176, 92, 58) : paint(58, 96, 88), 0.10, 60);
    w.oval({jug, 0.13, -0.1}, {0.085, 0.13, 0.085}, clay);
    w.drum({jug, 0.28, -0.1}, 0.036, 0.06, clay);
    w.drum({0.36, 0.055, -0.05}, 0.045, 0.055, plain(paint(228, 226, 220), 0.15, 90));
    w.box({0.34, 0.02, 0.22}, {0.11, 0.018, 0.075}, plain(paint(52, 66, 116), 0.02), 0.5);
    w.box({0.335, 0.052, 0.215}, {0.10, 0.014, 0.07}, plain(paint(168, 48, 44), 0.02), 0.36);
    w.ball({-0.13, 0.042, 0.24}, 0.042, fruit(random.below(kFruits)));
    w.ball({-0.22, 0.038, 0.20}, 0.038, fruit(random.below(kFruits)));
    w.lights.push_back(lamp({-1.6, 1.7, 1.0}, Vec{1.02, 1.0, 0.97} * 5.2, 0.35));
    w.surroundings = [](Vec d) { return Vec{0.16, 0.17, 0.19} * (d.y > 0 ? 1.0 : 0.6) + Vec{0.3, 0.3, 0.3} * std::max(0.0, -d.x); };
    w.eye = {random.between(-0.15, 0.15), 0.48, 1.35};
    w.target = {0.02, 0.12, 0.0};
    w.view_deg = 44;
    return render(w, width, height);
}

cv::Mat crates(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    w.floor(-0.4, patterned(Pattern::speckle, paint(120, 118, 114), paint(90, 88, 84), 0.05));
    w.box({0, 1.2, -1.1}, {4, 2, 0.1}, patterned(Pattern::brick, paint(150, 92, 74), paint(168, 160, 150), 0.08));
    const int first = random.below(kFruits);
    for (int column = 0; column < 4; ++column) {
        for (int row = 0; row < 3; ++row) {
            const double x = -0.78 + 0.52 * column, y = 0.05 + 0.20 * row, z = 0.35 - 0.44 * row;
            const Surface board = patterned(Pattern::wood, paint(186, 150, 108), paint(150, 112, 74), 0.05);
            w.box({x, y - 0.07, z}, {0.25, 0.01, 0.20}, board);
            w.box({x, y - 0.02, z + 0.20}, {0.25, 0.05, 0.008}, board);
            w.box({x - 0.25, y - 0.02, z}, {0.008, 0.05, 0.20}, board);
            const Surface kind = fruit(first + column + 2 * row);
            for (int i = 0; i < 20; ++i) {
                const double r = 0.046 * random.between(0.9, 1.08);
                const Vec at{x - 0.19 + 0.095 * (i % 5) + random.between(-0.008, 0.008), y + 0.01 + random.between(0, 0.025),
                             z - 0.14 + 0.095 * (i / 5) + random.between(-0.008, 0.008)};
                w.ball(at, r, kind);
            }
            w.box({x, y + 0.0, z + 0.215}, {0.05, 0.035, 0.003}, plain(paint(236, 234, 226)));
        }
    }
    w.lights.push_back(sun({-0.5, 1.1, 0.7}, Vec{1.0, 0.96, 0.9} * 1.7));
    w.surroundings = day_sky;
    w.eye = {random.between(-0.3, 0.3), 1.25, 2.1};
    w.target = {0, 0.2, -0.05};
    w.view_deg = 46;
    return render(w, width, height);
}

cv::Mat lamp_room(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    const std::array<Vec, 3> walls{paint(172, 150, 118), paint(128, 148, 138), paint(166, 128, 120)};
    const Vec wall = walls[static_cast<std::size_t>(random.below(3))];
    w.floor(0, patterned(Pattern::wood, paint(138, 92, 60), paint(94, 60, 40), 0.25, 0.05));
    w.box({0, 1.3, -2.0}, {3, 1.4, 0.05}, patterned(Pattern::stripes, wall, wall * 0.9, 0.11));
    w.box({-2.3, 1.3, 0}, {0.05, 1.4, 3}, plain(wall));
    w.box({0.1, 0.006, -0.4}, {1.2, 0.006, 0.8}, patterned(Pattern::checks, paint(132, 48, 44), paint(170, 140, 96), 0.2));
    w.box({-0.9, 0.35, -1.4}, {0.55, 0.35, 0.3}, patterned(Pattern::wood, paint(112, 70, 46), paint(70, 42, 28), 0.2, 0.05));
    w.drum({-1.05, 0.82, -1.4}, 0.05, 0.12, plain(paint(60, 90, 104), 0.2, 60));
    Surface shade = glowing({3.4, 3.0, 2.4});
    w.drum({-1.05, 1.08, -1.4}, 0.19, 0.13, shade);
    w.solids.back().shades = false;
    for (int i = 0; i < 5; ++i) {
        const Vec colours[] = {paint(52, 84, 128), paint(172, 60, 46), paint(64, 106, 70), paint(206, 172, 84), paint(226, 220, 206)};
        w.box({-0.70 + 0.055 * i, 0.82 + 0.01 * (i % 3), -1.4}, {0.024, 0.12 + 0.01 * (i % 3), 0.09}, plain(colours[(i + static_cast<int>(seed % 5)) % 5]));
    }
    const Vec cloth = random.unit() < 0.5 ? paint(66, 104, 112) : paint(150, 74, 60);
    w.box({0.95, 0.28, -1.1}, {0.62, 0.20, 0.45}, patterned(Pattern::weave, cloth, {}, 0.03));
    w.box({0.95, 0.68, -1.5}, {0.62, 0.32, 0.12}, patterned(Pattern::weave, cloth, {}, 0.03));
    w.box({0.38, 0.45, -1.1}, {0.10, 0.28, 0.45}, patterned(Pattern::weave, cloth * 0.9, {}, 0.03));
    w.oval({1.15, 0.60, -1.15}, {0.24, 0.20, 0.09}, patterned(Pattern::checks, paint(214, 176, 70), paint(226, 216, 196), 0.06), 0.3);
    w.box({0.9, 1.5, -1.94}, {0.42, 0.30, 0.02}, plain(paint(60, 44, 34)));
    w.box({0.9, 1.5, -1.92}, {0.36, 0.24, 0.02}, patterned(Pattern::speckle, paint(84, 132, 168), paint(222, 206, 160), 0.3));
    w.drum({-0.25, 0.30, -0.35}, 0.26, 0.02, patterned(Pattern::wood, paint(160, 116, 76), paint(120, 80, 50), 0.1, 0.08));
    w.drum({-0.25, 0.14, -0.35}, 0.03, 0.14, plain(paint(60, 44, 36)));
    w.drum({-0.18, 0.355, -0.32}, 0.035, 0.035, plain(paint(232, 230, 224), 0.15, 80));
    w.ball({-0.36, 0.36, -0.40}, 0.042, fruit(random.below(kFruits)));
    w.ball({-0.30, 0.355, -0.32}, 0.035, fruit(random.below(kFruits)));
    w.lights.push_back(lamp({-1.05, 1.12, -1.36}, Vec{1.05, 1.0, 0.92} * 0.95, 0.14));
    w.lights.push_back(lamp({1.8, 2.2, 2.0}, Vec{0.9, 1.0, 1.15} * 0.8, 0.3));
    w.surroundings = [](Vec) { return Vec{0.055, 0.055, 0.058}; };
    w.eye = {random.between(0.0, 0.4), 1.25, 2.2};
    w.target = {-0.05, 0.75, -1.2};
    w.view_deg = 52;
    return render(w, width, height);
}

cv::Mat night_street(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    Surface road = patterned(Pattern::speckle, paint(70, 70, 74), paint(46, 46, 50), 0.4);
    road.mirror = 0.5;
    w.floor(0, road);
    w.box({-3.1, 0.06, -20}, {1.1, 0.08, 24}, patterned(Pattern::brick, paint(110, 106, 100), paint(80, 78, 74), 0.4));
    w.box({3.1, 0.06, -20}, {1.1, 0.08, 24}, patterned(Pattern::brick, paint(110, 106, 100), paint(80, 78, 74), 0.4));
    const Vec faces[] = {paint(150, 110, 92), paint(136, 136, 128), paint(120, 92, 80), paint(104, 118, 130), paint(160, 140, 104)};
    const Vec panes[] = {{2.4, 1.7, 0.9}, {2.0, 1.8, 1.4}, {1.2, 1.6, 2.0}};
    for (int side = -1; side <= 1; side += 2) {
        double z = 2;
        while (z > -38) {
            const double depth = random.between(2.2, 4.2), tall = random.between(3.0, 6.5);
            w.box({side * 6.2, tall, z - depth}, {2.0, tall, depth - 0.03}, patterned(Pattern::windows, faces[random.below(5)], panes[random.below(3)], 1.15));
            if (random.unit() < 0.7) {
                w.box({side * 4.15, 2.4, z - depth}, {0.06, 0.25, 0.9},
                      glowing(Vec{random.between(0.2, 1.6), random.between(0.2, 1.4), random.between(0.2, 1.6)}));
            }
            z -= 2 * depth;
        }
    }
    for (int i = 0; i < 5; ++i) {
        const double z = -2.0 - 6 * i, x = (i % 2 ? 1 : -1) * 2.25;
        w.drum({x, 1.9, z}, 0.05, 1.9, plain(paint(44, 48, 50)));
        w.ball({x * 0.92, 3.75, z}, 0.16, glowing(Vec{6.5, 5.2, 3.2}));
        w.solids.back().shades = false;
        w.lights.push_back(lamp({x * 0.92, 3.7, z}, Vec{1.15, 0.95, 0.62} * 2.3, 0.16));
    }
    const Vec body = Vec{random.between(0.05, 0.5), random.between(0.03, 0.2), random.between(0.03, 0.4)};
    w.box({1.35, 0.55, -5.5}, {0.75, 0.30, 1.7}, plain(body, 0.3, 80));
    w.box({1.35, 0.98, -5.6}, {0.62, 0.22, 0.9}, plain(Vec{0.03, 0.035, 0.04}, 0.3, 80));
    w.ball({0.85, 0.6, -3.8}, 0.09, glowing({5, 0.4, 0.2}));
    w.ball({1.85, 0.6, -3.8}, 0.09, glowing({5, 0.4, 0.2}));
    w.ball({-1.0, 0.6, -14}, 0.12, glowing({12, 11, 8.5}));
    w.ball({-0.3, 0.6, -14}, 0.12, glowing({12, 11, 8.5}));
    w.oval({-2.6, 0.85, -4.2}, {0.20, 0.75, 0.16}, plain(paint(50, 60, 96)));
    w.ball({-2.6, 1.68, -4.2}, 0.13, plain(paint(198, 150, 124)));
    w.surroundings = [](Vec d) { return blend({0.030, 0.030, 0.036}, {0.006, 0.008, 0.016}, std::clamp(d.y * 2, 0.0, 1.0)); };
    w.eye = {random.between(-0.5, 0.4), 1.6, 3.2};
    w.target = {0.1, 1.75, -8};
    w.view_deg = 56;
    return render(w, width, height);
}

cv::Mat portrait(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    const Vec skins[] = {paint(224, 176, 148), paint(196, 144, 112), paint(142, 92, 66), paint(96, 62, 46), paint(234, 192, 170)};
    const Vec hairs[] = {paint(46, 34, 28), paint(92, 60, 38), paint(176, 134, 84), paint(120, 116, 112), paint(36, 32, 34)};
    const Vec cloths[] = {paint(46, 78, 122), paint(158, 52, 52), paint(74, 104, 70), paint(206, 178, 108), paint(92, 80, 104)};
    const Surface skin = patterned(Pattern::peel, skins[random.below(5)], {}, 0.05, 0.025);
    const Surface hair = patterned(Pattern::stripes, hairs[random.below(5)], hairs[random.below(5)] * 0.8, 0.004, 0.05);
    const Surface cloth = patterned(Pattern::weave, cloths[random.below(5)], {}, 0.012);
    Surface lips = skin;
    lips.colour = blend(skin.colour, paint(170, 62, 66), 0.6);
    const double x = random.between(-0.08, 0.08);
    w.oval({x, 0.0, 0}, {0.098, 0.128, 0.108}, skin);                 // head
    w.oval({x, -0.055, 0.012}, {0.074, 0.080, 0.090}, skin);          // jaw
    w.oval({x + 0.004, -0.014, 0.112}, {0.013, 0.026, 0.018}, skin);  // nose
    w.oval({x, -0.062, 0.094}, {0.027, 0.0085, 0.012}, lips);
    for (int side = -1; side <= 1; side += 2) {
        w.oval({x + side * 0.036, 0.022, 0.092}, {0.016, 0.0085, 0.010}, plain({0.75, 0.74, 0.72}, 0.2, 200));
        w.ball({x + side * 0.036, 0.022, 0.0975}, 0.0072, plain({0.03, 0.025, 0.02}, 0.5, 300));
        w.oval({x + side * 0.037, 0.044, 0.092}, {0.021, 0.0045, 0.010}, hair);
        w.oval({x + side * 0.100, -0.005, 0.0}, {0.012, 0.028, 0.018}, skin);
    }
    w.oval({x, 0.052, -0.022}, {0.106, 0.098, 0.112}, hair);
    if (random.unit() < 0.5) {
        for (int side = -1; side <= 1; side += 2) w.oval({x + side * 0.088, -0.06, -0.03}, {0.036, 0.13, 0.07}, hair);
    }
    w.drum({x, -0.16, -0.01}, 0.052, 0.07, skin);
    w.oval({x, -0.36, -0.03}, {0.25, 0.16, 0.12}, cloth);
    w.oval({x, -0.225, 0.0}, {0.085, 0.03, 0.075}, patterned(Pattern::weave, paint(224, 218, 206), {}, 0.01));
    const Vec far = random.unit() < 0.5 ? paint(96, 124, 92) : paint(120, 128, 140), other = random.unit() < 0.5 ? paint(176, 150, 104) : paint(66, 84, 104);
    w.box({0, 0, -2.6}, {4, 3, 0.05}, patterned(Pattern::speckle, far, other, 0.9));
    w.solids.back().shades = false;
    for (int i = 0; i < 7; ++i)
        w.ball({random.between(-1.4, 1.4), random.between(-0.5, 0.9), -2.0}, random.between(0.05, 0.14), plain(blend(far, {0.9, 0.86, 0.7}, random.unit())));
    w.lights.push_back(lamp({-1.1, 0.7, 1.3}, Vec{1.03, 1.0, 0.96} * 1.9, 0.28));
    w.lights.push_back(lamp({1.3, 0.5, -0.6}, Vec{0.95, 1.0, 1.08} * 0.7, 0.15));
    w.surroundings = [](Vec d) { return Vec{0.20, 0.20, 0.21} * (d.y > 0 ? 1.0 : 0.65); };
    w.eye = {0.0, -0.02, 1.5};
    w.target = {0.0, -0.06, 0};
    w.focus = 1.40;
    w.aperture = 0.022;
    w.view_deg = 34;
    return render(w, width, height);
}

cv::Mat painted_houses(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    Surface water = patterned(Pattern::speckle, paint(52, 78, 88), paint(40, 62, 74), 1.2);
    water.mirror = 0.85;
    w.floor(0, water);
    w.box({0, 0.25, -7.4}, {20, 0.35, 3.0}, patterned(Pattern::brick, paint(150, 144, 132), paint(120, 114, 104), 0.2));
    const Vec paints[] = {paint(206, 96, 74),   paint(226, 190, 92),  paint(112, 152, 172), paint(228, 222, 208),
                          paint(148, 170, 122), paint(196, 140, 150), paint(176, 70, 58)};
    const Vec roofs[] = {paint(128, 66, 50), paint(84, 80, 80), paint(142, 84, 62)};
    double x = -9;
    int i = random.below(7);
    while (x < 9) {
        const double half = random.between(0.75, 1.15), tall = random.between(1.1, 2.0), z = -7.2 + random.between(-0.3, 0.3);
        w.box({x + half, 0.6 + tall, z}, {half - 0.02, tall, 1.4}, plain(paints[(i++) % 7]));
        const int rows = tall > 1.5 ? 3 : 2;
        for (int r = 0; r < rows; ++r) {
            for (int c = -1; c <= 1; ++c) {
                const Vec at{x + half + c * half * 0.6, 1.15 + r * 1.05, z + 1.4};
                w.box(at, {half * 0.17, 0.27, 0.03}, plain(paint(236, 234, 228)));
                w.box(at + Vec{0, 0, 0.02}, {half * 0.13, 0.23, 0.03}, plain(paint(48, 58, 66), 0.3, 60));
            }
        }
        w.box({x + half, 0.6 + 2 * tall + 0.12, z + 0.1}, {half + 0.08, 0.14, 1.5}, patterned(Pattern::brick, roofs[random.below(3)], roofs[1], 0.07));
        w.box({x + half * 1.4, 0.6 + 2 * tall + 0.45, z}, {0.14, 0.3, 0.14}, patterned(Pattern::brick, paint(140, 84, 66), paint(160, 150, 140), 0.06));
        x += 2 * half;
    }
    for (int b = 0; b < 3; ++b) {
        const double bx = random.between(-3.2, 3.2), bz = -1.6 - 1.1 * b;
        w.oval({bx, 0.10, bz}, {0.75, 0.18, 0.28}, plain(paints[(b + 2 * i) % 7], 0.1, 50));
        w.oval({bx, 0.22, bz}, {0.62, 0.08, 0.20}, patterned(Pattern::wood, paint(150, 110, 74), paint(110, 76, 50), 0.1));
        w.drum({bx, 0.9, bz}, 0.02, 0.8, plain(paint(190, 170, 140)));
    }
    w.lights.push_back(sun({0.55, 0.75, 0.75}, Vec{1.0, 0.95, 0.86} * 1.6));
    const std::uint64_t cloud = mix(seed, 9);
    w.surroundings = [cloud](Vec d) {
        const double up = std::max(d.y, 0.02), veil = std::clamp(rough_noise(d.x / (up + 0.25) * 1.6, 1.4 / (up + 0.25), cloud, 5) * 1.3 + 0.1, 0.0, 1.0);
        return blend(blend({0.60, 0.68, 0.78}, {0.20, 0.33, 0.62}, std::sqrt(up)), {0.85, 0.85, 0.86}, veil);
    };
    w.eye = {random.between(-0.8, 0.8), 1.5, 5.0};
    w.target = {0, 1.55, -7};
    w.view_deg = 44;
    return render(w, width, height);
}

cv::Mat stairs(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    const Vec stone = random.unit() < 0.5 ? paint(190, 182, 168) : paint(168, 172, 176);
    w.floor(0, patterned(Pattern::checks, paint(178, 172, 160), paint(118, 112, 104), 0.6));
    for (int i = 0; i < 11; ++i) w.box({0, 0.09 + 0.18 * i, -0.6 - 0.32 * i}, {1.5, 0.09, 0.18}, patterned(Pattern::speckle, stone, stone * 0.8, 0.12));
    w.box({-2.0, 1.6, -2.4}, {0.5, 1.6, 2.6}, patterned(Pattern::brick, paint(176, 104, 80), paint(186, 176, 160), 0.10));
    w.box({2.0, 1.2, -2.4}, {0.5, 1.2, 2.6}, plain(random.unit() < 0.5 ? paint(214, 186, 120) : paint(132, 158, 172)));
    w.box({0, 3.3, -5.2}, {1.6, 1.4, 0.4}, plain(paint(222, 214, 200)));
    w.box({0.1, 2.9, -4.84}, {0.36, 0.85, 0.05}, plain(random.unit() < 0.5 ? paint(44, 92, 84) : paint(150, 46, 44)));
    for (int i = 0; i < 6; ++i) w.drum({1.4, 0.55 + 0.36 * i, -0.7 - 0.64 * i}, 0.02, 0.45, plain(paint(40, 42, 46)));
    for (int i = 0; i < 3; ++i) {
        const double z = -0.5 - 1.25 * i, y = 0.22 + 0.7 * i;
        w.drum({-1.2, y, z}, 0.14, 0.16, plain(paint(182, 96, 66)));
        w.ball({-1.2, y + 0.32, z}, 0.24, patterned(Pattern::leaves, paint(96, 140, 62), paint(32, 62, 30), 0.05));
        w.ball({-1.13, y + 0.42, z + 0.14}, 0.05, plain(paint(206, 60, 84)));
        w.ball({-1.30, y + 0.36, z + 0.16}, 0.05, plain(paint(226, 196, 80)));
    }
    w.oval({0.55, 0.99, -1.25}, {0.15, 0.34, 0.13}, patterned(Pattern::weave, paint(60, 86, 138), {}, 0.02));
    w.ball({0.55, 1.44, -1.25}, 0.11, plain(paint(206, 156, 128)));
    w.drum({0.55, 1.54, -1.25}, 0.17, 0.02, plain(paint(220, 200, 150)));
    w.lights.push_back(sun({0.75, 0.9, 0.35}, Vec{1.0, 0.96, 0.88} * 2.0));
    w.surroundings = day_sky;
    w.eye = {random.between(-0.3, 0.5), 1.3, 2.6};
    w.target = {0, 1.35, -2};
    w.view_deg = 58;
    return render(w, width, height);
}

cv::Mat blocks(int width, int height, std::uint64_t seed) {
    Random random(seed);
    World w;
    w.seed = seed;
    w.floor(0, plain(paint(150, 150, 150)));
    const Vec colours[] = {paint(186, 52, 48),  paint(228, 178, 54),  paint(64, 130, 72),   paint(58, 92, 156), paint(120, 66, 124),  paint(36, 140, 150),
                           paint(224, 126, 58), paint(236, 236, 236), paint(118, 118, 118), paint(60, 60, 60),  paint(196, 150, 124), paint(150, 178, 90)};
    for (int i = 0; i < 26; ++i) {
        const double x = -1.5 + 0.6 * (i % 6) + random.between(-0.12, 0.12), z = 0.5 - 0.55 * (i / 6) + random.between(-0.1, 0.1),
                     r = random.between(0.12, 0.22);
        const Surface s = plain(colours[(i * 5 + static_cast<int>(seed % 12)) % 12], random.unit() < 0.4 ? 0.12 : 0, 60);
        if (random.unit() < 0.45) {
            w.ball({x, r, z}, r, s);
        } else {
            const double tall = r * random.between(0.7, 2.0);
            w.box({x, tall, z}, {r, tall, r * random.between(0.6, 1)}, s, random.between(0, 1.5));
        }
    }
    w.lights.push_back(sun({-0.6, 0.9, 0.5}, Vec{1, 1, 1} * 1.5, 0.08));
    w.surroundings = [](Vec d) { return Vec{0.5, 0.5, 0.5} * (0.6 + 0.4 * d.y); };
    w.eye = {random.between(-0.4, 0.4), 1.6, 3.0};
    w.target = {0, 0.1, -0.4};
    w.view_deg = 48;
    return render(w, width, height);
}

}  // namespace synthetic
