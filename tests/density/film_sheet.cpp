// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/film_sheet.h"

#include <algorithm>
#include <cmath>

namespace film_sheet {

using namespace basefog;

namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kMarginMm = 9, kEndMm = 3, kStripPitchMm = 37;

/// One strip's place and everything on it, in millimetres from its film's top-left corner.
struct Place {
    double x0 = 0, y0 = 0, length = 0;
};

enum class Kind { holder, bare, film };

struct Pixel {
    Kind kind = Kind::holder;
    double cover = 0;  // of a sliver, by the holder
    int strip = -1;
    double x = 0, y = 0;  // mm on the film
    double to_edge = 0;   // mm to the nearest change of kind or frame edge
    int frame = -1;
};

class Painter {
public:
    explicit Painter(const Sheet& sheet) : sheet_(sheet), dice_(sheet.seed) {
        const double length = film_length_mm(sheet.frames);
        for (std::size_t i = 0; i < sheet.strips.size(); ++i)
            places_.push_back({kMarginMm + kEndMm, kMarginMm + kStripPitchMm * static_cast<double>(i), length});
        width_mm_ = 2 * (kMarginMm + kEndMm) + length;
        height_mm_ = kMarginMm + kStripPitchMm * static_cast<double>(std::max<std::size_t>(1, sheet.strips.size()));
        for (std::size_t i = 0; i < sheet.strips.size(); ++i) {
            phase_.push_back({dice_.uniform(0, 6.28), dice_.uniform(0, 6.28)});
            draw_scene_plan();
            scatter_dust(i);
        }
    }

    Drawn paint();

private:
    struct Patch {
        double x, y, w, h;
        std::array<double, 3> log_exposure;
    };

    void draw_scene_plan() {
        std::vector<Patch> plan;
        for (int k = 0; k < 40 * sheet_.frames; ++k) {
            const double level = dice_.uniform(-0.2, 1.7);
            plan.push_back({dice_.uniform(0, 38.0 * sheet_.frames),
                            dice_.uniform(-2, 26),
                            dice_.uniform(1, 12),
                            dice_.uniform(1, 9),
                            {level + dice_.uniform(-0.35, 0.35), level + dice_.uniform(-0.25, 0.25), level + dice_.uniform(-0.4, 0.4)}});
        }
        scenes_.push_back(std::move(plan));
    }

    void scatter_dust(std::size_t strip) {
        std::vector<std::array<double, 3>> specks;
        for (int k = 0; k < sheet_.strips[strip].dust; ++k) {
            specks.push_back({dice_.uniform(3, places_[strip].length - 3), dice_.uniform(2, kFilmHeightMm - 2), dice_.uniform(0.10, 0.17)});
        }
        dust_.push_back(std::move(specks));
    }

    [[nodiscard]] Pixel locate(double x, double y) const;
    [[nodiscard]] std::array<double, 3> exposure(const Pixel& p) const;
    [[nodiscard]] double carbon(const Pixel& p) const;
    [[nodiscard]] bool on_dust(const Pixel& p) const;
    [[nodiscard]] std::array<double, 4> film_density(const Pixel& p, double grain_scale);
    [[nodiscard]] double light(int c, double x, double y) const {
        const double u = 2 * x / width_mm_ - 1, v = 2 * y / height_mm_ - 1;
        return sheet_.light[static_cast<std::size_t>(c)] * (1 - sheet_.falloff * (1 - std::cos(std::hypot(u, 0.7 * v) * kPi / 3)) * 2 + sheet_.tilt * u * 0.5);
    }
    void label(const Pixel& p, std::int64_t x, std::int64_t y, Drawn& out) const;
    void lay_out(Drawn& out) const;

