// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_marks.h"

#include "support/synthetic_code128.h"
#include "support/synthetic_random.h"

#include <array>
#include <cmath>
#include <cstdio>
#include <string>

namespace synthetic {
namespace {

constexpr double kMarkedEdge = 2.0;  ///< mm: marks stay within so much of an edge

/// Dots of digits and "A", 5 x 7, one row of five bits after another from the top.
constexpr std::array<std::array<std::uint8_t, 7>, 11> kGlyphs{{
    {0x0e, 0x11, 0x11, 0x11, 0x11, 0x11, 0x0e},
    {0x04, 0x0c, 0x04, 0x04, 0x04, 0x04, 0x0e},
    {0x0e, 0x11, 0x01, 0x06, 0x08, 0x10, 0x1f},
    {0x1f, 0x02, 0x04, 0x06, 0x01, 0x11, 0x0e},
    {0x02, 0x06, 0x0a, 0x12, 0x1f, 0x02, 0x02},
    {0x1f, 0x10, 0x1e, 0x01, 0x01, 0x11, 0x0e},
    {0x06, 0x08, 0x10, 0x1e, 0x11, 0x11, 0x0e},
    {0x1f, 0x01, 0x02, 0x04, 0x04, 0x08, 0x08},
    {0x0e, 0x11, 0x11, 0x0e, 0x11, 0x11, 0x0e},
    {0x0e, 0x11, 0x11, 0x0f, 0x01, 0x02, 0x0c},
    {0x0e, 0x11, 0x11, 0x1f, 0x11, 0x11, 0x11},
}};

/// Of the count-th symbol: the key's six digits, feet in four, and perforations within the foot in two.
std::string code_text(const KeyCode& key, int symbol) {
    const int perforations = symbol * key.spacing;
    char text[32];
    std::snprintf(text, sizeof text, "%06d%04d%02d", key.prefix % 1000000, (key.first_foot + perforations / kPerforationsPerFoot) % 10000,
                  perforations % kPerforationsPerFoot);
    return text;
}

}  // namespace

EdgePrint::EdgePrint(const StripSpec& strip, int first_number, double pitch, double length, std::uint64_t seed)
    : strip_(strip), first_number_(first_number), pitch_(pitch), seed_(seed) {
    if (strip.marks != EdgeMarks::code) return;
    const double step = strip.key.spacing * strip.perforations.pitch;
    for (int i = 0; strip.key.first_s + i * step < length; ++i) {
        const std::string text = code_text(strip.key, i);
        Symbol symbol{strip.key.first_s + i * step, code128_modules(text)};
        const double s1 = symbol.s0 + strip.key.module * static_cast<double>(symbol.modules.size());
        if (symbol.s0 >= 0 && s1 <= length) whole_.push_back({text, symbol.s0, s1, {}});
        if (s1 > 0) symbols_.push_back(std::move(symbol));
    }
}

double EdgePrint::number(double s, double t) const {
    constexpr double kDot = 0.20, kTop = 0.30;
    if (t < kTop || t > kTop + 7 * kDot) return 0;
    const double half_pitch = pitch_ / 2;
    const double from_first = s - strip_.lead - strip_.frame_width / 2;
    const int halves = static_cast<int>(std::floor(from_first / half_pitch + 0.25));
    const int shown = first_number_ + (halves >= 0 ? halves / 2 : 0);
    if (halves < 0) return 0;
    const std::string text = std::to_string(shown);
    const int letters = static_cast<int>(text.size()) + (halves % 2);
    const double x = (from_first - halves * half_pitch) / kDot;
    const int letter = static_cast<int>(std::floor(x / 6));
    const int column = static_cast<int>(std::floor(x)) - 6 * letter, row = static_cast<int>((t - kTop) / kDot);
    if (x < 0 || letter >= letters || column >= 5 || row > 6) return 0;
    const auto& glyph = letter < static_cast<int>(text.size()) ? kGlyphs[static_cast<std::size_t>(text[static_cast<std::size_t>(letter)] - '0')] : kGlyphs[10];
    return (glyph[static_cast<std::size_t>(row)] >> (4 - column)) & 1;
}

double EdgePrint::bars(double s, double t) const {
    constexpr double kBar = 0.34, kRun = 304.0, kLength = 58.0;  // bars along the lower edge, once in 64 perforations
    const double from_edge = strip_.film_width - t;
    if (from_edge < 0.35 || from_edge > 1.65) return 0;
    const double place = std::fmod(s + 40, kRun);
    if (place > kLength) return 0;
    return mix(seed_ ^ 0xba5, static_cast<std::uint64_t>(place / kBar)) & 1;
}

double EdgePrint::code(double s, double t) const {
    const double from_edge = strip_.film_width - t;
    if (from_edge < kCodeNearEdge || from_edge > kCodeFarEdge) return 0;
    for (const Symbol& symbol : symbols_) {
        const double module = std::floor((s - symbol.s0) / strip_.key.module);
        if (module >= 0 && module < static_cast<double>(symbol.modules.size())) return symbol.modules[static_cast<std::size_t>(module)] ? 1 : 0;
    }
    return 0;
}

double EdgePrint::at(double s, double t, double spot) const {
    if (strip_.marks == EdgeMarks::none) return 0;
    if (t > kMarkedEdge && t < strip_.film_width - kMarkedEdge) return 0;
    double sum = 0;
    for (int i = 0; i < 4; ++i) {
        const double qs = s + spot * (i % 2 - 0.5) / 2, qt = t + spot * (i / 2 - 0.5) / 2;
        switch (strip_.marks) {
            case EdgeMarks::none:
                break;
            case EdgeMarks::numbers:
                sum += number(qs, qt);
                break;
            case EdgeMarks::bars:
                sum += bars(qs, qt);
                break;
            case EdgeMarks::code:
                sum += 2 * qt < strip_.film_width ? number(qs, qt) : code(qs, qt);
                break;
        }
    }
    return sum / 4;
}

}  // namespace synthetic
