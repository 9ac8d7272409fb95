// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <regex>

using namespace basefog;

namespace {

/// The formula of film/types.h written out anew.
double density(const LayerCurve& c, double h) {
    const auto softplus = [](double x, double w) { return x > 30 * w ? x : w * std::log(1 + std::exp(x / w)); };
    return c.slope * (softplus(h - c.toe.value(), c.toe_width) - softplus(h - c.shoulder.value(), c.shoulder_width));
}

std::string plot_of(const std::string& html, int roll) {
    const std::size_t article = html.find("<article class=\"film\" id=\"roll-" + std::to_string(roll) + "\"");
    REQUIRE(article != std::string::npos);
    const std::size_t start = html.find("<svg", article), end = html.find("</svg>", start);
    return html.substr(start, end - start);
}

double read_number(std::string text) {
    const std::string minus = "\xe2\x88\x92";
    if (text.rfind(minus, 0) == 0) text.replace(0, minus.size(), "-");
    return text == "aim" ? 0 : std::stod(text);
}

/// Positions and values of an axis' labels.
std::vector<std::pair<double, double>> ticks(const std::string& svg, const std::string& css, bool along_x) {
    std::vector<std::pair<double, double>> found;
    const std::regex label("<text class=\"tick " + css + "\" x=\"([-0-9.]+)\" y=\"([-0-9.]+)\">([^<]+)</text>");
    for (std::sregex_iterator t(svg.begin(), svg.end(), label), last; t != last; ++t)
        found.emplace_back(std::stod((*t)[along_x ? 1 : 2]), read_number((*t)[3]));
    REQUIRE(found.size() >= 3);
    return found;
}

/// Value at a position by the axis' first and last label.
double read_axis(const std::vector<std::pair<double, double>>& axis, double position) {
    const auto [p0, v0] = axis.front();
    const auto [p1, v1] = axis.back();
    return v0 + (position - p0) / (p1 - p0) * (v1 - v0);
}

std::vector<std::pair<double, double>> curve_points(const std::string& svg, const std::string& css) {
    std::smatch match;
    REQUIRE(std::regex_search(svg, match, std::regex("<polyline class=\"curve " + css + "\" points=\"([^\"]+)\"")));
    std::vector<std::pair<double, double>> points;
    const std::string list = match[1];
    const std::regex pair("([-0-9.]+),([-0-9.]+)");
    for (std::sregex_iterator p(list.begin(), list.end(), pair), last; p != last; ++p) points.emplace_back(std::stod((*p)[1]), std::stod((*p)[2]));
    return points;
}

// Positions are written to 0.01 units, labels stand up to 4 units below their line by design, the same for all.
constexpr double kDensityTolerance = 0.01;  // one unit of the drawing is about 0.01 density

}  // namespace

TEST_CASE("curves read off the plot's own axes are the film's curves for a neutral grey") {
    const RunRecord record = sample::rich();
    const std::string html = report_html(record);
    for (int roll = 1; roll <= 3; ++roll) {
        const std::string svg = plot_of(html, roll);
        const FilmModel& model = record.rolls[static_cast<std::size_t>(roll - 1)].film.model;
        const auto stops_axis = ticks(svg, "tx", true), log_axis = ticks(svg, "th", true), density_axis = ticks(svg, "ty", false);
        for (int layer = 0; layer < 3; ++layer) {
            const auto points = curve_points(svg, layer == 0 ? "red" : layer == 1 ? "green" : "blue");
            REQUIRE(points.size() > 50);
            for (const auto& [x, y] : points) {
                const double h = read_axis(stops_axis, x) * std::log10(2.0);
                CHECK(read_axis(log_axis, x) == Approx(h).margin(0.002));  // both axes say the same
                // Labels are set a fixed 4 units under the height they name.
                CHECK(read_axis(density_axis, y + 4) == Approx(density(model.curves[layer], h + model.balance[layer].value())).margin(kDensityTolerance));
            }
        }
    }
}

TEST_CASE("a silver image has one curve") {
    const std::string svg = plot_of(report_html(sample::rich()), 4);
    CHECK(curve_points(svg, "silver").size() > 50);
    CHECK(svg.find("curve red") == std::string::npos);
}

