// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/assert.h"
#include "basefog/ledger/layout_file.h"
#include "ledger/constants.h"
#include "ledger/layout_marks.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>

namespace basefog {
namespace ledger_room {
namespace {

constexpr std::pair<FrameKind, std::string_view> kKinds[] = {{FrameKind::picture, "picture"}, {FrameKind::blank, "blank"}, {FrameKind::fogged, "fogged"}};
constexpr std::pair<StripDirection, std::string_view> kDirections[] = {{StripDirection::horizontal, "horizontal"}, {StripDirection::vertical, "vertical"}};
constexpr std::pair<ScaleOrigin, std::string_view> kOrigins[] = {{ScaleOrigin::file, "file"},
                                                                 {ScaleOrigin::option, "option"},
                                                                 {ScaleOrigin::perforations, "perforations"},
                                                                 {ScaleOrigin::film_width, "film width"},
                                                                 {ScaleOrigin::assumed, "assumed"}};

template <class Table, class T>
std::string_view word_in(const Table& table, T value) {
    for (const auto& [each, word] : table) {
        if (each == value) return word;
    }
    BASEFOG_ASSERT(!"a value without a word");
    return {};
}
template <class T, class Table>
std::optional<T> value_in(const Table& table, std::string_view word) {
    for (const auto& [value, each] : table) {
        if (each == word) return value;
    }
    return std::nullopt;
}

constexpr std::string_view kExplanation = R"(# Where the strips and frames lie. Change what is wrong, save, and run again with --layout and this file's name.
#
# Positions are pixels of the full scan: x to the right, y down, 0, 0 its top left corner. Corners are listed as the
# picture is read: top left, top right, bottom right, bottom left, once the strip is turned to run from left to right.
#
#   Move an edge:   change its corners' numbers; or add to the frame a line such as
#                       grow_left_px = 25      (also grow_top_px, grow_right_px, grow_bottom_px)
#                   which moves that edge 25 pixels outwards, or inwards when negative.
#   Move a frame:   add shift_px = 40, along the strip as it is read; negative is back.
#   Delete a frame: delete its block, from [[sheet.strip.frame]] to the next empty line.
#   Add a frame:    copy a neighbour's block, give it a number of its own, and add shift_px with one frame's advance.
#   Renumber:       change number. To rename a roll, change the strip's roll.
#   Say what it is: kind is "picture", "blank" (never exposed) or "fogged" (light all over).
#
# Lines that begin with found say how sure the program was; they may stay. They also show it which frames you changed.
)";

void write_frame(std::string& out, const FrameBox& frame, int number) {
    out += fmt::format("\n[[sheet.strip.frame]]\nnumber = {}\nkind = \"{}\"\ncorners = {}\n", number, word_for(frame.kind), corners_text(frame.corners));
    if (frame.by_hand) return;
    out += fmt::format("found = {{ confidence = {:.3f}, edge_std_mm = {:.4f}, {}check = \"{}\" }}\n", frame.confidence, frame.edge_std.value(),
                       frame.placed_by_pitch ? "by_pitch = true, " : "", check_digits(frame.corners, frame.kind));
}

void write_strip(std::string& out, const StripBox& strip, const StripNaming& naming) {
    BASEFOG_ASSERT(naming.numbers.size() == strip.frames.size());
    out += fmt::format("\n[[sheet.strip]]\nroll = {}\ndirection = \"{}\"\ncorners = {}\n", toml_string(naming.roll), word_for(strip.direction),
                       corners_text(strip.corners));
    out += fmt::format("found = {{ confidence = {:.3f}, perforations = {} }}\n", strip.confidence, strip.perforations_seen);
    for (std::size_t i = 0; i < strip.frames.size(); ++i) write_frame(out, strip.frames[i], naming.numbers[i]);
}

void write_sheet(std::string& out, const NamedLayout& sheet) {
    BASEFOG_ASSERT(sheet.names.size() == sheet.layout.strips.size());
    out += fmt::format("\n[[sheet]]\nfile = {}\n", toml_string(sheet.file));
    const double scale = sheet.layout.scale.value();
    if (scale > 0) {
        out += fmt::format("pixels_per_mm = {:.6f}   # one frame's advance, {} mm, is {:.0f} px\n", scale, kFramePitch.value(),
                           to_px(kFramePitch, sheet.layout.scale));
        out += fmt::format("scale_from = \"{}\"\n", word_for(sheet.layout.scale_origin));
    }
    for (std::size_t i = 0; i < sheet.layout.strips.size(); ++i) write_strip(out, sheet.layout.strips[i], sheet.names[i]);
}

/// To 0.01 px, and never "-0.00".
std::string coordinate(double value) {
    std::string text = fmt::format("{:.2f}", value);
    return text == "-0.00" ? "0.00" : text;
}

}  // namespace

std::string_view word_for(FrameKind kind) { return word_in(kKinds, kind); }
std::string_view word_for(StripDirection direction) { return word_in(kDirections, direction); }
std::string_view word_for(ScaleOrigin origin) { return word_in(kOrigins, origin); }
std::optional<FrameKind> frame_kind(std::string_view word) { return value_in<FrameKind>(kKinds, word); }
std::optional<StripDirection> strip_direction(std::string_view word) { return value_in<StripDirection>(kDirections, word); }
std::optional<ScaleOrigin> scale_origin(std::string_view word) { return value_in<ScaleOrigin>(kOrigins, word); }

std::string corners_text(const Quad& corners) {
    std::string out = "[";
    for (std::size_t i = 0; i < corners.size(); ++i) out += fmt::format("{}[{}, {}]", i ? ", " : "", coordinate(corners[i].x), coordinate(corners[i].y));
    return out + "]";
}

std::string check_digits(const Quad& corners, FrameKind kind) {
    std::uint32_t hash = 2166136261u;  // Defined: FNV-1a's offset basis and prime for 32 bits
    for (const char c : corners_text(corners) + std::string(word_for(kind))) hash = (hash ^ static_cast<unsigned char>(c)) * 16777619u;
    return fmt::format("{:08x}", hash);
}

}  // namespace ledger_room

std::string layout_text(const std::vector<NamedLayout>& sheets) {
    std::string out(ledger_room::kExplanation);
    for (const NamedLayout& sheet : sheets) ledger_room::write_sheet(out, sheet);
    return out;
}

}  // namespace basefog
