// SPDX-License-Identifier: GPL-3.0-or-later
#include "drawn_sheet.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace basefog::drawn {

namespace {

struct Random {
    std::mt19937_64 engine;
    explicit Random(std::uint64_t seed) : engine(seed * 0x9E3779B97F4A7C15ULL + 12345) {}
    double uniform(double a, double b) { return a + (b - a) * static_cast<double>(engine() >> 11) * 0x1.0p-53; }
    int whole(int a, int b) { return a + static_cast<int>(engine() % static_cast<std::uint64_t>(b - a + 1)); }
    bool chance(double p) { return uniform(0, 1) < p; }
    double normal() {
        const double u = std::max(1e-12, uniform(0, 1)), v = uniform(0, 1);
        return std::sqrt(-2 * std::log(u)) * std::cos(2 * std::numbers::pi * v);
    }
};

double hash01(std::uint64_t seed, std::int64_t i, std::int64_t j) {
    std::uint64_t h = seed ^ (static_cast<std::uint64_t>(i) * 0x9E3779B97F4A7C15ULL) ^ (static_cast<std::uint64_t>(j) * 0xC2B2AE3D27D4EB4FULL);
    h ^= h >> 33;
    h *= 0xFF51AFD7ED558CCDULL;
    h ^= h >> 33;
    h *= 0xC4CEB9FE1A85EC53ULL;
    h ^= h >> 33;
    return static_cast<double>(h >> 11) * 0x1.0p-53;
}

/// Smooth random field, 0..1, with details of about `size` mm.
double field(std::uint64_t seed, double u, double v, double size) {
    const double x = u / size, y = v / size;
    const auto i = static_cast<std::int64_t>(std::floor(x)), j = static_cast<std::int64_t>(std::floor(y));
    const auto ease = [](double t) { return t * t * (3 - 2 * t); };
    const double fx = ease(x - static_cast<double>(i)), fy = ease(y - static_cast<double>(j));
    const double a = hash01(seed, i, j) + fx * (hash01(seed, i + 1, j) - hash01(seed, i, j));
    const double b = hash01(seed, i, j + 1) + fx * (hash01(seed, i + 1, j + 1) - hash01(seed, i, j + 1));
    return a + fy * (b - a);
}

double texture(std::uint64_t seed, double u, double v) {
    return 0.5 * field(seed, u, v, 7) + 0.3 * field(seed + 1, u, v, 2) + 0.2 * field(seed + 2, u, v, 0.5);
}

struct Bar {
    double u0, u1, v0, v1, level;
};
struct Picture {
    FramePlan plan;
    std::vector<Bar> bars;
    std::array<double, 3> tint{};
};

Picture make_picture(const FramePlan& plan, double width, double height) {
    Random random(plan.seed * 77 + 5);
    Picture p{plan, {}, {random.uniform(-0.25, 0.25), random.uniform(-0.1, 0.1), random.uniform(-0.25, 0.25)}};
    if (plan.scene == Scene::shapes) {
        for (int i = random.whole(4, 12); i > 0; --i) {
            const double u = random.uniform(-4, width), v = random.uniform(-4, height);
            p.bars.push_back({u, u + random.uniform(0.6, 14), v, v + random.uniform(0.6, 14), random.uniform(-1.6, 1.3)});
        }
        const double near = random.uniform(0.4, 2.0);  // a bar along an edge of the picture
        if (random.chance(0.5)) p.bars.push_back({-1, near, -1, height * random.uniform(0.3, 1.1), -2.5});
    }
    if (plan.scene == Scene::night) {
        for (int i = random.whole(3, 14); i > 0; --i) {
            const double u = random.uniform(0, width), v = random.uniform(0, height), s = random.uniform(0.3, 4);
            p.bars.push_back({u, u + s, v, v + s * random.uniform(0.4, 2), random.uniform(0, 1.8)});
        }
    }
    return p;
}

/// log10 exposure against mid-grey at a place in the picture, mm from its corner.
double exposure(const Picture& p, double u, double v, double width, double height) {
    const std::uint64_t seed = p.plan.seed * 131 + 7;
    double h = 0;
    switch (p.plan.scene) {
        case Scene::textured:
            h = 2.4 * (texture(seed, u, v) - 0.5);
            break;
        case Scene::sky:
            h = v < 0.45 * height + 3 * field(seed, u, 0, 5) ? 0.7 - 0.01 * v + 0.05 * texture(seed, u, v) : 1.8 * (texture(seed, u, v) - 0.6);
            break;
        case Scene::night:
            h = -2.3 + 0.5 * texture(seed, u, v);
            break;
        case Scene::shapes:
            h = 0.8 * (texture(seed, u, v) - 0.5);
            break;
        case Scene::chart: {
            const double x = u / width * 6.6 - 0.3, y = v / height * 4.4 - 0.2, fx = x - std::floor(x), fy = y - std::floor(y);
            const bool patch = x > 0 && x < 6 && y > 0 && y < 4 && fx > 0.1 && fx < 0.9 && fy > 0.1 && fy < 0.9;
            h = patch ? 1.6 * hash01(seed, static_cast<std::int64_t>(x), static_cast<std::int64_t>(y)) - 0.8 : -0.55;
            break;
        }
        case Scene::high_key:
            h = 1.4 + 0.5 * texture(seed, u, v);
            break;
        case Scene::black_side: {
            const double reach = 4 + 9 * field(seed + 9, u * 0.2, v * 0.2, 1.5), side[4] = {u, width - u, v, height - v};
            h = side[p.plan.seed % 4] < reach ? -2.6 : 2.2 * (texture(seed, u, v) - 0.45);
            break;
        }
    }
    for (const Bar& b : p.bars) {
        if (u > b.u0 && u < b.u1 && v > b.v0 && v < b.v1) h = b.level + 0.1 * texture(seed + 3, u, v);
    }
    return h;
}

/// Density above base: a straight line with a soft toe and a far shoulder.
double above_base(double log_h, double gamma) { return std::min(2.6, gamma * std::log10(1 + std::pow(10, log_h + 1.1))); }

double blurred(double x, double x0, double x1, double sigma) {
    const double k = 1 / (sigma * std::numbers::sqrt2);
    return 0.5 * (std::erf((x - x0) * k) - std::erf((x - x1) * k));
}

struct Smear {
    double u, v, ru, rv, density;
};
struct DrawnStrip {
    StripPlan plan;
    std::vector<Picture> pictures;
    std::vector<double> starts;
    std::vector<Smear> smears;
    double length = 0, top = 0;
    double cos = 1, sin = 0;
    /// Film millimetres (u along from the start, v across from the upper edge) of a place on the sheet.
    [[nodiscard]] PointPx film_from_sheet(double x, double y) const {
        const double dx = x - plan.centre_x, dy = y - plan.centre_y, a = dx * cos + dy * sin, b = -dx * sin + dy * cos;
        // The foot of the perpendicular on the bowed axis, by repeated correction: its slope is small.
        double foot = a;
        for (int pass = 0; pass < 4 && plan.bow != 0; ++pass) foot = a + bend_slope(foot) * (b - bend(foot));
        const double along = a - foot, across = b - bend(foot), slope = bend_slope(foot);
        return {foot + length / 2, (across - slope * along) / std::hypot(1.0, slope) + plan.film_width / 2};
    }
    [[nodiscard]] PointPx sheet_from_film(double u, double v) const {
        const double foot = u - length / 2, slope = bend_slope(foot), out = (v - plan.film_width / 2) / std::hypot(1.0, slope);
        const double a = foot - slope * out, b = bend(foot) + out;
        return {plan.centre_x + a * cos - b * sin, plan.centre_y + a * sin + b * cos};
    }
    [[nodiscard]] double bend(double a) const { return plan.bow * (1 - 4 * a * a / (length * length)); }
    [[nodiscard]] double bend_slope(double a) const { return -8 * plan.bow * a / (length * length); }
};

DrawnStrip lay_out(const StripPlan& plan) {
    DrawnStrip s;
    s.plan = plan;
    double u = 0;
    for (const FramePlan& f : plan.frames) {
        u += f.gap_before;
        s.starts.push_back(u);
        s.pictures.push_back(make_picture(f, plan.frame_width, plan.frame_height));
        u += plan.frame_width;
    }
    s.length = u + plan.tail;
    s.top = (plan.film_width - plan.frame_height) / 2 + plan.frame_shift;
    const double a = (plan.angle_deg + (plan.vertical ? 90 : 0)) * std::numbers::pi / 180;
    s.cos = std::cos(a);
    s.sin = std::sin(a);
    Random random(plan.seed * 31 + 3);
    for (int i = 0; i < plan.smears; ++i) {
        const bool at_edge = random.chance(0.6);
        s.smears.push_back({random.uniform(0, s.length), at_edge ? (random.chance(0.5) ? 5 : 30) + random.uniform(-1.5, 1.5) : random.uniform(3, 32),
                            random.uniform(0.5, 6), random.uniform(0.3, 2), random.uniform(0.03, 0.6)});
    }
    for (int i = 0; i < plan.specks; ++i) {
        const double r = random.uniform(0.03, 0.12), hair = random.chance(0.2) ? random.uniform(0.5, 4) : r;
        s.smears.push_back({random.uniform(0, s.length), random.uniform(0, 35), hair, r, random.uniform(0.3, 1.5)});
    }
    return s;
}

double dirt(const DrawnStrip& s, double u, double v) {
    double d = 0;
    for (const Smear& m : s.smears) {
        const double a = (u - m.u) / m.ru, b = (v - m.v) / m.rv, r = a * a + b * b;
        if (r < 4) d += m.density * std::exp(-2 * r);
    }
    return d;
}

/// Share of the spot that a perforation covers.
double holes(const DrawnStrip& s, double u, double v, double sigma) {
    const StripPlan& p = s.plan;
    if (!p.perforated) return 0;
    const double upper = p.hole_margin, lower = p.film_width - p.hole_margin - p.hole_across;
    const double across = blurred(v, upper, upper + p.hole_across, sigma) + blurred(v, lower, lower + p.hole_across, sigma);
    if (across < 1e-6) return 0;
    const double k = std::round((u - p.hole_phase) / p.perforation_pitch), centre = p.hole_phase + k * p.perforation_pitch;
    return across * blurred(u, centre - p.hole_along / 2, centre + p.hole_along / 2, sigma);
}

/// Transmittance of the film at a place, per channel.
std::array<double, 3> film(const DrawnStrip& s, double u, double v, double sigma) {
    const StripPlan& p = s.plan;
    const double dirty = dirt(s, u, v);
    std::array<double, 3> t{};
    for (int c = 0; c < 3; ++c) t[c] = std::pow(10, -p.base[c] - dirty);
    for (std::size_t i = 0; i < s.starts.size(); ++i) {
        if (s.pictures[i].plan.kind == FrameKind::blank) continue;
        const double cover = blurred(u, s.starts[i], s.starts[i] + p.frame_width, sigma) * blurred(v, s.top, s.top + p.frame_height, sigma);
        if (cover < 1e-6) continue;
        // Just outside, the spot still sees the picture's rim.
        const double pu = std::clamp(u - s.starts[i], 0.0, p.frame_width), pv = std::clamp(v - s.top, 0.0, p.frame_height);
        const bool fogged = s.pictures[i].plan.kind == FrameKind::fogged;
        const double h = (fogged ? 2.2 : exposure(s.pictures[i], pu, pv, p.frame_width, p.frame_height)) + 0.30103 * s.pictures[i].plan.stops;
        for (int c = 0; c < 3; ++c) {
            const double gamma = p.silver ? 0.6 : 0.58 + 0.04 * c, tint = p.silver || fogged ? 0 : s.pictures[i].tint[c];
            // Where frames overlap, both darken the film.
            t[c] *= 1 + cover * (std::pow(10, -above_base(h + tint, gamma)) - 1);
        }
    }
    const double hole = holes(s, u, v, sigma);
    for (double& x : t) x += hole * (1 - x);
    return t;
}

}  // namespace

