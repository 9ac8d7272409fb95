// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_solids.h"

#include "support/synthetic_random.h"
#include "support/synthetic_rays.h"

#include <algorithm>

namespace synthetic {
namespace {

constexpr int kSamples = 9;    ///< rays per pixel
constexpr int kFewLights = 2;  ///< up to so many, each light gets two shadow rays per ray, else one

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
Vec ambient(const Scene& scene, const Hit& hit, Vec place) {
    const World& world = scene.world;
    const Vec up = unit(hit.normal + Vec{0, 0.4, 0});
    Vec light = (world.surroundings(hit.normal) + world.surroundings(up) + world.surroundings({0, 1, 0}) * 0.5) * (1 / 2.5);
    Vec returned;
    double open = 1;
    scene.around(place, [&](const Solid& solid) {
        if (!solid.shades || &solid == hit.solid) return;
        const Vec away = solid.centre - place;
        const double r = mean_radius(solid), d2 = std::max(dot(away, away), r * r);
        if (d2 > kNeighbourReach * kNeighbourReach * r * r) return;
        const double facing = std::max(0.0, (dot(hit.normal, away) / std::sqrt(d2) + 0.25) / 1.25);
        const double hidden = std::min(0.9, facing * r * r / d2);
        open *= 1 - hidden;
        returned += solid.surface.colour * (0.5 * hidden);
    });
    return light * open + light * returned;
}

Vec shade(const Scene& scene, const Ray& ray, const Hit& hit, std::uint64_t chance, int sample) {
    const World& world = scene.world;
    Vec glow;
    const Vec albedo = reflectance(hit, world.seed, glow);
    const Vec place = ray.from + ray.along * hit.distance;
    Vec n = hit.normal;
    if (dot(n, ray.along) > 0) n = n * -1;
    Vec out = glow + albedo * ambient(scene, hit, place);
    const Surface& s = hit.solid->surface;
    const int shadow_rays = world.lights.size() <= kFewLights ? 2 : 1;
    for (std::size_t l = 0; l < world.lights.size(); ++l) {
        const Light& light = world.lights[l];
        for (int k = 0; k < shadow_rays; ++k) {
            const int index = sample * shadow_rays + k;
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
            if (scene.blocked({place + n * 1e-3, direction}, reach)) continue;
            const Vec arriving = light.colour * (light.far ? 1.0 : 1 / (distance * distance)) * (1.0 / shadow_rays);
            out += albedo * arriving * facing;
            if (s.gloss > 0) {
                const Vec half = unit(direction - ray.along);
                out += arriving * (s.gloss * std::pow(std::max(0.0, dot(n, half)), s.sharpness) * (s.sharpness + 8) / 25);
            }
        }
    }
    return out;
}

Vec trace(const Scene& scene, const Ray& ray, std::uint64_t chance, int sample, int depth) {
    const World& world = scene.world;
    const Hit hit = scene.nearest(ray);
    if (!hit.solid) return world.surroundings(ray.along);
    Vec out = shade(scene, ray, hit, chance, sample);
    const Surface& s = hit.solid->surface;
    if (s.mirror > 0 && depth < 2) {
        const Vec place = ray.from + ray.along * hit.distance;
        Vec n = hit.normal;
        if (s.pattern == Pattern::speckle) {  // wet ground: ripples
            n = unit(n + Vec{0.05 * smooth_noise(place.x * 6, place.z * 6, world.seed), 0, 0.12 * smooth_noise(place.x * 5, place.z * 3, world.seed + 1)});
        }
        const double facing = std::abs(dot(n, ray.along)), grazing = std::pow(1 - facing, 4);
        const Ray mirrored{place + hit.normal * 1e-3, unit(ray.along - n * (2 * dot(n, ray.along)))};
        out += trace(scene, mirrored, mix(chance), sample, depth + 1) * (s.mirror * (0.25 + 0.75 * grazing));
    }
    return out;
}

}  // namespace

Vec paint(double r, double g, double b) {
    const auto linear = [](double v) { return std::pow(v / 255, 2.2); };
    return {linear(r), linear(g), linear(b)};
}

cv::Mat render(const World& world, int width, int height) {
    const Scene scene(world);
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
                sum += trace(scene, {from, along}, chance, k, 0);
            }
            image.ptr<cv::Vec3f>(row)[col] =
                cv::Vec3f(static_cast<float>(sum.x / kSamples), static_cast<float>(sum.y / kSamples), static_cast<float>(sum.z / kSamples));
        }
    }
    return image;
}

}  // namespace synthetic
