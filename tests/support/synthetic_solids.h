// SPDX-License-Identifier: GPL-3.0-or-later
// A small renderer of spheres, boxes and cylinders under soft light, for scenes that look like photographs.
// Direct light is sampled with soft shadows; the light of the surroundings is dimmed by nearby solids in closed form,
// so that flat areas stay free of sampling noise. Private to the generator.
#pragma once

#include <opencv2/core.hpp>

#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

namespace synthetic {

struct Vec {
    double x = 0, y = 0, z = 0;
    friend Vec operator+(Vec a, Vec b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
    friend Vec operator-(Vec a, Vec b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
    friend Vec operator*(Vec a, Vec b) { return {a.x * b.x, a.y * b.y, a.z * b.z}; }
    friend Vec operator*(Vec a, double k) { return {a.x * k, a.y * k, a.z * k}; }
    Vec& operator+=(Vec b) { return *this = *this + b; }
};
[[nodiscard]] inline double dot(Vec a, Vec b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
[[nodiscard]] inline Vec cross(Vec a, Vec b) { return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x}; }
[[nodiscard]] inline double length(Vec a) { return std::sqrt(dot(a, a)); }
[[nodiscard]] inline Vec unit(Vec a) { return a * (1 / length(a)); }
[[nodiscard]] inline Vec blend(Vec a, Vec b, double k) { return a * (1 - k) + b * k; }
/// Linear light from familiar 0..255 paint values.
[[nodiscard]] Vec paint(double r, double g, double b);

enum class Pattern { plain, wood, brick, weave, speckle, checks, stripes, windows, peel, leaves };
struct Surface {
    Vec colour{0.5, 0.5, 0.5}, second{0.3, 0.3, 0.3};
    Pattern pattern = Pattern::plain;
    double size = 0.1;  ///< of the pattern
    double gloss = 0;   ///< share of light thrown back as a glint
    double sharpness = 40;
    double mirror = 0;  ///< share of the surroundings mirrored
    Vec glow{};         ///< light of its own
};

enum class Shape { ball, box, drum, floor };  ///< drum: upright cylinder; floor: endless plane at centre.y
struct Solid {
    Shape shape = Shape::ball;
    Vec centre, half{1, 1, 1};
    double yaw = 0;
    Surface surface;
    bool shades = true;  ///< casts shadows and dims its neighbours
};
struct Light {
    Vec place;  ///< or direction towards it, when far
    Vec colour;
    double radius = 0.1;  ///< of the lamp, or of the cone of directions
    bool far = false;
};
struct World {
    std::vector<Solid> solids;
    std::vector<Light> lights;
    std::function<Vec(Vec)> surroundings = [](Vec) { return Vec{0.3, 0.3, 0.3}; };
    Vec eye{0, 1.5, 5}, target{0, 0.5, 0};
    double view_deg = 35;            ///< across the width
    double aperture = 0, focus = 0;  ///< lens opening and distance in focus; focus 0: the target
    std::uint64_t seed = 1;

    void ball(Vec centre, double radius, const Surface& s) { solids.push_back({Shape::ball, centre, {radius, radius, radius}, 0, s, true}); }
    void oval(Vec centre, Vec half, const Surface& s, double yaw = 0) { solids.push_back({Shape::ball, centre, half, yaw, s, true}); }
    void box(Vec centre, Vec half, const Surface& s, double yaw = 0) { solids.push_back({Shape::box, centre, half, yaw, s, true}); }
    void drum(Vec centre, double radius, double half_height, const Surface& s) {
        solids.push_back({Shape::drum, centre, {radius, half_height, radius}, 0, s, true});
    }
    void floor(double y, const Surface& s) { solids.push_back({Shape::floor, {0, y, 0}, {1, 1, 1}, 0, s, false}); }
};

/// CV_32FC3 (r, g, b), linear.
[[nodiscard]] cv::Mat render(const World& world, int width, int height);

}  // namespace synthetic
