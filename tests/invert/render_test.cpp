// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert_world.h"

#include "basefog/invert/colour.h"

#include <catch2/catch.hpp>
#include <cstring>
#include <functional>
#include <limits>
#include <numbers>

using namespace basefog;
using namespace basefog::test;

namespace {

OutputProfile linear_profile() {
    InvertOptions options;
    options.output = OutputSpace::linear;
    return std::move(*OutputProfile::make(options));
}

/// A sheet whose light falls off and leans, with flare.
LightField uneven_light(double width, double height) {
    LightField light;
    light.scan_width = width;
    light.scan_height = height;
    for (int c = 0; c < 3; ++c) light.coefficient[c] = {-0.1 - 0.05 * c, 0.04, -0.03 + 0.02 * c, -0.08, 0.02, -0.05};
    light.flare = {0.001F, 0.0012F, 0.0008F, 0};
    return light;
}
LightField even_light() {
    LightField light;
    light.scan_width = light.scan_height = 1000;
    return light;
}
/// The light field's formula, written again from density/types.h.
double bare_light(const LightField& light, int c, double x, double y) {
    const double u = x / light.scan_width * 2 - 1, v = y / light.scan_height * 2 - 1;
    const auto& k = light.coefficient[c];
    return std::exp(k[0] + k[1] * u + k[2] * v + k[3] * u * u + k[4] * u * v + k[5] * v * v);
}

using Scene = std::function<std::array<double, 3>(double x, double y)>;

/// What a scanner reads of a film that shows `scene` at scan positions, sampled at pixel centres.
Crop scan(PxRect rect, const LightField& light, const FilmWorld& film, const Scene& scene) {
    Crop crop{rect, Image<LinearRgbi>(rect.width(), rect.height())};
    for (std::int64_t y = 0; y < rect.height(); ++y)
        for (std::int64_t x = 0; x < rect.width(); ++x) {
            const double px = double(rect.x0 + x) + 0.5, py = double(rect.y0 + y) + 0.5;
            const auto rgb = scene(px, py);
            const DensityRgbi d = film.expose(rgb[0], rgb[1], rgb[2]);
            const auto read = [&](int c, float density, float flare) {
                return static_cast<float>(bare_light(light, c, px, py) * std::pow(10.0, -double(density)) + flare);
            };
            crop.pixels(x, y) = {read(0, d.r, light.flare.r), read(1, d.g, light.flare.g), read(2, d.b, light.flare.b), 0.9F};
        }
    return crop;
}

Image<EncodedRgb16> render(const Crop& crop, const Quad& quad, const LightField& light, const Inverter& inverter, std::int64_t rows_at_a_time = 1 << 20) {
    const OutputProfile profile = linear_profile();
    const PositiveSize size = positive_size(quad);
    Image<EncodedRgb16> out(size.width, size.height);
    for (std::int64_t y = 0; y < size.height; y += rows_at_a_time)
        REQUIRE(render_rows(crop.source(), quad, light, inverter, profile, y, out.view().part(0, y, size.width, std::min(rows_at_a_time, size.height - y))));
    return out;
}

Quad turned(double cx, double cy, double width, double height, double degrees) {
    const double c = std::cos(degrees * std::numbers::pi / 180), s = std::sin(degrees * std::numbers::pi / 180);
    const auto at = [&](double x, double y) { return PointPx{cx + c * x - s * y, cy + s * x + c * y}; };
    return {at(-width / 2, -height / 2), at(width / 2, -height / 2), at(width / 2, height / 2), at(-width / 2, height / 2)};
}

bool same(const EncodedRgb16& a, const EncodedRgb16& b) { return a.r == b.r && a.g == b.g && a.b == b.b; }

Crop noise_crop(std::int64_t width, std::int64_t height, std::uint64_t seed) {
    Crop crop{{0, 0, width, height}, Image<LinearRgbi>(width, height)};
    Random random(seed);
    for (std::int64_t y = 0; y < height; ++y)
        for (std::int64_t x = 0; x < width; ++x) {
            const auto value = [&] { return static_cast<float>(0.01 + 0.4 * random()); };
            crop.pixels(x, y) = {value(), value(), value(), 0.5F};
        }
    return crop;
}

}  // namespace

