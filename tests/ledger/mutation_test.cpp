// SPDX-License-Identifier: GPL-3.0-or-later
// Valid text, damaged at random: reading must end in a value or in an error with words, and never otherwise.
#include "basefog/ledger/layout_file.h"
#include "basefog/ledger/read_ledger.h"

#include <catch2/catch.hpp>
#include <random>

using namespace basefog;

namespace {

/// Fixed seed; mt19937's output is defined by the standard, and % keeps draws the same on every library.
class Damage {
public:
    explicit Damage(std::uint32_t seed) : engine_(seed) {}
    std::string operator()(std::string text) {
        const std::size_t edits = 1 + draw(6);
        for (std::size_t i = 0; i < edits && !text.empty(); ++i) edit(text);
        return text;
    }

private:
    std::size_t draw(std::size_t below) { return engine_() % below; }
    void edit(std::string& text) {
        static const std::string pieces[] = {
            "[",       "]", "{",     "}",   "\"",         "'",    "\"\"\"",     "=",    ".",        ",",         "\n",        "#",  "\\",
            "\\u0000", "-", "1e999", "nan", "9999999999", "true", "2026-13-01", "\xFF", "\xC3\xA9", "[[sheet]]", "[roll.R1]", "\r", std::string(1, '\0'),
            "-0",      " "};
        const std::size_t at = draw(text.size()), length = draw(12);
        switch (draw(5)) {
            case 0:
                text.erase(at, length);
                break;
            case 1:
                text.insert(at, pieces[draw(std::size(pieces))]);
                break;
            case 2:
                text[at] = static_cast<char>(draw(256));
                break;
            case 3:
                text.insert(draw(text.size()), text.substr(at, 5 * length));
                break;
            default:
                text.replace(at, std::min(length, text.size() - at), pieces[draw(std::size(pieces))]);
                break;
        }
    }
    std::mt19937 engine_;
};

template <class Parse>
void survive(const std::string& valid, int rounds, std::uint32_t seed, Parse parse) {
    Damage damage(seed);
    int refused = 0;
    for (int i = 0; i < rounds; ++i) {
        const std::string text = damage(valid);
        const auto result = parse(text, "x.toml");
        if (result) continue;
        ++refused;
        const Error& error = result.error();
        const bool placed = error.what.find("line ") != std::string::npos && error.what.find(", column ") != std::string::npos;
        if (error.path != "x.toml" || !placed) FAIL("round " << i << ": " << error.what << "\n" << text);
    }
    CHECK(refused > rounds / 4);  // the damage does reach what is checked
    CHECK(refused < rounds);
}

}  // namespace

TEST_CASE("damaged ledgers never crash the reader") { survive(ledger_template(), 4000, 20260314, parse_ledger); }

TEST_CASE("damaged layouts never crash the reader") {
    SheetLayout layout;
    layout.scale = PixelsPerMm(20);
    StripBox strip;
    strip.corners = {{{100, 100}, {4700, 120}, {4697, 820}, {97, 800}}};
    StripNaming naming{"R1", {}};
    for (int i = 0; i < 3; ++i) {
        const double x = 150 + 760 * i;
        strip.frames.push_back({{{{x, 210}, {x + 720, 213}, {x + 718, 693}, {x - 2, 690}}}, FrameKind::picture, 0.9, Millimetres(0.05), false, false});
        naming.numbers.push_back(7 + i);
    }
    layout.strips.push_back(strip);
    survive(layout_text({{"sheet.tif", layout, {naming}}}), 4000, 7, parse_layouts);
}
