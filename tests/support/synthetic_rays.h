// SPDX-License-Identifier: GPL-3.0-or-later
// Where a ray meets the solids of a scene. Private to the generator.
#pragma once

#include "support/synthetic_solids.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace synthetic {

inline constexpr double kNear = 1e-4;
inline constexpr double kNeighbourReach = 8;  ///< solids further than so many of their radii dim nothing

struct Ray {
    Vec from, along;
};
struct Hit {
    double distance = std::numeric_limits<double>::infinity();
    Vec normal, local;
    const Solid* solid = nullptr;
};

inline Vec turn(Vec v, double c, double s) { return {c * v.x + s * v.z, v.y, -s * v.x + c * v.z}; }

/// Distance along the ray into a ball, box or drum of unit size about the origin; also the surface's normal there.
inline bool hit_unit_ball(const Ray& r, double& t, Vec& n) {
    const double a = dot(r.along, r.along), b = dot(r.from, r.along), c = dot(r.from, r.from) - 1;
    const double d = b * b - a * c;
    if (d < 0) return false;
    t = (-b - std::sqrt(d)) / a;
    if (t < kNear) t = (-b + std::sqrt(d)) / a;
    n = r.from + r.along * t;
    return t > kNear;
}

inline bool hit_unit_box(const Ray& r, double& t, Vec& n) {
    double in = -1e30, out = 1e30;
    Vec n_in, n_out;
    const auto slab = [&](double from, double along, Vec axis) {
        const double inverse = 1 / (std::abs(along) < 1e-12 ? 1e-12 : along);
        const double t0 = (-1 - from) * inverse, t1 = (1 - from) * inverse;
        const double near = std::min(t0, t1), far = std::max(t0, t1);
        if (near > in) {
            in = near;
            n_in = axis * (along > 0 ? -1 : 1);
        }
        if (far < out) {
            out = far;
            n_out = axis * (along > 0 ? 1 : -1);
        }
    };
    slab(r.from.x, r.along.x, {1, 0, 0});
    slab(r.from.y, r.along.y, {0, 1, 0});
    slab(r.from.z, r.along.z, {0, 0, 1});
    if (in > out || out < kNear) return false;
    t = in > kNear ? in : out;
    n = in > kNear ? n_in : n_out;
    return true;
}

inline bool hit_unit_drum(const Ray& r, double& t, Vec& n) {
    double best = 1e30;
    const double a = r.along.x * r.along.x + r.along.z * r.along.z, b = r.from.x * r.along.x + r.from.z * r.along.z,
                 c = r.from.x * r.from.x + r.from.z * r.from.z - 1;
    const double d = b * b - a * c;
    if (d > 0 && a > 1e-15) {
        const double side = (-b - std::sqrt(d)) / a, y = r.from.y + r.along.y * side;
        if (side > kNear && std::abs(y) <= 1) {
            best = side;
            n = {r.from.x + r.along.x * side, 0, r.from.z + r.along.z * side};
        }
    }
    for (const double y : {-1.0, 1.0}) {
        const double cap = (y - r.from.y) / (std::abs(r.along.y) < 1e-12 ? 1e-12 : r.along.y);
        const Vec p = r.from + r.along * cap;
        if (cap > kNear && cap < best && p.x * p.x + p.z * p.z <= 1) {
            best = cap;
            n = {0, y, 0};
        }
    }
    t = best;
    return best < 1e29;
}

inline double mean_radius(const Solid& solid) { return std::cbrt(solid.half.x * solid.half.y * solid.half.z); }

inline void intersect(const Solid& solid, const Ray& ray, Hit& hit) {
    if (solid.shape == Shape::floor) {
        const double t = (solid.centre.y - ray.from.y) / ray.along.y;
        if (t > kNear && t < hit.distance) hit = {t, {0, ray.from.y > solid.centre.y ? 1.0 : -1.0, 0}, ray.from + ray.along * t, &solid};
        return;
    }
    const Vec away = solid.centre - ray.from;  // a sphere around the solid settles most rays
    const double along = dot(away, ray.along), reach2 = dot(solid.half, solid.half);
    const double off2 = dot(away, away) - along * along;
    if (off2 > reach2 || (along < 0 && dot(away, away) > reach2) || along - std::sqrt(reach2) > hit.distance) return;
    const double c = std::cos(solid.yaw), s = std::sin(solid.yaw);
    const Vec inverse{1 / solid.half.x, 1 / solid.half.y, 1 / solid.half.z};
    const Ray local{turn(away * -1, c, s) * inverse, turn(ray.along, c, s) * inverse};
    double t = 0;
    Vec n;
    const bool met = solid.shape == Shape::ball  ? hit_unit_ball(local, t, n)
                     : solid.shape == Shape::box ? hit_unit_box(local, t, n)
                                                 : hit_unit_drum(local, t, n);
    if (!met || t >= hit.distance) return;
    const Vec place = (local.from + local.along * t) * solid.half;
    hit = {t, unit(turn(n * inverse, c, -s)), place, &solid};
}