TEST_CASE("a positive has the frame's size and names the scan's part it needs") {
    const Quad quad = turned(500, 400, 450.2, 299.7, 2);
    CHECK(positive_size(quad) == PositiveSize{450, 300});
    const PxRect need = source_rect(quad);
    for (const PointPx& corner : quad) {
        CHECK(need.x0 <= corner.x - 3);
        CHECK(need.x1 >= corner.x + 3);
        CHECK(need.y0 <= corner.y - 3);
        CHECK(need.y1 >= corner.y + 3);
    }
    CHECK(positive_size({}) == PositiveSize{0, 0});
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK(positive_size({PointPx{nan, 0}, {1, 0}, {1, 1}, {0, 1}}).width == 0);
    CHECK(source_rect({PointPx{nan, 0}, {1, 0}, {1, 1}, {0, 1}}).empty());
}

TEST_CASE("light, flare and film undone: the positive is the scene") {
    const FilmWorld film;
    const LightField light = uneven_light(1400, 900);
    const Scene scene = [](double x, double y) { return std::array<double, 3>{0.05 + 0.0004 * x, 0.06 + 0.0005 * y, 0.3 - 0.0001 * x}; };
    const Quad quad{PointPx{300, 200}, {700, 200}, {700, 450}, {300, 450}};
    const Crop crop = scan(source_rect(quad), light, film, scene);
    const Inverter inverter = film.inverter();
    const Image<EncodedRgb16> out = render(crop, quad, light, inverter);
    double worst = 0;
    for (std::int64_t y = 0; y < out.height(); y += 7)
        for (std::int64_t x = 0; x < out.width(); x += 7) {
            const auto rgb = scene(300.5 + double(x), 200.5 + double(y));
            const SceneRgb want = inverter.display({static_cast<float>(rgb[0]), static_cast<float>(rgb[1]), static_cast<float>(rgb[2])});
            worst = std::max(
                {worst, std::fabs(out(x, y).r - want.r * 65535.0), std::fabs(out(x, y).g - want.g * 65535.0), std::fabs(out(x, y).b - want.b * 65535.0)});
        }
    // Half a code of rounding, and the scan's own floats: 6e-8 of light is up to 4e-6 of scene light, a quarter of a code.
    CHECK(worst < 1.0);
}

TEST_CASE("whole-pixel frames are copied, not interpolated: read back pixel by pixel") {
    const FilmWorld film;
    const Crop crop = noise_crop(90, 70, 1);
    const Inverter inverter = film.inverter();
    const Quad quad{PointPx{10, 8}, {80, 8}, {80, 60}, {10, 60}};
    const Image<EncodedRgb16> out = render(crop, quad, even_light(), inverter);
    REQUIRE(out.width() == 70);
    REQUIRE(out.height() == 52);
    const OutputProfile profile = linear_profile();
    for (std::int64_t y = 0; y < out.height(); ++y)
        for (std::int64_t x = 0; x < out.width(); ++x) {
            // A crop of one pixel alone has nothing to blend with.
            Crop one{{10 + x, 8 + y, 11 + x, 9 + y}, Image<LinearRgbi>(1, 1, crop.pixels(10 + x, 8 + y))};
            const Quad around{PointPx{10. + x, 8. + y}, {11. + x, 8. + y}, {11. + x, 9. + y}, {10. + x, 9. + y}};
            Image<EncodedRgb16> alone(1, 1);
            REQUIRE(render_rows(one.source(), around, even_light(), inverter, profile, 0, alone.view()));
            REQUIRE(same(out(x, y), alone(0, 0)));
        }
}

TEST_CASE("any split into rows gives the same bits") {
    const FilmWorld film;
    const Crop crop = noise_crop(400, 330, 2);
    const Inverter inverter = film.inverter();
    const LightField light = uneven_light(400, 330);
    for (const double angle : {0.0, 1.7, 91.3, 178.0, 270.0, 40.0}) {
        const bool upright = std::fabs(std::sin(angle * std::numbers::pi / 180)) > 0.8;
        const Quad quad = turned(200.3, 165.6, upright ? 200 : 300, upright ? 140 : 180, angle);
        const Image<EncodedRgb16> whole = render(crop, quad, light, inverter);
        for (const std::int64_t rows : {1, 7, 64, 100}) {
            const Image<EncodedRgb16> parts = render(crop, quad, light, inverter, rows);
            CHECK(std::memcmp(whole.row(0), parts.row(0), static_cast<std::size_t>(whole.width() * whole.height()) * sizeof(EncodedRgb16)) == 0);
        }
    }
}

