// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_solids.h"

#include "support/synthetic_random.h"

#include <algorithm>
#include <limits>

namespace synthetic {
namespace {

constexpr int kSamples = 9;     ///< rays per pixel
constexpr int kShadowRays = 2;  ///< per light and ray
constexpr double kNear = 1e-4;

struct Ray {
    Vec from, along;
};
struct Hit {
    double distance = std::numeric_limits<double>::infinity();
    Vec normal, local;
    const Solid* solid = nullptr;
};

Vec turn(Vec v, double c, double s) { return {c * v.x + s * v.z, v.y, -s * v.x + c * v.z}; }

/// Distance along the ray into a ball, box or drum of unit size about the origin; also the surface's normal there.
bool hit_unit_ball(const Ray& r, double& t, Vec& n) {
    const double a = dot(r.along, r.along), b = dot(r.from, r.along), c = dot(r.from, r.from) - 1;
    const double d = b * b - a * c;
    if (d < 0) return false;
    t = (-b - std::sqrt(d)) / a;
    if (t < kNear) t = (-b + std::sqrt(d)) / a;
    n = r.from + r.along * t;
    return t > kNear;
}

bool hit_unit_box(const Ray& r, double& t, Vec& n) {
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

bool hit_unit_drum(const Ray& r, double& t, Vec& n) {
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

void intersect(const Solid& solid, const Ray& ray, Hit& hit) {
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

Hit nearest(const World& world, const Ray& ray) {
    Hit hit;
    for (const Solid& solid : world.solids) intersect(solid, ray, hit);
    return hit;
}

bool blocked(const World& world, const Ray& ray, double distance) {
    for (const Solid& solid : world.solids) {
        if (!solid.shades) continue;
        Hit hit;
        hit.distance = distance;
        intersect(solid, ray, hit);
        if (hit.solid) return true;
    }
    return false;
}

/// Two coordinates to lay a pattern by: along the surface, whichever way it faces.
void lay(const Hit& hit, double& u, double& v) {
    const Vec& n = hit.normal;
    const Vec& p = hit.local;
    if (hit.solid->shape == Shape::ball || hit.solid->shape == Shape::drum) {
        u = std::atan2(p.z, p.x) * std::max(hit.solid->half.x, hit.solid->half.z);
        v = p.y;
    } else if (std::abs(n.y) > 0.7) {
        u = p.x;
        v = p.z;
    } else {
        u = std::abs(n.x) > std::abs(n.z) ? p.z : p.x;
        v = p.y;
    }
}

/// Reflectance at a place, and the light a patterned surface gives off (lit windows).
Vec reflectance(const Hit& hit, std::uint64_t seed, Vec& glow) {
    const Surface& s = hit.solid->surface;
    double u = 0, v = 0;
    lay(hit, u, v);
    u /= s.size;
    v /= s.size;
    const std::uint64_t own =
        mix(seed, static_cast<std::uint64_t>(std::llround(hit.solid->centre.x * 1009 + hit.solid->centre.z * 9176 + hit.solid->centre.y * 331) + 100000));
    glow = s.glow;
    switch (s.pattern) {
        case Pattern::plain:
            return s.colour * (1 + 0.03 * rough_noise(u * 3, v * 3, own, 3));
        case Pattern::wood: {
            const double ring = rough_noise(u * 0.25 + 0.08 * rough_noise(u, v * 3, own, 3), v * 4, own, 4);
            return blend(s.colour, s.second, std::clamp(0.5 + 0.7 * ring, 0.0, 1.0));
        }
        case Pattern::brick: {
            const double row = std::floor(v), x = u / 2.4 + 0.5 * (static_cast<long>(row) & 1);
            const double du = (x - std::floor(x)) * 2.4, dv = v - row;
            if (du < 0.14 || dv < 0.14) return s.second * (1 + 0.15 * rough_noise(u * 6, v * 6, own, 3));
            const double tint = unit_from(mix(own, static_cast<std::uint64_t>(row + 1000), static_cast<std::uint64_t>(std::floor(x) + 1000)));
            return s.colour * (0.75 + 0.5 * tint) * (1 + 0.2 * rough_noise(u * 5, v * 5, own, 3));
        }
        case Pattern::weave:
            return s.colour * (1 + 0.12 * std::sin(u * 6.283) * std::sin(v * 6.283) + 0.10 * rough_noise(u * 0.2, v * 0.2, own, 3));
        case Pattern::speckle:
            return blend(s.colour, s.second, std::clamp(0.5 + 1.2 * rough_noise(u, v, own, 4), 0.0, 1.0));
        case Pattern::checks:
            return ((static_cast<long>(std::floor(u)) + static_cast<long>(std::floor(v))) & 1) ? s.second : s.colour;
        case Pattern::stripes:
            return (static_cast<long>(std::floor(u)) & 1) ? s.second : s.colour;
        case Pattern::windows: {
            const double cu = std::floor(u), cv_ = std::floor(v), du = u - cu, dv = v - cv_;
            const bool pane = du > 0.25 && du < 0.75 && dv > 0.2 && dv < 0.8;
            const std::uint64_t room = mix(own, static_cast<std::uint64_t>(cu + 1000), static_cast<std::uint64_t>(cv_ + 1000));
            if (!pane) return s.colour * (1 + 0.12 * rough_noise(u * 2, v * 2, own, 4));
            if (unit_from(room) < 0.38) glow = s.second * (0.3 + 1.4 * unit_from(mix(room))) * (0.6 + 0.6 * dv);
            return {0.03, 0.035, 0.04};
        }
        case Pattern::peel:
            return s.colour * (1 + 0.10 * rough_noise(u * 8, v * 8, own, 3) + 0.12 * smooth_noise(u, v, own + 5));
        case Pattern::leaves: {
            const double leaf = rough_noise(u * 2, v * 2, own, 4);
            return blend(s.second, s.colour, std::clamp(0.5 + 1.5 * leaf, 0.0, 1.0));
        }
    }
    return s.colour;
}

/// Light from all around, dimmed and coloured by solids near by: each seen as a ball of the solid angle it fills.
Vec ambient(const World& world, const Hit& hit, Vec place) {
    const Vec up = unit(hit.normal + Vec{0, 0.4, 0});
    Vec light = (world.surroundings(hit.normal) + world.surroundings(up) + world.surroundings({0, 1, 0}) * 0.5) * (1 / 2.5);
    Vec returned;
    double open = 1;
    for (const Solid& solid : world.solids) {
        if (!solid.shades || &solid == hit.solid) continue;
        const Vec away = solid.centre - place;
        const double r = std::cbrt(solid.half.x * solid.half.y * solid.half.z), d2 = std::max(dot(away, away), r * r);
        if (d2 > 64 * r * r) continue;
        const double facing = std::max(0.0, (dot(hit.normal, away) / std::sqrt(d2) + 0.25) / 1.25);
        const double hidden = std::min(0.9, facing * r * r / d2);
        open *= 1 - hidden;
        returned += solid.surface.colour * (0.5 * hidden);
    }
    return light * open + light * returned;
}

Vec shade(const World& world, const Ray& ray, const Hit& hit, std::uint64_t chance, int sample) {
    Vec glow;
    const Vec albedo = reflectance(hit, world.seed, glow);
    const Vec place = ray.from + ray.along * hit.distance;
    Vec n = hit.normal;
    if (dot(n, ray.along) > 0) n = n * -1;
    Vec out = glow + albedo * ambient(world, hit, place);
    const Surface& s = hit.solid->surface;
    for (std::size_t l = 0; l < world.lights.size(); ++l) {
        const Light& light = world.lights[l];
        for (int k = 0; k < kShadowRays; ++k) {
            const int index = sample * kShadowRays + k;
            const double turn_u = unit_from(mix(chance, l)), turn_v = unit_from(mix(chance, l + 77));
            const double a = 2 * CV_PI * std::fmod(turn_u + 0.7548776662466927 * index, 1.0), z = 2 * std::fmod(turn_v + 0.5698402909980532 * index, 1.0) - 1;
            const double ring = std::sqrt(1 - z * z);
            const Vec target = light.place + Vec{ring * std::cos(a), z, ring * std::sin(a)} * light.radius;
            const Vec to = light.far ? target : target - place;
            const double distance = length(to);
            const Vec direction = to * (1 / distance);
            const double facing = dot(n, direction);
            if (facing <= 0) continue;
            const double reach = light.far ? 1e6 : distance - light.radius;
            if (blocked(world, {place + n * 1e-3, direction}, reach)) continue;
            const Vec arriving = light.colour * (light.far ? 1.0 : 1 / (distance * distance)) * (1.0 / kShadowRays);
            out += albedo * arriving * facing;
            if (s.gloss > 0) {
                const Vec half = unit(direction - ray.along);
                out += arriving * (s.gloss * std::pow(std::max(0.0, dot(n, half)), s.sharpness) * (s.sharpness + 8) / 25);
            }
        }
    }
    return out;
}

Vec trace(const World& world, const Ray& ray, std::uint64_t chance, int sample, int depth) {
    const Hit hit = nearest(world, ray);
    if (!hit.solid) return world.surroundings(ray.along);
    Vec out = shade(world, ray, hit, chance, sample);
    const Surface& s = hit.solid->surface;
    if (s.mirror > 0 && depth < 2) {
        const Vec place = ray.from + ray.along * hit.distance;
        Vec n = hit.normal;
        if (s.pattern == Pattern::speckle) {  // wet ground: ripples
            n = unit(n + Vec{0.05 * smooth_noise(place.x * 6, place.z * 6, world.seed), 0, 0.12 * smooth_noise(place.x * 5, place.z * 3, world.seed + 1)});
        }
        const double facing = std::abs(dot(n, ray.along)), grazing = std::pow(1 - facing, 4);
        const Ray mirrored{place + hit.normal * 1e-3, unit(ray.along - n * (2 * dot(n, ray.along)))};
        out += trace(world, mirrored, mix(chance), sample, depth + 1) * (s.mirror * (0.25 + 0.75 * grazing));
    }
    return out;
}

}  // namespace

Vec paint(double r, double g, double b) {
    const auto linear = [](double v) { return std::pow(v / 255, 2.2); };
    return {linear(r), linear(g), linear(b)};
}

cv::Mat render(const World& world, int width, int height) {
    cv::Mat image(height, width, CV_32FC3);
    const Vec ahead = unit(world.target - world.eye), right = unit(cross(ahead, {0, 1, 0})), up = cross(right, ahead);
    const double half = std::tan(world.view_deg * CV_PI / 360), focus = world.focus > 0 ? world.focus : length(world.target - world.eye);
    for (int row = 0; row < height; ++row) {
        for (int col = 0; col < width; ++col) {
            const std::uint64_t chance = mix(world.seed, static_cast<std::uint64_t>(row), static_cast<std::uint64_t>(col));
            Vec sum;
            for (int k = 0; k < kSamples; ++k) {
                const double x = (col + (k % 3 + 0.5) / 3) / width * 2 - 1, y = ((row + (k / 3 + 0.5) / 3) / height * 2 - 1) * height / width;
                Vec along = unit(ahead + right * (x * half) - up * (y * half));
                Vec from = world.eye;
                if (world.aperture > 0) {
                    const double a = 2 * CV_PI * std::fmod(unit_from(chance) + 0.618034 * k, 1.0), r = world.aperture * std::sqrt((k + 0.5) / kSamples);
                    from += right * (r * std::cos(a)) + up * (r * std::sin(a));
                    along = unit(world.eye + along * (focus / dot(along, ahead)) - from);
                }
                sum += trace(world, {from, along}, chance, k, 0);
            }
            image.ptr<cv::Vec3f>(row)[col] =
                cv::Vec3f(static_cast<float>(sum.x / kSamples), static_cast<float>(sum.y / kSamples), static_cast<float>(sum.z / kSamples));
        }
    }
    return image;
}

}  // namespace synthetic