TEST_CASE("each frame's tick stands at its exposure") {
    const RunRecord record = sample::rich();
    const std::string svg = plot_of(report_html(record), 2);
    const auto axis = ticks(svg, "tx", true);
    const std::regex tick("<title>frame ([0-9]+): ([^ ]+) stops</title>\\s*<line class=\"frame\" x1=\"([0-9.]+)\"");
    int seen = 0;
    for (std::sregex_iterator t(svg.begin(), svg.end(), tick), last; t != last; ++t, ++seen) {
        const int number = std::stoi((*t)[1]);
        const StripRecord& strip = record.scans[0].strips[number <= 6 ? 2 : 3];
        const double offset = strip.frames[static_cast<std::size_t>(number <= 6 ? number - 1 : number - 7)].exposure.offset.value.value();
        CHECK(read_axis(axis, std::stod((*t)[3])) == Approx(offset).margin(0.01));
        CHECK(read_number((*t)[2].str()[0] == '+' ? (*t)[2].str().substr(1) : (*t)[2].str()) == Approx(offset).margin(0.0051));
    }
    CHECK(seen == 10);  // eleven frames, one of them fogged
}

TEST_CASE("the shaded fields end at the film's limits") {
    const RunRecord record = sample::rich();
    const RollRecord& roll = record.rolls[1];
    const std::string svg = plot_of(report_html(record), 2);
    const auto axis = ticks(svg, "tx", true);
    std::smatch shadow, highlight;
    REQUIRE(std::regex_search(svg, shadow, std::regex("<rect class=\"shadow\" x=\"([0-9.]+)\" y=\"[0-9.]+\" width=\"([0-9.]+)\"")));
    REQUIRE(std::regex_search(svg, highlight, std::regex("<rect class=\"highlight\" x=\"([0-9.]+)\"")));
    CHECK(read_axis(axis, std::stod(shadow[1]) + std::stod(shadow[2])) == Approx(roll.film.limits.shadow.value()).margin(0.01));
    CHECK(read_axis(axis, std::stod(highlight[1])) == Approx(roll.film.limits.highlight.value()).margin(0.01));
}

TEST_CASE("each picture's bar reaches from its darkest to its brightest tone, and what is lost is marked") {
    const RunRecord record = sample::rich();
    const std::string svg = plot_of(report_html(record), 2);
    const auto axis = ticks(svg, "tx", true);
    const std::regex bar("<line class=\"tones\" x1=\"([-0-9.]+)\" y1=\"[0-9.]+\" x2=\"([-0-9.]+)\"");
    int bars = 0;
    for (std::sregex_iterator t(svg.begin(), svg.end(), bar), last; t != last; ++t, ++bars) CHECK(std::stod((*t)[1]) < std::stod((*t)[2]));
    CHECK(bars == 10);
    const FrameExposure& first = record.scans[0].strips[2].frames[1].exposure;
    std::smatch match;
    REQUIRE(std::regex_search(svg, match, bar));
    CHECK(read_axis(axis, std::stod(match[1])) == Approx(to_stops(first.darkest).value()).margin(0.02));
    CHECK(read_axis(axis, std::stod(match[2])) == Approx(to_stops(first.brightest).value()).margin(0.02));
}

TEST_CASE("sheets are drawn in scan pixels, so outlines lie on the picture") {
    const RunRecord record = sample::rich();
    const std::string html = report_html(record);
    const ScanRecord& scan = record.scans[0];
    CHECK(html.find("<svg class=\"sheet\" viewBox=\"0 0 " + std::to_string(scan.info.width) + " " + std::to_string(scan.info.height) + "\"") !=
          std::string::npos);
    const std::regex edge("<a href=\"#frame-1-3-4\" class=\"frame picture\"><title>[^<]*</title><polygon class=\"halo\" points=\"([-0-9.]+),([-0-9.]+) ");
    std::smatch match;
    REQUIRE(std::regex_search(html, match, edge));
    const PointPx corner = scan.strips[2].frames[3].box.corners[0];
    CHECK(std::stod(match[1]) == Approx(corner.x).margin(0.051));  // drawn to a tenth of a pixel
    CHECK(std::stod(match[2]) == Approx(corner.y).margin(0.051));
    CHECK(html.find("class=\"frame picture pitch unsure\"") != std::string::npos);
    CHECK(html.find("class=\"frame blank pitch\"") != std::string::npos);
}