TEST_CASE("the order of the corners turns and mirrors the picture") {
    const FilmWorld film;
    const Crop crop = noise_crop(60, 50, 3);
    const Inverter inverter = film.inverter();
    const Quad plain{PointPx{10, 10}, {50, 10}, {50, 40}, {10, 40}};
    const Image<EncodedRgb16> upright = render(crop, plain, even_light(), inverter);
    const std::int64_t w = upright.width(), h = upright.height();

    const Image<EncodedRgb16> upside_down = render(crop, {plain[2], plain[3], plain[0], plain[1]}, even_light(), inverter);
    // A strip that lies vertically, read from its top end downwards: the picture's top-left corner is the scan's top-right one.
    const Image<EncodedRgb16> vertical = render(crop, {plain[1], plain[2], plain[3], plain[0]}, even_light(), inverter);
    const Image<EncodedRgb16> other_way = render(crop, {plain[3], plain[0], plain[1], plain[2]}, even_light(), inverter);
    const Image<EncodedRgb16> mirrored = render(crop, {plain[1], plain[0], plain[3], plain[2]}, even_light(), inverter);
    REQUIRE(vertical.width() == h);
    REQUIRE(vertical.height() == w);
    bool all = true;
    for (std::int64_t y = 0; y < h; ++y)
        for (std::int64_t x = 0; x < w; ++x) {
            const EncodedRgb16 pixel = upright(x, y);
            all &= same(upside_down(w - 1 - x, h - 1 - y), pixel);
            all &= same(vertical(y, w - 1 - x), pixel);
            all &= same(other_way(h - 1 - y, x), pixel);
            all &= same(mirrored(w - 1 - x, y), pixel);
        }
    CHECK(all);
}

TEST_CASE("a tilted grid comes out straight within a tenth of a pixel") {
    const FilmWorld film;
    for (const double angle : {2.4, -1.1, 92.9, 181.3}) {
        CAPTURE(angle);
        const Quad quad = turned(300, 280, 360, 240, angle);
        // Lines every 40 pixels of the picture, blurred as a lens would (sigma 1.5 px), drawn at scan positions by the inverse turn.
        const double c = std::cos(angle * std::numbers::pi / 180), s = std::sin(angle * std::numbers::pi / 180);
        const Scene scene = [&](double x, double y) {
            const double u = c * (x - 300) + s * (y - 280), v = -s * (x - 300) + c * (y - 280);
            const auto line = [](double t) {
                const double d = t - 40 * std::round(t / 40);
                return std::exp(-d * d / (2 * 1.5 * 1.5));
            };
            const double light = 0.1 + 0.3 * std::max(line(u), line(v));
            return std::array<double, 3>{light, light, light};
        };
        const LightField light = even_light();
        const Crop crop = scan(source_rect(quad), light, film, scene);
        const Image<EncodedRgb16> out = render(crop, quad, light, film.inverter());
        REQUIRE(out.width() == 360);
        double worst = 0;
        for (int k = -3; k <= 3; ++k)  // centroid of each line, between crossings, far and near
            for (int along = -3; along < 3; ++along) {
                const double column = 180 + 40 * k, middle_y = 120 + 40 * along + 20, middle_x = 180 + 40 * along + 20;
                double sum = 0, moment = 0, sum_v = 0, moment_v = 0;
                for (int d = -6; d <= 6; ++d) {
                    const auto x = static_cast<std::int64_t>(column) + d;
                    const double weight = std::max(0.0, out(x, static_cast<std::int64_t>(middle_y)).g / 65535.0 - 0.11);
                    sum += weight;
                    moment += weight * (double(x) + 0.5);
                    if (std::abs(k) > 2) continue;
                    const auto y = static_cast<std::int64_t>(120 + 40 * k) + d;
                    const double weight_v = std::max(0.0, out(static_cast<std::int64_t>(middle_x), y).g / 65535.0 - 0.11);
                    sum_v += weight_v;
                    moment_v += weight_v * (double(y) + 0.5);
                }
                worst = std::max(worst, std::fabs(moment / sum - column));
                if (std::abs(k) <= 2) worst = std::max(worst, std::fabs(moment_v / sum_v - (120 + 40 * k)));
            }
        CAPTURE(worst);
        CHECK(worst < 0.1);
    }
}