StripPlan strip_of(int n, std::uint64_t seed) {
    StripPlan plan;
    plan.seed = seed;
    for (int i = 0; i < n; ++i) {
        FramePlan f;
        f.seed = seed * 100 + static_cast<std::uint64_t>(i);
        plan.frames.push_back(f);
    }
    return plan;
}

DrawnSheet draw(const SheetPlan& plan) {
    DrawnSheet out;
    std::vector<DrawnStrip> strips;
    for (const StripPlan& s : plan.strips) strips.push_back(lay_out(s));
    const double r = plan.px_per_mm;
    const auto w = static_cast<std::int64_t>(plan.width_mm * r), h = static_cast<std::int64_t>(plan.height_mm * r);
    Overview& o = out.overview;
    o.pixels = Image<LinearRgbi>(w, h);
    o.factor = plan.factor;
    o.scan_width = w * plan.factor;
    o.scan_height = h * plan.factor;
    if (plan.resolution_stated) o.scan_resolution = PixelsPerMm(r * plan.factor * plan.stated_error);
    const double sigma = std::sqrt(plan.blur_px * plan.blur_px + 1.0 / 12) / r;  // the pixel's own square spreads as well
    Random random(plan.seed);
    for (std::int64_t y = 0; y < h; ++y) {
        for (std::int64_t x = 0; x < w; ++x) {
            const double mx = (static_cast<double>(x) + 0.5) / r, my = (static_cast<double>(y) + 0.5) / r;
            std::array<double, 3> t{1, 1, 1};
            double open = plan.holder ? 0 : 1, grain = 0;
            for (const DrawnStrip& s : strips) {
                const PointPx q = s.film_from_sheet(mx, my);
                if (q.x < -4 || q.x > s.length + 4 || q.y < -2 || q.y > s.plan.film_width + 2) continue;
                const double cover = blurred(q.x, 0, s.length, sigma) * blurred(q.y, 0, s.plan.film_width, sigma);
                if (plan.holder) {
                    const double a = s.plan.vertical ? my - s.plan.centre_y : mx - s.plan.centre_x,
                                 b = s.plan.vertical ? mx - s.plan.centre_x : my - s.plan.centre_y;
                    const double half = s.length / 2 + plan.opening_extra;
                    open = std::max(open, blurred(a, -half, half, sigma) * blurred(b, -plan.opening_height / 2, plan.opening_height / 2, sigma));
                }
                if (cover < 1e-6) continue;
                const std::array<double, 3> f = film(s, q.x, q.y, sigma);
                for (int c = 0; c < 3; ++c) t[c] += cover * (f[c] - 1);
                grain = cover * s.plan.grain;
            }
            const double rx = 2 * mx / plan.width_mm - 1, ry = 2 * my / plan.height_mm - 1;
            const double lamp = plan.bare_level * (1 - plan.falloff * 0.5 * (rx * rx + ry * ry));
            const double tint[3] = {1.0, 1.01, 0.985};
            float* channel[3] = {&o.pixels(x, y).r, &o.pixels(x, y).g, &o.pixels(x, y).b};
            for (int c = 0; c < 3; ++c) {
                const double shown = open * t[c] * std::pow(10, -grain * random.normal()) + (1 - open) * std::pow(10, -plan.holder_density);
                double light = lamp * tint[c] * shown + plan.flare * plan.bare_level;
                light += plan.noise * (std::sqrt(std::max(0.0, light)) + 0.05) * random.normal();
                *channel[c] = static_cast<float>(std::clamp(light, 0.0, 1.0));
            }
        }
    }
    for (std::size_t i = 0; i < strips.size(); ++i) {
        const DrawnStrip& s = strips[i];
        for (std::size_t k = 0; k < s.starts.size(); ++k) {
            TrueFrame f{static_cast<int>(i), s.pictures[k].plan.kind, s.pictures[k].plan.scene, s.pictures[k].plan.stops, {}};
            const double u0 = s.starts[k], u1 = u0 + s.plan.frame_width, v0 = s.top, v1 = v0 + s.plan.frame_height;
            f.corners = {s.sheet_from_film(u0, v0), s.sheet_from_film(u1, v0), s.sheet_from_film(u1, v1), s.sheet_from_film(u0, v1)};
            for (PointPx& p : f.corners) p = p * (r * plan.factor);
            out.frames.push_back(f);
        }
    }
    return out;
}

