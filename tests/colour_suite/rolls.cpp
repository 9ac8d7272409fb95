// SPDX-License-Identifier: GPL-3.0-or-later
#include "colour_suite/rolls.h"

#include "support/random_stock.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <cmath>
#include <locale>
#include <sstream>
#include <utility>

namespace colour_suite {
namespace {

using namespace synthetic;

constexpr int kFrames = 6;  // on a strip

RandomStock fresh_stock(Random& random) {
    for (;;)
        if (RandomStock drawn = random_stock(random.bits()); !drawn.expired) return drawn;
}

FilmStock old(const FilmStock& fresh, Random& random) {
    const double years = random.between(0.4, 1.6);
    return aged(fresh, {{0.06 * years, 0.10 * years, 0.16 * years}, {0.20 * years, 0.25 * years, 0.35 * years}, std::pow(0.95, years), 1 + 0.3 * years});
}

/// The light as the photographer names it, and as it was.
struct Light {
    double told, was;
};
Light draw_light(const FilmStock& stock, Random& random) {
    const double lot = random.unit();
    const double told = lot < 0.75 ? 5500 : lot < 0.9 || stock.balance_kelvin > 4000 ? 6500 : 3200;
    constexpr double kMired = 6;  // standard deviation of a day's light about its name
    return {told, 1e6 / (1e6 / told + kMired * random.normal())};
}

class Scenes {
public:
    Scenes(const std::vector<std::string>& photographs, Random& random) : files_(photographs) {
        for (std::size_t i = files_.size(); i > 1; --i) std::swap(files_[i - 1], files_[static_cast<std::size_t>(random.below(static_cast<int>(i)))]);
    }
    [[nodiscard]] SceneSpec next() { return {SceneKind::photograph, 1, 0, files_[used_++ % files_.size()]}; }

private:
    std::vector<std::string> files_;
    std::size_t used_ = 0;
};

StripSpec strip_of(const std::string& roll, const FilmStock& stock, double light_kelvin, double over, int first, Random& random) {
    StripSpec out;
    out.roll = roll;
    out.stock = stock;
    out.light_kelvin = light_kelvin;
    out.rated_over = over;
    out.perforations = short_pitch_perforations();
    out.frame_pitch = 38.0;
    out.marks = EdgeMarks::bars;
    out.tilt_deg = 0.3 * random.normal();
    out.residue.edge_smears = random.unit() < 0.5 ? random.between(0, 0.1) : 0;
    for (int i = 0; i < kFrames; ++i) {
        FrameSpec frame;
        frame.number = first + i;
        frame.stops = 0.25 * random.normal();  // what a meter and its owner are off by
        out.frames.push_back(std::move(frame));
    }
    return out;
}

void add_roll(Rolls& out, Roll roll, const RandomStock& stock, const FilmStock& as_shot, const Light& light, int strips, Random& random) {
    roll.balance_kelvin = as_shot.balance_kelvin;
    roll.told_light_kelvin = light.told;
    roll.crossed = stock.crossed;
    roll.chart_frame = 1 + random.below(kFrames * strips);
    for (int i = 0; i < strips; ++i)
        out.sheet.strips.push_back(strip_of(roll.id, as_shot, light.was, std::log2(roll.box_speed / roll.rating), 1 + i * kFrames, random));
    out.rolls.push_back(std::move(roll));
}

void add_fresh(Rolls& out, Random& random) {
    for (const char* id : {"A", "B"}) {
        const RandomStock stock = fresh_stock(random);
        const double box = stock.stock.balance_kelvin > 4000 ? 250 : 500;
        add_roll(out, {id, std::string("stock-") + id, box, box / std::exp2(random.below(2))}, stock, stock.stock, draw_light(stock.stock, random), 2, random);
    }
}

void add_expired(Rolls& out, Random& random) {
    out.expired = true;
    const RandomStock stock = fresh_stock(random);
    const FilmStock attic = old(stock.stock, random);
    const double box = stock.stock.balance_kelvin > 4000 ? 250 : 500;
    const Light light = draw_light(stock.stock, random);
    for (int over = 0; over < 3; ++over) add_roll(out, {"X" + std::to_string(over), "old", box, box / std::exp2(over)}, stock, attic, light, 1, random);
    add_roll(out, {"N", "fresh", box, box}, stock, stock.stock, light, 1, random);
}

void place(SheetSpec& sheet, Random& random) {
    double y = 12;
    for (StripSpec& strip : sheet.strips) {
        strip.x = 14 + random.between(-2, 2);
        strip.y = y;
        y += strip.film_width + 6;
    }
}

/// A chart on every roll, and photographs. Of the expired stock's rolls half the scenes are the same.
void fill(Rolls& out, Scenes& scenes) {
    std::vector<SceneSpec> shared;
    for (int i = 0; out.expired && i < kFrames / 2; ++i) shared.push_back(scenes.next());
    for (StripSpec& strip : out.sheet.strips) {
        const auto roll = std::find_if(out.rolls.begin(), out.rolls.end(), [&](const Roll& r) { return r.id == strip.roll; });
        std::size_t used = 0;
        for (FrameSpec& frame : strip.frames) {
            if (frame.number == roll->chart_frame) {
                frame.scene = {SceneKind::chart, 1, 0};
            } else {
                frame.scene = out.expired && used < shared.size() ? shared[used++] : scenes.next();
            }
        }
    }
}

}  // namespace

std::string name(Told told) {
    switch (told) {
        case Told::nothing:
            return "nothing told";
        case Told::light:
            return "stock and light told";
        case Told::chart:
            return "chart named";
    }
    return {};
}

Rolls draw_rolls(std::uint64_t seed, const std::vector<std::string>& photographs) {
    Random random(mix(seed, 0xc010));
    Rolls out;
    Scenes scenes(photographs, random);
    if (seed % 2 == 1)
        add_fresh(out, random);
    else
        add_expired(out, random);
    fill(out, scenes);
    SheetSpec& sheet = out.sheet;
    place(sheet, random);
    sheet.seed = seed;
    sheet.dpi = 240;
    sheet.width = 262;
    sheet.height = 184;
    sheet.scanner = random_scanner(seed);
    sheet.holder.kind = random.unit() < 0.5 ? HolderKind::hides_perforations : HolderKind::shows_perforations;
    sheet.dust = {0.15, 0.02, 1};
    sheet.encoding = random.unit() < 0.6 ? Encoding::linear : Encoding::gamma22;
    if (sheet.scanner.camera) {  // a RAW file
        sheet.encoding = Encoding::linear;
        sheet.file = "sheet.dng";
    }
    return out;
}

std::string ledger(const Rolls& rolls, Told told) {
    std::ostringstream out;
    out.imbue(std::locale::classic());
    const auto light = [](double kelvin) { return static_cast<int>(std::lround(kelvin)); };
    if (told != Told::nothing) {
        out << "[session.c]\nprocess = \"C-41\"\n[session.e]\nprocess = \"ECN-2\"\n";
        std::vector<std::string> stocks;
        for (const Roll& roll : rolls.rolls)
            if (std::find(stocks.begin(), stocks.end(), roll.stock) == stocks.end()) {
                stocks.push_back(roll.stock);
                out << "[stock." << roll.stock << "]\nbox_speed = " << roll.box_speed << "\nbalance = " << light(roll.balance_kelvin)
                    << "\nown_process = \"ECN-2\"\n";
            }
    }
    for (const Roll& roll : rolls.rolls) {
        out << "[roll." << roll.id << "]\n";
        if (told == Told::nothing) continue;
        out << "stock = \"" << roll.stock << "\"\nrating = " << roll.rating << "\nlight = " << light(roll.told_light_kelvin) << "\nsession = \""
            << (roll.crossed ? "c" : "e") << "\"\n";
        if (told == Told::chart) out << "frames = [{ number = " << roll.chart_frame << ", kind = \"colour chart\" }]\n";
    }
    out << "[[sheet]]\nfile = \"" << rolls.sheet.file << "\"\n";
    if (rolls.sheet.scanner.camera)
        out << "dpi = " << rolls.sheet.dpi << "\n";
    else
        out << "encoding = " << (rolls.sheet.encoding == Encoding::linear ? "\"linear\"" : "2.2") << "\n";
    out << "strips = [\n";
    for (const StripSpec& strip : rolls.sheet.strips) out << "  { roll = \"" << strip.roll << "\", first = " << strip.frames.front().number << " },\n";
    out << "]\n";
    return out.str();
}

}  // namespace colour_suite