TEST_CASE("between pixels, fine detail keeps its contrast and hard edges do not ring") {
    const FilmWorld film;
    // A wave of four pixels in light, half a pixel off the grid: the windowed sinc keeps 97 % of it (bicubic would keep 88 %).
    Crop crop{{0, 0, 120, 40}, Image<LinearRgbi>(120, 40)};
    const auto wave = [](double x) { return 0.2 + 0.05 * std::sin(x * std::numbers::pi / 2); };
    for (std::int64_t y = 0; y < 40; ++y)
        for (std::int64_t x = 0; x < 120; ++x) {
            const auto value = static_cast<float>(wave(double(x) + 0.25));
            crop.pixels(x, y) = {value, value, value, 0};
        }
    FilmWorld flat;  // a film so linear that its positive is easy to foretell: read densities back through the display curve
    const Inverter inverter = flat.inverter();
    const Quad quad{PointPx{20.5, 10}, {100.5, 10}, {100.5, 30}, {20.5, 30}};
    const Image<EncodedRgb16> out = render(crop, quad, even_light(), inverter);
    double low = 1, high = 0, expected_low = 1, expected_high = 0;
    for (std::int64_t x = 10; x < 70; ++x) {
        low = std::min(low, out(x, 10).g / 65535.0);
        high = std::max(high, out(x, 10).g / 65535.0);
        const auto d = static_cast<float>(-std::log10(wave(double(x) + 20.5 + 0.25)));
        const double want = inverter.display(inverter.scene({d, d, d, 0})).g;
        expected_low = std::min(expected_low, want);
        expected_high = std::max(expected_high, want);
    }
    CHECK((high - low) / (expected_high - expected_low) > 0.94);

    // Dense film beside clear: the interpolated light stays between the two.
    for (std::int64_t y = 0; y < 40; ++y)
        for (std::int64_t x = 0; x < 120; ++x) {
            const float value = x < 60 ? 0.5F : 0.004F;
            crop.pixels(x, y) = {value, value, value, 0};
        }
    const auto dense = static_cast<float>(-std::log10(0.004));
    const SceneRgb brightest = inverter.display(inverter.scene({dense, dense, dense, 0}));
    const Quad shifted{PointPx{20.3, 10.4}, {100.3, 10.4}, {100.3, 30.4}, {20.3, 30.4}};
    const Image<EncodedRgb16> edge = render(crop, shifted, even_light(), inverter);
    for (std::int64_t x = 0; x < edge.width(); ++x) CHECK(edge(x, 5).r <= brightest.r * 65535.0 + 1);
}

TEST_CASE("frames over the scan's edge, tiny crops and spoiled samples are rendered without harm") {
    const FilmWorld film;
    const Inverter inverter = film.inverter();
    Crop crop = noise_crop(30, 20, 9);
    crop.pixels(5, 5) = {std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::infinity(), -1, 0};
    for (const Quad& quad : {turned(15, 10, 60, 40, 3), turned(-500, 900, 20, 20, 100), turned(15, 10, 1, 1, 0), turned(15, 10, 3000, 2, 45)}) {
        const Image<EncodedRgb16> out = render(crop, quad, even_light(), inverter);
        CHECK(out.width() == positive_size(quad).width);
    }
    // Corners that cross over, or lie on a line: odd, but no crash.
    for (const Quad& quad :
         {Quad{PointPx{5, 5}, {25, 5}, {5, 15}, {25, 15}}, Quad{PointPx{5, 5}, {25, 5}, {25, 5}, {5, 5.6}}, Quad{PointPx{5, 5}, {25, 15}, {6, 5}, {25, 16}}})
        (void)render(crop, quad, even_light(), inverter);
    const Crop pixel{{0, 0, 1, 1}, Image<LinearRgbi>(1, 1, LinearRgbi{0.2F, 0.1F, 0.05F, 0})};
    const Image<EncodedRgb16> flat = render(pixel, turned(0, 0, 40, 30, 5), even_light(), inverter);
    CHECK(same(flat(0, 0), flat(39, 29)));
    REQUIRE(render_rows(pixel.source(), turned(0, 0, 40, 30, 5), even_light(), inverter, linear_profile(), 0, View<EncodedRgb16>()));
}