SheetPlan random_sheet(std::uint64_t seed, double px_per_mm) {
    Random random(seed * 1009 + 17);
    SheetPlan plan;
    plan.seed = seed;
    plan.px_per_mm = px_per_mm;
    plan.factor = random.whole(1, 4);
    plan.holder = random.chance(0.5);
    plan.opening_height = random.uniform(25.0, 31.0);
    plan.opening_extra = random.chance(0.7) ? random.uniform(0.8, 4) : -random.uniform(0, 0.8);
    plan.falloff = random.uniform(0, 0.08);
    plan.flare = random.chance(0.3) ? random.uniform(0.003, 0.012) : random.uniform(0, 0.003);
    plan.blur_px = random.uniform(0.4, 1.3);
    plan.noise = random.uniform(0.001, 0.006);
    plan.bare_level = random.uniform(0.6, 0.97);
    const bool vertical = random.chance(0.3);
    const int n = random.whole(1, 4), most = random.whole(1, 6);
    const double lane = plan.holder ? random.uniform(40, 48) : random.uniform(38, 44);
    const double length = most * 38 + 20;
    for (int i = 0; i < n; ++i) {
        const int frames = random.chance(0.6) ? most : random.whole(1, most);
        StripPlan s = strip_of(frames, seed * 10 + static_cast<std::uint64_t>(i));
        s.vertical = vertical;
        s.angle_deg = plan.holder ? random.uniform(-0.4, 0.4) * 220 / std::max(220.0, length)
                                  : random.uniform(-2.5, 2.5) * (random.chance(0.5) ? 0.3 : 1) * std::min(1.0, 60 / length);
        s.silver = random.chance(0.2);
        const double fog = random.chance(0.3) ? random.uniform(0.05, 0.4) : 0;
        s.base = s.silver ? std::array<double, 3>{0.08, 0.08, 0.08} : std::array<double, 3>{0.10, 0.32, 0.65};
        if (s.silver) {
            const double support = random.uniform(0, 0.25);
            for (double& b : s.base) b += support;
        }
        for (int c = 0; c < 3; ++c) s.base[c] += fog * (s.silver ? 0.5 : 0.6 + 0.3 * c) + random.uniform(0, s.silver ? 0.0 : 0.05);
        s.grain = random.uniform(0.002, 0.012) + 0.02 * fog;
        s.perforation_pitch = random.chance(0.5) ? 4.750 : 4.740;
        s.hole_along = s.perforation_pitch < 4.745 ? 1.854 : 1.981;
        s.hole_phase = random.uniform(0, 4.75);
        s.frame_width = 36 + random.uniform(-0.15, 0.25);
        s.frame_height = 24 + random.uniform(-0.1, 0.2);
        s.frame_shift = random.uniform(-0.25, 0.25);
        s.tail = random.uniform(0.8, 4);
        s.smears = random.chance(0.4) ? random.whole(1, 25) : 0;
        s.specks = random.whole(0, 40);
        const double gap = 8 * s.perforation_pitch - s.frame_width, jitter = random.uniform(0.02, 0.35);
        for (FramePlan& f : s.frames) {
            f.gap_before = std::max(0.6, gap + jitter * random.normal());
            f.scene = static_cast<Scene>(random.whole(0, 6));
            f.stops = random.chance(0.25) ? random.uniform(-3, -1) : random.uniform(-1, 2.5);
            if (f.scene == Scene::night) f.stops = random.uniform(-0.5, 1.5);
            if (random.chance(0.05)) f.kind = FrameKind::blank;
            if (random.chance(0.04)) f.kind = FrameKind::fogged;
        }
        s.frames.front().gap_before = random.uniform(0.8, 3);
        const double across = 24 + i * lane, along = length / 2 + random.uniform(-3, 3);
        s.centre_x = vertical ? across : along;
        s.centre_y = vertical ? along : across;
        plan.strips.push_back(s);
    }
    plan.width_mm = vertical ? 48 + (n - 1) * lane : length;
    plan.height_mm = vertical ? length : 48 + (n - 1) * lane;
    return plan;
}

}  // namespace basefog::drawn