/// Solids sorted into boxes within boxes, so that a ray meets few of them.
class Scene {
public:
    explicit Scene(const World& w) : world(w) {
        for (const Solid& solid : w.solids) (solid.shape == Shape::floor ? floors_ : order_).push_back(&solid);
        if (!order_.empty()) build(0, order_.size());
    }
    const World& world;

    [[nodiscard]] Hit nearest(const Ray& ray) const {
        Hit hit;
        for (const Solid* solid : floors_) intersect(*solid, ray, hit);
        visit([&](const Box& box) { return box.met_by(ray, hit.distance); },
              [&](const Solid& solid) {
                  intersect(solid, ray, hit);
                  return false;
              });
        return hit;
    }
    [[nodiscard]] bool blocked(const Ray& ray, double distance) const {
        return visit([&](const Box& box) { return box.met_by(ray, distance); },
                     [&](const Solid& solid) {
                         if (!solid.shades) return false;
                         Hit hit;
                         hit.distance = distance;
                         intersect(solid, ray, hit);
                         return hit.solid != nullptr;
                     });
    }
    /// Calls `use` for every solid whose size is not negligible at its distance from the place.
    template <class Use>
    void around(Vec place, Use&& use) const {
        visit([&](const Box& box) { return box.distance2(place) < kNeighbourReach * kNeighbourReach * box.largest * box.largest; },
              [&](const Solid& solid) {
                  use(solid);
                  return false;
              });
    }

private:
    struct Box {
        Vec low{1e9, 1e9, 1e9}, high{-1e9, -1e9, -1e9};
        double largest = 0;                           ///< mean radius of the largest solid inside
        std::size_t from = 0, count = 0, second = 0;  ///< count 0: two boxes follow, the next and `second`

        [[nodiscard]] bool met_by(const Ray& ray, double limit) const {
            double in = 0, out = limit;
            const auto slab = [&](double l, double h, double f, double along) {
                const double inverse = 1 / (std::abs(along) < 1e-12 ? 1e-12 : along);
                const double a = (l - f) * inverse, b = (h - f) * inverse;
                in = std::max(in, std::min(a, b));
                out = std::min(out, std::max(a, b));
            };
            slab(low.x, high.x, ray.from.x, ray.along.x);
            slab(low.y, high.y, ray.from.y, ray.along.y);
            slab(low.z, high.z, ray.from.z, ray.along.z);
            return in <= out;
        }
        [[nodiscard]] double distance2(Vec p) const {
            const auto off = [](double v, double l, double h) { return std::max({l - v, 0.0, v - h}); };
            const Vec d{off(p.x, low.x, high.x), off(p.y, low.y, high.y), off(p.z, low.z, high.z)};
            return dot(d, d);
        }
    };
    static double axis(Vec v, int i) { return i == 0 ? v.x : i == 1 ? v.y : v.z; }

    void build(std::size_t from, std::size_t to) {
        Box box;
        for (std::size_t i = from; i < to; ++i) {
            const Solid& s = *order_[i];
            const double flat = s.yaw == 0 ? 0 : std::hypot(s.half.x, s.half.z);
            const Vec reach{std::max(s.half.x, flat), s.half.y, std::max(s.half.z, flat)};
            const Vec l = s.centre - reach, h = s.centre + reach;
            box.low = {std::min(box.low.x, l.x), std::min(box.low.y, l.y), std::min(box.low.z, l.z)};
            box.high = {std::max(box.high.x, h.x), std::max(box.high.y, h.y), std::max(box.high.z, h.z)};
            box.largest = std::max(box.largest, mean_radius(s));
        }
        const std::size_t place = boxes_.size();
        box.from = from;
        if (to - from <= 2) {
            box.count = to - from;
            boxes_.push_back(box);
            return;
        }
        boxes_.push_back(box);
        const Vec size = box.high - box.low;
        const int widest = size.x > size.y && size.x > size.z ? 0 : size.y > size.z ? 1 : 2;
        const std::size_t middle = (from + to) / 2;
        std::stable_sort(order_.begin() + static_cast<std::ptrdiff_t>(from), order_.begin() + static_cast<std::ptrdiff_t>(to),
                         [widest](const Solid* a, const Solid* b) { return axis(a->centre, widest) < axis(b->centre, widest); });
        build(from, middle);
        boxes_[place].second = boxes_.size();
        build(middle, to);
    }

    /// Until `done(solid)` says so; true when it did.
    template <class Enter, class Done>
    bool visit(Enter&& enter, Done&& done) const {
        if (boxes_.empty()) return false;
        std::array<std::size_t, 64> stack{};
        std::size_t depth = 1;
        while (depth > 0) {
            const std::size_t place = stack[--depth];
            const Box& box = boxes_[place];
            if (!enter(box)) continue;
            if (box.count == 0) {
                stack[depth++] = box.second;
                stack[depth++] = place + 1;
                continue;
            }
            for (std::size_t i = box.from; i < box.from + box.count; ++i) {
                if (done(*order_[i])) return true;
            }
        }
        return false;
    }

    std::vector<const Solid*> floors_, order_;
    std::vector<Box> boxes_;
};

}  // namespace synthetic
