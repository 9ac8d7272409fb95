// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/layout_file.h"
#include "ledger/constants.h"
#include "ledger/fields.h"
#include "ledger/layout_geometry.h"
#include "ledger/layout_marks.h"
#include "ledger/nearest.h"
#include "ledger/text_checks.h"
#include "ledger/toml_document.h"

#include <fmt/format.h>
#include <algorithm>
#include <numeric>
#include <set>

namespace basefog {
namespace ledger_room {
namespace {

constexpr Range kNumber{0, 9999, "", "7"};
constexpr Range kScale{1, 1000, "px/mm", "125.984252"};
constexpr Range kShare{0, 1, "", "0.95"};
constexpr Range kEdgeStd{0, 50, "mm", "0.05"};
constexpr Range kNudgePx{-100000, 100000, "px", "25"};
constexpr Range kCoordinate{-kMaxCoordinate, kMaxCoordinate, "px", "1234.50"};
constexpr const char* kCornersExample = "corners = [[10, 10], [4510, 10], [4510, 3010], [10, 3010]]";

/// Corners as written, not yet judged.
std::optional<Quad> read_corners(Fields& fields) {
    const toml::array* list = fields.array("corners", kCornersExample);
    if (!list) return std::nullopt;
    Quad corners{};
    bool whole = list->size() == corners.size();
    for (std::size_t i = 0; whole && i < corners.size(); ++i) {
        const toml::array* pair = (*list)[i].as_array();
        whole = pair && pair->size() == 2 && (*pair)[0].is_number() && (*pair)[1].is_number();
        if (!whole) break;
        const auto x = fields.number_in("corners", (*pair)[0], kCoordinate), y = fields.number_in("corners", (*pair)[1], kCoordinate);
        if (!x || !y) return std::nullopt;
        corners[i] = {*x, *y};
    }
    if (whole) return corners;
    fields.wrong_value("corners", *list, "must be four corners of two numbers each", fmt::format("for example {}", kCornersExample));
    return std::nullopt;
}

template <class T>
T word_value(Fields& fields, std::string_view key, T otherwise, std::optional<T> (*meaning)(std::string_view), const char* words) {
    const auto text = fields.text(key, words);
    if (!text) return otherwise;
    const auto value = meaning(text->text);
    if (!value)
        fields.problems().add(text->place, fmt::format("\"{}\" of {} is {}", key, fields.owner(), in_quotes(text->text)), fmt::format("write {}", words));
    return value.value_or(otherwise);
}

/// One strip while it is read.
struct StripDraft {
    StripBox box;
    StripNaming naming;
    std::vector<Place> places;  ///< of its frames
};

/// What the program said about a frame when it wrote the file.
struct Found {
    double confidence = 0, edge_std_mm = 0;
    bool by_pitch = false;
    std::string check;
};
std::optional<Found> read_found(Fields& frame) {
    const toml::table* table = frame.table("found", "leave the line as it was written, or delete it");
    if (!table) return std::nullopt;
    Fields fields(*table, "found of " + frame.owner(), place_of(*table), frame.problems());
    Found found;
    found.confidence = fields.number("confidence", kShare).value_or(0);
    found.edge_std_mm = fields.number("edge_std_mm", kEdgeStd).value_or(0);
    found.by_pitch = fields.flag("by_pitch").value_or(false);
    found.check = fields.plain_text("check", "\"1a2b3c4d\"");
    fields.reject_unknown();
    return found;
}

Nudge read_nudge(Fields& fields) {
    Nudge nudge;
    nudge.left = fields.number("grow_left_px", kNudgePx).value_or(0);
    nudge.top = fields.number("grow_top_px", kNudgePx).value_or(0);
    nudge.right = fields.number("grow_right_px", kNudgePx).value_or(0);
    nudge.bottom = fields.number("grow_bottom_px", kNudgePx).value_or(0);
    nudge.along = fields.number("shift_px", kNudgePx).value_or(0);
    return nudge;
}

/// The frame's final corners; nullopt when something is wrong with them, which is then noted.
std::optional<Quad> settle_corners(Fields& fields, const Quad& written, const Quad& strip, const Nudge& nudge) {
    const auto ordered = in_reading_order(written, strip);
    const Quad& usable = ordered ? *ordered : written;
    const Quad corners = ordered ? nudged(*ordered, strip, nudge) : written;
    auto wrong = why_not_a_quad(usable);
    if (!wrong && !ordered) wrong = "do not lie around their centre like a frame of this strip";
    if (!wrong && (why_not_a_quad(corners) || in_reading_order(corners, strip) != corners)) wrong = "span no area once its edges are moved";
    const PointPx middle = centre(corners);
    if (!wrong && !contains(strip, middle)) wrong = fmt::format("have their centre at {:.0f}, {:.0f}, outside the strip", middle.x, middle.y);
    if (!wrong) return corners;
    fields.problems().add(fields.place(), fmt::format("the corners of {} {}", fields.owner(), *wrong),
                          "list them as the picture is read: top left, top right, bottom right, bottom left; a frame lies within its strip's corners");
    return std::nullopt;
}

void read_frame(const toml::table& table, const std::string& strip_owner, StripDraft& strip, bool strip_usable, Problems& problems) {
    Fields fields(table, fmt::format("frame {} of {}", strip.places.size() + 1, strip_owner), place_of(table), problems);
    const auto number = fields.whole("number", kNumber);
    FrameBox frame;
    frame.kind = word_value(fields, "kind", FrameKind::picture, frame_kind, "\"picture\", \"blank\" or \"fogged\"");
    const auto written = read_corners(fields);
    const auto found = read_found(fields);
    const Nudge nudge = read_nudge(fields);
    fields.reject_unknown();
    if (!table.contains("number")) fields.missing("number", "7");
    if (!table.contains("corners")) fields.missing("corners", std::string_view(kCornersExample).substr(10));
    strip.places.push_back(fields.place());
    strip.naming.numbers.push_back(number.value_or(-1));
    if (written && strip_usable) frame.corners = settle_corners(fields, *written, strip.box.corners, nudge).value_or(*written);
    frame.by_hand = !found || !written || nudge != Nudge{} || found->check != check_digits(*written, frame.kind);
    frame.confidence = frame.by_hand ? 1 : found->confidence;
    frame.edge_std = frame.by_hand ? kHandEdgeStd : Millimetres(found->edge_std_mm);
    frame.placed_by_pitch = !frame.by_hand && found->by_pitch;
    strip.box.frames.push_back(frame);
}

/// Reading order is the order along the strip, in whichever direction the file lists most of its frames.
void sort_along_strip(StripDraft& strip) {
    const std::size_t count = strip.box.frames.size();
    std::vector<double> at(count);
    std::transform(strip.box.frames.begin(), strip.box.frames.end(), at.begin(),
                   [&](const FrameBox& frame) { return along_strip(frame.corners, strip.box.corners); });
    std::ptrdiff_t forwards = 0;
    for (std::size_t i = 1; i < count; ++i) forwards += at[i] >= at[i - 1] ? 1 : -1;
    std::vector<std::size_t> order(count);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return forwards >= 0 ? at[a] < at[b] : at[a] > at[b]; });
    StripDraft sorted = strip;
    for (std::size_t i = 0; i < count; ++i) {
        sorted.box.frames[i] = strip.box.frames[order[i]];
        sorted.naming.numbers[i] = strip.naming.numbers[order[i]];
        sorted.places[i] = strip.places[order[i]];
    }
    strip = std::move(sorted);
}

void check_frames_apart(const StripDraft& strip, const std::string& owner, Problems& problems) {
    std::set<int> numbers;
    for (std::size_t i = 0; i < strip.box.frames.size(); ++i) {
        const int number = strip.naming.numbers[i];
        if (number >= 0 && !numbers.insert(number).second) {
            problems.add(strip.places[i], fmt::format("{} has two frames with the number {}", owner, number), "give each a number of its own");
        }
        if (i == 0) continue;
        const Quad &before = strip.box.frames[i - 1].corners, &here = strip.box.frames[i].corners;
        if (!contains(before, centre(here)) && !contains(here, centre(before))) continue;
        problems.add(std::max(strip.places[i], strip.places[i - 1]),
                     fmt::format("two frames of {}, number {} and {}, lie over each other", owner, strip.naming.numbers[i - 1], number),
                     "add shift_px to one of them, or delete it");
    }
}

bool settle_strip_corners(Fields& fields, StripBox& box) {
    const auto written = read_corners(fields);
    if (!written) return false;
    auto wrong = why_not_a_quad(*written);
    const PointPx axis = (*written)[1] - (*written)[0];
    const bool lies_flat = std::abs(axis.x) >= std::abs(axis.y);
    if (!wrong && lies_flat != (box.direction == StripDirection::horizontal)) {
        wrong = fmt::format("run {} although its direction is \"{}\"", lies_flat ? "across the scan" : "down the scan", word_for(box.direction));
    }
    if (wrong) {
        fields.problems().add(fields.place(), fmt::format("the corners of {} {}", fields.owner(), *wrong),
                              "list them as the strip is read: begin above, end above, end below, begin below");
        return false;
    }
    box.corners = *written;
    box.angle_deg = strip_angle_deg(box.corners, box.direction);
    return true;
}

void read_strip_found(Fields& strip, StripBox& box) {
    box.confidence = 1;
    const toml::table* table = strip.table("found", "leave the line as it was written, or delete it");
    if (!table) return;
    Fields fields(*table, "found of " + strip.owner(), place_of(*table), strip.problems());
    box.confidence = fields.number("confidence", kShare).value_or(1);
    box.perforations_seen = fields.flag("perforations").value_or(false);
    fields.reject_unknown();
}

/// The tables of a list of tables; anything else in it is noted.
std::vector<const toml::table*> tables_in(Fields& owner, std::string_view key, const std::string& heading) {
    std::vector<const toml::table*> tables;
    const toml::node* node = owner.any(key);
    if (!node) return tables;
    const std::string right = fmt::format("write [[{}]], in double brackets, above the keys of each", heading);
    const toml::array* list = node->as_array();
    if (!list)
        owner.problems().add(place_of(*node), fmt::format("\"{}\" of {} is {}, but must be a list of tables", key, owner.owner(), type_in_words(*node)), right);
    if (!list) return tables;
    for (const toml::node& one : *list) {
        if (one.is_table()) tables.push_back(one.as_table());
        if (!one.is_table())
            owner.problems().add(place_of(one), fmt::format("\"{}\" of {} holds {}, but must hold tables", key, owner.owner(), type_in_words(one)), right);
    }
    return tables;
}

StripDraft read_strip(const toml::table& table, const std::string& owner, Problems& problems) {
    Fields fields(table, owner, place_of(table), problems);
    StripDraft strip;
    if (const auto roll = fields.required_text("roll", "\"R1\"")) strip.naming.roll = roll->text;
    strip.box.direction = word_value(fields, "direction", StripDirection::horizontal, strip_direction, "\"horizontal\" or \"vertical\"");
    const bool usable = settle_strip_corners(fields, strip.box);
    if (!table.contains("corners")) fields.missing("corners", std::string_view(kCornersExample).substr(10));
    read_strip_found(fields, strip.box);
    for (const toml::table* frame : tables_in(fields, "frame", "sheet.strip.frame")) read_frame(*frame, owner, strip, usable, problems);
    fields.reject_unknown();
    if (!usable || !problems.empty()) return strip;
    sort_along_strip(strip);
    check_frames_apart(strip, owner, problems);
    return strip;
}

NamedLayout read_sheet(const toml::table& table, std::size_t number, std::set<std::string>& files, Problems& problems) {
    Fields fields(table, fmt::format("sheet {}", number), place_of(table), problems);
    NamedLayout sheet;
    if (const auto file = fields.required_text("file", "\"scans/sheet-01.tif\"")) {
        sheet.file = file->text;
        if (!files.insert(file->text).second) problems.add(file->place, fmt::format("sheet {} stands twice", in_quotes(file->text)), "keep one of the two");
    }
    const auto scale = fields.number("pixels_per_mm", kScale);
    if (scale) sheet.layout.scale = PixelsPerMm(*scale);
    sheet.layout.scale_origin = word_value(fields, "scale_from", scale ? ScaleOrigin::option : ScaleOrigin::file, scale_origin,
                                           "\"file\", \"option\", \"perforations\", \"film width\" or \"assumed\"");
    std::size_t count = 0;
    for (const toml::table* strip : tables_in(fields, "strip", "sheet.strip")) {
        StripDraft draft = read_strip(*strip, fmt::format("strip {} of sheet {}", ++count, number), problems);
        sheet.layout.strips.push_back(std::move(draft.box));
        sheet.names.push_back(std::move(draft.naming));
    }
    fields.reject_unknown();
    return sheet;
}

}  // namespace
}  // namespace ledger_room

Result<std::vector<NamedLayout>> parse_layouts(const std::string& text, const std::string& path) {
    using namespace ledger_room;
    const auto document = parse_toml(text, path);
    if (!document) return Failure(document.error());
    Problems problems;
    Fields root(*document, "the layout", {}, problems);
    std::vector<NamedLayout> sheets;
    std::set<std::string> files;
    for (const toml::table* sheet : tables_in(root, "sheet", "sheet")) sheets.push_back(read_sheet(*sheet, sheets.size() + 1, files, problems));
    root.reject_unknown();
    if (!problems.empty()) return Failure(problems.to_error(path));
    return sheets;
}

Result<std::vector<NamedLayout>> read_layouts(const std::string& path) {
    const auto text = ledger_room::read_text_file(path);
    if (!text) return Failure(text.error());
    return parse_layouts(*text, path);
}

}  // namespace basefog
