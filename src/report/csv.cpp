// SPDX-License-Identifier: GPL-3.0-or-later
// frames.csv [RFC4180]: CRLF after every record, cells with comma, quote or line break quoted, quotes doubled.
// A text cell whose first visible character is one a spreadsheet takes for the start of a formula gets a leading apostrophe.
#include "basefog/report/write_report.h"
#include "report/gather.h"
#include "report/names.h"
#include "report/text.h"

#include <fmt/format.h>

#include <cmath>
#include <functional>

namespace basefog {
namespace report {
namespace {

/// ASCII signs and their full-width forms, which some spreadsheets read alike. Common practice, no standard.
bool looks_like_formula(std::string_view text) {
    text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
    for (const std::string_view start : {"=", "+", "-", "@", "\xef\xbc\x9d", "\xef\xbc\x8b", "\xef\xbc\x8d", "\xef\xbc\xa0"})
        if (text.substr(0, start.size()) == start) return true;
    return false;
}

std::string text_cell(std::string_view text) {
    std::string cell = clean(text);
    if (looks_like_formula(cell)) cell.insert(0, 1, '\'');
    if (cell.find_first_of("\",\r\n") == std::string::npos) return cell;
    std::string quoted = "\"";
    for (const char c : cell) quoted += c == '"' ? "\"\"" : std::string(1, c);
    return quoted + "\"";
}

/// As short as it reads back; empty for what is not finite or not known.
std::string cell(double value) { return std::isfinite(value) ? fmt::format("{}", value == 0 ? 0.0 : value) : std::string(); }
std::string cell(bool value) { return value ? "yes" : "no"; }
std::string cell(int value) { return fmt::format("{}", value); }
template <class Tag>
std::string cell(Quantity<Tag> value) {
    return cell(value.value());
}
template <class T>
std::string cell(const std::optional<T>& value) {
    return value ? cell(*value) : std::string();
}

struct Row {
    const ScanRecord& scan;
    int strip_number;  // from 1, in scan order
    const StripRecord& strip;
    const FrameRecord& frame;
    const RollRecord& roll;  // an empty one when the strip's roll is not in the record
};

struct Column {
    const char* name;
    std::function<std::string(const Row&)> cell_of;
};

/// Exposure figures only where there is a picture.
template <class Get>
std::function<std::string(const Row&)> if_exposed(Get get) {
    return [get](const Row& row) { return has_exposure(row.frame) ? cell(get(row.frame.exposure)) : std::string(); };
}

std::string session_of(const Row& r) { return !r.roll.roll.session.empty() || !r.roll.session ? r.roll.roll.session : r.roll.session->id; }
std::string bath_of(const Row& r) { return r.roll.bath ? r.roll.bath->id : r.roll.session ? r.roll.session->bath : std::string(); }

const std::vector<Column>& columns() {
    static const std::vector<Column> kColumns = {
        {"roll", [](const Row& r) { return text_cell(r.strip.roll); }},
        {"stock", [](const Row& r) { return text_cell(stock_name(r.roll)); }},
        {"box_speed_ei", [](const Row& r) { return cell(r.roll.facts.box_speed); }},
        {"rating_ei", [](const Row& r) { return cell(r.roll.roll.rating ? r.roll.roll.rating : r.roll.facts.rating); }},
        {"light_kelvin", [](const Row& r) { return cell(r.roll.roll.light ? r.roll.roll.light : r.roll.facts.light); }},
        {"session", [](const Row& r) { return text_cell(session_of(r)); }},
        {"session_date", [](const Row& r) { return r.roll.session && r.roll.session->date ? to_string(*r.roll.session->date) : std::string(); }},
        {"process", [](const Row& r) { return text_cell(r.roll.session ? r.roll.session->process : r.roll.facts.process); }},
        {"bath", [](const Row& r) { return text_cell(bath_of(r)); }},
        {"rolls_done_before_in_bath", [](const Row& r) { return cell(r.roll.rolls_done_before); }},
        {"bath_age_days", [](const Row& r) { return cell(r.roll.bath_age_days); }},
        {"tank", [](const Row& r) { return text_cell(r.roll.roll.tank); }},
        {"reel", [](const Row& r) { return cell(r.roll.roll.reel); }},
        {"scan", [](const Row& r) { return text_cell(r.scan.file); }},
        {"strip_on_scan", [](const Row& r) { return cell(r.strip_number); }},
        {"frame_number", [](const Row& r) { return cell(r.frame.number); }},
        {"kind", [](const Row& r) { return std::string(name_of(r.frame.box.kind)); }},
        {"confidence_0_to_1", [](const Row& r) { return cell(r.frame.box.confidence); }},
        {"placed_by_pitch", [](const Row& r) { return cell(r.frame.box.placed_by_pitch); }},
        {"by_hand", [](const Row& r) { return cell(r.frame.box.by_hand); }},
        {"exposure_offset_stops", if_exposed([](const FrameExposure& e) { return e.offset.value; })},
        {"exposure_offset_std_stops", if_exposed([](const FrameExposure& e) { return e.offset.std_uncertainty; })},
        {"shadow_lost_percent", if_exposed([](const FrameExposure& e) { return e.shadow_lost_percent.value; })},
        {"shadow_lost_std_percent", if_exposed([](const FrameExposure& e) { return e.shadow_lost_percent.std_uncertainty; })},
        {"highlight_lost_percent", if_exposed([](const FrameExposure& e) { return e.highlight_lost_percent.value; })},
        {"highlight_lost_std_percent", if_exposed([](const FrameExposure& e) { return e.highlight_lost_percent.std_uncertainty; })},
        {"base_density_red", [](const Row& r) { return cell(r.strip.base.base.r.value); }},
        {"base_density_green", [](const Row& r) { return cell(r.strip.base.base.g.value); }},
        {"base_density_blue", [](const Row& r) { return cell(r.strip.base.base.b.value); }},
        {"strip_residue_grade", [](const Row& r) { return std::string(name_of(r.strip.residue.grade)); }},
        {"strip_residue_area_percent", [](const Row& r) { return cell(r.strip.residue.area_percent.value); }},
        {"strip_veil_density", [](const Row& r) { return cell(r.strip.residue.veil.value); }},
        {"frame_residue_area_percent", [](const Row& r) { return cell(r.frame.residue_area_percent); }},
        {"roll_verdict", [](const Row& r) { return r.roll.roll.id.empty() ? std::string() : std::string(name_of(r.roll.film.verdict.outcome)); }},
        {"positive", [](const Row& r) { return text_cell(r.frame.positive); }},
        {"proof", [](const Row& r) { return text_cell(r.frame.proof); }},
    };
    return kColumns;
}

template <class CellOf>
void append_record(std::string& csv, CellOf cell_of) {
    bool first = true;
    for (const Column& column : columns()) {
        if (!first) csv += ',';
        first = false;
        csv += cell_of(column);
    }
    csv += "\r\n";
}

}  // namespace
}  // namespace report

std::string frames_csv(const RunRecord& record) {
    using namespace report;
    static const RollRecord kUnknown;
    std::string csv;
    append_record(csv, [](const Column& column) { return std::string(column.name); });
    for (const ScanRecord& scan : record.scans) {
        int strip_number = 0;
        for (const StripRecord& strip : scan.strips) {
            ++strip_number;
            const std::optional<int> roll = find_roll(record, strip.roll);
            for (const FrameRecord& frame : strip.frames) {
                const Row row{scan, strip_number, strip, frame, roll ? record.rolls[static_cast<std::size_t>(*roll)] : kUnknown};
                append_record(csv, [&](const Column& column) { return column.cell_of(row); });
            }
        }
    }
    return csv;
}

}  // namespace basefog