    const Sheet& sheet_;
    Dice dice_;
    std::vector<Place> places_;
    std::vector<std::vector<Patch>> scenes_;
    std::vector<std::vector<std::array<double, 3>>> dust_;
    std::vector<std::array<double, 2>> phase_;
    double width_mm_ = 0, height_mm_ = 0;
};

Pixel Painter::locate(double x, double y) const {
    Pixel p;
    p.to_edge = 10;
    p.kind = sheet_.holder ? Kind::holder : Kind::bare;
    for (std::size_t i = 0; i < places_.size(); ++i) {
        const Place& place = places_[i];
        const double fx = x - place.x0, fy = y - place.y0;
        const double from_opening = std::min({fx + kEndMm, place.length + kEndMm - fx, fy, kFilmHeightMm - fy});
        const double from_film = std::min({fx, place.length - fx, fy, kFilmHeightMm - fy});
        p.to_edge = std::min(p.to_edge, std::min(std::abs(from_opening), std::abs(from_film)));
        if (from_film >= 0) {
            p.kind = Kind::film;
            p.strip = static_cast<int>(i);
            p.x = fx;
            p.y = fy;
            const int frame = static_cast<int>(std::floor((fx - 1) / 38.0));
            const double in_x = fx - 2 - 38.0 * frame, from_frame = std::min({in_x, 36 - in_x, fy - 1.2, kFilmHeightMm - 1.2 - fy});
            if (frame >= 0 && frame < sheet_.frames && from_frame >= 0) p.frame = frame;
            p.to_edge = std::min(p.to_edge, std::abs(from_frame));
            // Lower ends of perforations, each under the holder to another depth.
            const double along = std::fmod(fx + 1.3, 4.75);
            if (sheet_.slivers && along < 2.79 && fy < 0.5) {
                p.kind = Kind::bare;
                p.strip = -1;
                p.cover = fy < 0.2 ? 0.4 : 0;
                p.to_edge = std::min({along, 2.79 - along, 0.5 - fy}) + 0.12;
            } else if (sheet_.slivers && fy < 0.9) {
                p.to_edge = 0;
            }
        } else if (from_opening >= 0 && p.kind != Kind::film) {
            p.kind = sheet_.bare_ends ? Kind::bare : Kind::holder;
        }
    }
    return p;
}

std::array<double, 3> Painter::exposure(const Pixel& p) const {
    const auto strip = static_cast<std::size_t>(p.strip);
    const double sky = 0.9 - 0.5 * p.y / kFilmHeightMm + 0.1 * std::sin(p.x * 0.31);
    std::array<double, 3> e{sky - 0.1, sky, sky + 0.15};
    for (const Patch& patch : scenes_[strip]) {
        if (p.x > patch.x && p.x < patch.x + patch.w && p.y > patch.y && p.y < patch.y + patch.h) e = patch.log_exposure;
    }
    const double texture = 0.08 * std::sin(p.x * 7.1 + std::sin(p.y * 3)) * std::cos(p.y * 5.3);
    for (double& v : e) v += texture;
    if (sheet_.strips[strip].greys_only || sheet_.strips[strip].film.silver) e = {e[1], e[1], e[1]};
    return e;
}

double Painter::carbon(const Pixel& p) const {
    const Strip& strip = sheet_.strips[static_cast<std::size_t>(p.strip)];
    double most = 0;
    for (const Blob& b : strip.carbon) {
        const double r = std::hypot((p.x - b.x_mm) / b.stretch, p.y - b.y_mm) / b.radius_mm;
        const double soft = 1 / (1 + std::exp((r - 1) * 20));
        const double mottle = 0.85 + 0.15 * std::sin(p.x * 9 + 2 * std::sin(p.y * 6));
        most = std::max(most, b.density * soft * mottle);
    }
    return strip.veil + most;
}

bool Painter::on_dust(const Pixel& p) const {
    for (const auto& d : dust_[static_cast<std::size_t>(p.strip)]) {
        if (std::hypot(p.x - d[0], p.y - d[1]) < d[2]) return true;
    }
    return false;
}

std::array<double, 4> Painter::film_density(const Pixel& p, double grain_scale) {
    const auto index = static_cast<std::size_t>(p.strip);
    const Strip& strip = sheet_.strips[index];
    const Film& film = strip.film;
    std::array<double, 3> dye{};
    std::array<double, 3> e{-3, -3, -3};
    if (p.frame >= 0) e = exposure(p);
    if (strip.edge_marks && p.frame < 0 && p.y < 1.1 && std::fmod(p.x, 19.0) < 2.0 && std::fmod(p.x, 0.7) < 0.25 && p.y > 0.3) e = {0.3, 0.5, 0.5};
    if (p.x < strip.fogged_end_mm) {
        for (double& v : e) v = std::max(v, 1.2 * (1 - p.x / strip.fogged_end_mm) - 0.1);
    }
    // Light that came in at the felt falls off from the film's edge; it is warm, so the red-sensitive layer gets most of it.
    for (const double at : strip.leaks_mm) {
        constexpr double kWidthMm = 6, kDepthMm = 3, kPeak = 0.8;
        const double fallen = (p.x - at) * (p.x - at) / (2 * kWidthMm * kWidthMm) + p.y / kDepthMm;  // exponents of light
        for (std::size_t l = 0; l < 3; ++l) e[l] = std::max(e[l], kPeak - fallen * std::log10(std::exp(1.0)) - 0.25 * static_cast<double>(l));
    }
    for (std::size_t l = 0; l < 3; ++l) {
        const double line = film.gamma[l] * e[l];
        dye[l] = 0.12 * std::log1p(std::exp(line / 0.12));
        dye[l] += film.grain * grain_scale * std::sqrt(0.05 + dye[l]) * dice_.normal();
    }
    const double wander = strip.evenness * std::sin(p.x * 0.045 + phase_[index][0]) * std::sqrt(2.0);
    std::array<double, 4> d{};
    for (std::size_t c = 0; c < 3; ++c) {
        d[c] = film.base[c] + wander;
        for (std::size_t l = 0; l < 3; ++l) d[c] += film.silver ? dye[1] * (l == 0) : film.dyes[c][l] * dye[l];
    }
    d[3] = film.base_ir;
    for (std::size_t l = 0; l < 3; ++l) d[3] += film.silver ? dye[1] * (l == 0) : film.infrared_leak[l] * dye[l];
    return d;
}

void Painter::label(const Pixel& p, std::int64_t x, std::int64_t y, Drawn& out) const {
    constexpr double kInside = 0.15;  // mm
    Region region = Region::unsure;
    if (p.to_edge > kInside || (p.kind == Kind::bare && p.strip < 0 && p.to_edge > 0.1)) {
        region = p.kind == Kind::holder ? Region::holder : p.kind == Kind::bare ? Region::bare_light : p.frame >= 0 ? Region::picture : Region::clear_film;
        if (p.kind == Kind::film && p.frame < 0 && p.to_edge < 0.3) region = Region::unsure;
    }
    out.regions.labels(x, y) = region;
    out.regions.strip(x, y) = static_cast<std::int16_t>(p.kind == Kind::film ? p.strip : -1);
}

void Painter::lay_out(Drawn& out) const {
    const double scale = sheet_.px_per_mm * sheet_.factor;
    out.layout.scale = PixelsPerMm(scale);
    const auto quad = [&](double x0, double y0, double x1, double y1) {
        return Quad{PointPx{x0 * scale, y0 * scale}, PointPx{x1 * scale, y0 * scale}, PointPx{x1 * scale, y1 * scale}, PointPx{x0 * scale, y1 * scale}};
    };
    for (const Place& p : places_) {
        StripBox strip;
        strip.corners = quad(p.x0, p.y0, p.x0 + p.length, p.y0 + kFilmHeightMm);
        for (int f = 0; f < sheet_.frames; ++f) {
            FrameBox frame;
            frame.corners = quad(p.x0 + 2 + 38.0 * f, p.y0 + 1.2, p.x0 + 38 + 38.0 * f, p.y0 + kFilmHeightMm - 1.2);
            strip.frames.push_back(frame);
        }
        out.layout.strips.push_back(strip);
    }
}

Drawn Painter::paint() {
    Drawn out;
    const auto width = static_cast<std::int64_t>(width_mm_ * sheet_.px_per_mm), height = static_cast<std::int64_t>(height_mm_ * sheet_.px_per_mm);
    out.overview.pixels = Image<LinearRgbi>(width, height);
    out.overview.factor = sheet_.factor;
    out.overview.scan_width = width * sheet_.factor;
    out.overview.scan_height = height * sheet_.factor;
    out.overview.has_infrared = sheet_.infrared;
    out.regions.labels = Image<Region>(width, height, Region::unsure);
    out.regions.strip = Image<std::int16_t>(width, height, -1);
    out.carbon = Image<float>(width, height, 0.0F);
    out.dust = Image<std::uint8_t>(width, height, 0);
    out.carbon_percent.assign(places_.size(), 0.0);
    std::vector<double> visible(places_.size(), 0.0);
    const double grain_scale = sheet_.px_per_mm / 10;
    for (std::int64_t y = 0; y < height; ++y) {
        for (std::int64_t x = 0; x < width; ++x) {
            const double mx = (static_cast<double>(x) + 0.5) / sheet_.px_per_mm, my = (static_cast<double>(y) + 0.5) / sheet_.px_per_mm;
            const Pixel p = locate(mx, my);
            std::array<double, 4> t{4e-4, 4e-4, 4e-4, 4e-4};
            if (p.kind == Kind::bare) t.fill(1 - p.cover);
            if (p.kind == Kind::film) {
                const double soot = carbon(p);
                const bool dust = on_dust(p);
                const std::array<double, 4> d = film_density(p, grain_scale);
                for (std::size_t c = 0; c < 4; ++c) t[c] = std::exp(-std::log(10.0) * (d[c] + soot + (dust ? 0.8 : 0)));
                out.carbon(x, y) = static_cast<float>(soot);
                out.dust(x, y) = dust;
                visible[static_cast<std::size_t>(p.strip)] += 1;
                out.carbon_percent[static_cast<std::size_t>(p.strip)] += soot > 0.05;
            }
            std::array<float, 4> sample{};
            for (std::size_t c = 0; c < 4; ++c) {
                const double bare = light(static_cast<int>(c), mx, my);
                const double value = bare * (t[c] + sheet_.glare * 0.4);
                sample[c] = static_cast<float>(std::clamp(value * (1 + sheet_.noise * dice_.normal()) + sheet_.dark_noise * dice_.normal(), 0.0, 1.0));
            }
            out.overview.pixels(x, y) = {sample[0], sample[1], sample[2], sheet_.infrared ? sample[3] : 0.0F};
            label(p, x, y, out);
        }
    }
    for (std::size_t i = 0; i < places_.size(); ++i) {
        out.carbon_percent[i] *= 100 / std::max(1.0, visible[i]);
        for (const auto& d : dust_[i]) out.dust_at.push_back({(places_[i].x0 + d[0]) * sheet_.px_per_mm, (places_[i].y0 + d[1]) * sheet_.px_per_mm});
    }
    lay_out(out);
    const Sheet copy = sheet_;
    for (int c = 0; c < 4; ++c) {
        const double w = width_mm_, h = height_mm_;
        out.light[static_cast<std::size_t>(c)] = [copy, c, w, h](double x, double y) {
            const double u = 2 * x / copy.px_per_mm / w - 1, v = 2 * y / copy.px_per_mm / h - 1;
            return copy.light[static_cast<std::size_t>(c)] * (1 - copy.falloff * (1 - std::cos(std::hypot(u, 0.7 * v) * kPi / 3)) * 2 + copy.tilt * u * 0.5);
        };
    }
    return out;
}

}  // namespace

