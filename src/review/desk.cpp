// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/desk.h"

#include "basefog/core/pending_file.h"
#include "review/print_wire.h"
#include "review/wire.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace basefog::review {
namespace {

using Json = nlohmann::ordered_json;

const std::vector<std::string> kSettingsHead{
    "How positives are wanted, as chosen on the page of basefog review. A run made again from there uses it, and so does", "",
    "  basefog invert --settings THIS-FILE"};

std::string report_path(const std::string& folder) { return (std::filesystem::path(folder) / "report.json").string(); }
std::string name_of_file(const std::string& path) { return std::filesystem::path(path).filename().string(); }

/// A frame the page sends back untouched stays what it was: found by the program, with what it thought of it.
void keep_untouched(NamedLayout& sent, const NamedLayout& before) {
    for (StripBox& strip : sent.layout.strips)
        for (FrameBox& frame : strip.frames)
            for (const StripBox& old_strip : before.layout.strips)
                for (const FrameBox& old : old_strip.frames)
                    if (same_place(frame.corners, old.corners) && frame.kind == old.kind) frame = old;
}

/// Adds to each frame what it has of its own of print, and tells every roll's.
Json rolls_json(Json& sheets, const Settings& settings) {
    Json rolls = Json::object();
    for (Json& sheet : sheets)
        for (Json& strip : sheet["strips"]) {
            const auto roll = strip["roll"].get<std::string>();
            rolls[roll] = choices_json(chosen(values_of_roll(settings, roll)));
            for (Json& frame : strip["frames"]) frame["print"] = choices_json(own_of_frame(settings, roll, frame["number"].get<int>()));
        }
    return rolls;
}

/// What is sent of each frame of a roll: its number, and its own choices.
using FrameChoices = std::vector<RollPrintChoices::Frame>;
FrameChoices frames_sent(const nlohmann::json& sheets, const std::string& roll) {
    FrameChoices frames;
    for (const nlohmann::json& sheet : sheets)
        for (const nlohmann::json& strip : sheet.at("strips")) {
            if (strip.at("roll").get<std::string>() != roll) continue;
            for (const nlohmann::json& frame : strip.at("frames")) frames.push_back({frame.at("number").get<int>(), choices_of(frame.at("print"))});
        }
    return frames;
}

PrintValues values_of_frame(const Settings& settings, const std::string& roll, int number) {
    return overlaid(values_of_roll(settings, roll), own_of_frame(settings, roll, number));
}

/// Takes a roll's choices over. A frame is written down, whole, where it differs from its roll, or where the ledger would be heard otherwise. True where
/// that makes any difference.
bool take_over(Settings& settings, const std::string& name, const PrintValues& values, const FrameChoices& frames, const Desk::ToldOfFrame& told) {
    RollPrintChoices roll{name, chosen(values), {}};
    bool differs = values_of_roll(settings, name) != values;
    for (const auto& frame : frames) {
        const PrintValues own = overlaid(values, frame.print);
        differs = differs || values_of_frame(settings, name, frame.number) != own;
        const bool twice = std::any_of(roll.frames.begin(), roll.frames.end(), [&](const auto& each) { return each.number == frame.number; });
        if (!twice && (own != values || (told && told(name, frame.number)))) roll.frames.push_back({frame.number, chosen(own)});
    }
    const auto place = std::find_if(settings.rolls.begin(), settings.rolls.end(), [&](const auto& each) { return each.roll == name; });
    if (place == settings.rolls.end())
        settings.rolls.push_back(std::move(roll));
    else
        *place = std::move(roll);
    return differs;
}

}  // namespace