double Dice::uniform() {
    state_ += 0x9E3779B97F4A7C15ULL;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1.0p-53;
}

double Dice::normal() {
    const double a = std::max(uniform(), 1e-300), b = uniform();
    return std::sqrt(-2 * std::log(a)) * std::cos(2 * kPi * b);
}

Film film_a() { return {}; }

Film film_b() {
    Film f;
    f.base = {0.22, 0.58, 0.93};
    f.base_ir = 0.052;
    f.dyes = {{{0.9, 0.05, 0.02}, {0.10, 1.15, 0.06}, {0.02, 0.18, 1.35}}};
    f.infrared_leak = {0.012, 0.010, 0.0};
    f.gamma = {0.52, 0.57, 0.55};
    return f;
}

Film film_silver() {
    Film f;
    f.base = {0.24, 0.24, 0.25};
    f.base_ir = 0.22;
    f.silver = true;
    return f;
}

Drawn draw(const Sheet& sheet) { return Painter(sheet).paint(); }

std::vector<Blob> smears(double percent, int frames, Dice& dice) {
    std::vector<Blob> blobs;
    const double length = film_length_mm(frames), target = percent / 100 * length * kFilmHeightMm;
    double covered = 0;
    while (covered < target) {
        Blob b;
        b.radius_mm = std::min(dice.uniform(0.7, 2.2), std::sqrt(target / kPi) * 0.8 + 0.2);
        b.stretch = dice.uniform(1, 2);
        b.density = dice.uniform(0.12, 0.35);
        b.x_mm = dice.uniform(0, length);
        b.y_mm = dice.uniform() < 0.5 ? dice.uniform(-0.5, 2) : dice.uniform(0, kFilmHeightMm);
        const double inside = b.y_mm < b.radius_mm ? 0.65 : 1.0;
        covered += inside * kPi * b.radius_mm * b.radius_mm * b.stretch * (1 - 0.5 * covered / (length * kFilmHeightMm));
        blobs.push_back(b);
    }
    return blobs;
}

}  // namespace film_sheet