std::string bytes_of(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

Result<Desk> Desk::open(DeskPaths paths, ToldOfFrame told_of_frame) {
    Desk desk;
    desk.paths_ = std::move(paths);
    desk.told_of_frame_ = std::move(told_of_frame);
    desk.revision_ = 0;
    if (auto read = desk.reload(); !read) return Failure(std::move(read.error()));
    return desk;
}

Desk::Bytes Desk::read_bytes() const {
    return {bytes_of(report_path(paths_.folder)), bytes_of(paths_.layout), run_settings_path_.empty() ? std::string() : bytes_of(run_settings_path_),
            bytes_of(paths_.settings)};
}

Result<void> Desk::reload() {
    const std::string report = bytes_of(report_path(paths_.folder));
    if (report.empty()) return fail(ErrorCode::not_found, "holds no report.json", paths_.folder, "give the results folder of basefog invert or measure");
    auto sheets = sheets_of_report(report, report_path(paths_.folder));
    if (!sheets) return Failure(std::move(sheets.error()));
    auto run = run_of_report(report, report_path(paths_.folder));
    if (!run) return Failure(std::move(run.error()));
    run_settings_path_ = run->settings_file.empty() ? std::string() : (std::filesystem::path(paths_.folder) / run->settings_file).string();
    Bytes bytes = read_bytes();
    if (!bytes.layout.empty()) {
        auto saved = parse_layouts(bytes.layout, paths_.layout);
        if (!saved) return Failure(std::move(saved.error()));
        for (SheetOnDesk& sheet : *sheets)
            for (const NamedLayout& one : *saved)
                if (one.file == sheet.layout.file) sheet.layout = one;
    }
    settings_.reset();
    if (!run_settings_path_.empty()) {
        auto settings = bytes.settings.empty() ? parse_settings(bytes.run_settings, run_settings_path_) : parse_settings(bytes.settings, paths_.settings);
        if (!settings) return Failure(std::move(settings.error()));
        settings_ = std::move(*settings);
    }
    sheets_ = std::move(*sheets);
    bytes_ = std::move(bytes);
    ++revision_;
    return {};
}

bool Desk::stale() const { return read_bytes() != bytes_; }

Json Desk::state() const {
    Json sheets = Json::array();
    for (const SheetOnDesk& sheet : sheets_) sheets.push_back(sheet_json(sheet));
    Json rolls = settings_ ? rolls_json(sheets, *settings_) : Json();
    return {{"revision", revision_},
            {"layout", name_of_file(paths_.layout)},
            {"settings", name_of_file(paths_.settings)},
            {"sheets", std::move(sheets)},
            {"rolls", std::move(rolls)}};
}

Result<std::optional<std::vector<NamedLayout>>> Desk::changed_layouts(const nlohmann::json& sent) const {
    auto layouts = layouts_of_json(sent);
    if (!layouts) return Failure(std::move(layouts.error()));
    bool changed = layouts->size() != sheets_.size();
    for (NamedLayout& layout : *layouts)
        for (const SheetOnDesk& sheet : sheets_)
            if (sheet.layout.file == layout.file) {
                layout.layout.scale = sheet.layout.layout.scale;
                layout.layout.scale_origin = sheet.layout.layout.scale_origin;
                changed = changed || !same_layout(layout, sheet.layout);
                keep_untouched(layout, sheet.layout);
            }
    if (!changed) return std::nullopt;
    auto read_back = parse_layouts(layout_text(*layouts), paths_.layout);  // refuses what a run would refuse, in the same words
    if (!read_back) return Failure(std::move(read_back.error()));
    return std::move(*read_back);
}

Result<std::optional<Settings>> Desk::changed_settings(const nlohmann::json& sent) const {
    if (!settings_ || !sent.contains("rolls")) return std::nullopt;
    return guarded(paths_.settings, [&]() -> std::optional<Settings> {
        Settings settings = *settings_;
        settings.path = paths_.settings;
        bool changed = false;
        for (const auto& [name, values] : sent.at("rolls").items())
            changed |= take_over(settings, name, overlaid({}, choices_of(values)), frames_sent(sent.at("sheets"), name), told_of_frame_);
        return changed ? std::optional(std::move(settings)) : std::nullopt;
    });
}

Result<void> Desk::write(const std::string& layout, const std::string& settings) {
    if (!layout.empty())
        if (auto written = write_whole_file(paths_.layout, layout); !written) return written;
    if (settings.empty()) return {};
    auto written = write_whole_file(paths_.settings, settings);
    if (written || layout.empty()) return written;
    // Both or neither.
    std::error_code ignored;
    if (bytes_.layout.empty())
        std::filesystem::remove(paths_.layout, ignored);
    else
        (void)write_whole_file(paths_.layout, bytes_.layout);
    return written;
}

Result<std::vector<std::string>> Desk::save(const nlohmann::json& sent, int revision) {
    if (revision != revision_)
        return fail(ErrorCode::usage, "was saved from another page in the meantime", paths_.folder,
                    "load the page again; what was changed here since is not saved");
    if (stale())
        return fail(ErrorCode::usage, "was changed on disk in the meantime", paths_.folder, "load the page again; what was changed here since is not saved");
    if (!sent.is_object() || !sent.contains("sheets")) return fail(ErrorCode::malformed, "this is no layout");
    auto layouts = changed_layouts(sent["sheets"]);
    if (!layouts) return Failure(std::move(layouts.error()));
    auto settings = changed_settings(sent);
    if (!settings) return Failure(std::move(settings.error()));
    const std::string layout_bytes = *layouts ? layout_text(**layouts) : std::string();
    const std::string settings_bytes = *settings ? settings_text(**settings, kSettingsHead) : std::string();
    if (*settings)
        if (auto read_back = parse_settings(settings_bytes, paths_.settings); !read_back) return Failure(std::move(read_back.error()));
    if (auto written = write(layout_bytes, settings_bytes); !written) return Failure(std::move(written.error()));
    if (*settings) {
        bytes_.settings = settings_bytes;
        settings_ = std::move(*settings);
    }
    if (*layouts) {
        bytes_.layout = layout_bytes;
        for (NamedLayout& layout : **layouts)
            for (SheetOnDesk& sheet : sheets_)
                if (sheet.layout.file == layout.file) sheet.layout = std::move(layout);
    }
    ++revision_;
    std::vector<std::string> written;
    if (*layouts) written.push_back(name_of_file(paths_.layout));
    if (!settings_bytes.empty()) written.push_back(name_of_file(paths_.settings));
    return written;
}

}  // namespace basefog::review
