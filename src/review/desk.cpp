// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/desk.h"

#include "basefog/core/pending_file.h"
#include "review/wire.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace basefog::review {
namespace {

using Json = nlohmann::ordered_json;

std::string report_path(const std::string& folder) { return (std::filesystem::path(folder) / "report.json").string(); }

/// A frame the page sends back untouched stays what it was: found by the program, with what it thought of it.
void keep_untouched(NamedLayout& sent, const NamedLayout& before) {
    for (StripBox& strip : sent.layout.strips)
        for (FrameBox& frame : strip.frames)
            for (const StripBox& old_strip : before.layout.strips)
                for (const FrameBox& old : old_strip.frames)
                    if (same_place(frame.corners, old.corners) && frame.kind == old.kind) frame = old;
}

}  // namespace

std::string bytes_of(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

Result<Desk> Desk::open(std::string folder, std::string layout_path) {
    Desk desk;
    desk.folder_ = std::move(folder);
    desk.layout_path_ = std::move(layout_path);
    desk.revision_ = 0;
    if (auto read = desk.reload(); !read) return Failure(std::move(read.error()));
    return desk;
}

Result<void> Desk::reload() {
    const std::string report = bytes_of(report_path(folder_));
    if (report.empty()) return fail(ErrorCode::not_found, "holds no report.json", folder_, "give the results folder of basefog invert or measure");
    auto sheets = sheets_of_report(report, report_path(folder_));
    if (!sheets) return Failure(std::move(sheets.error()));
    const std::string layout = bytes_of(layout_path_);
    if (!layout.empty()) {
        auto saved = parse_layouts(layout, layout_path_);
        if (!saved) return Failure(std::move(saved.error()));
        for (SheetOnDesk& sheet : *sheets)
            for (const NamedLayout& one : *saved)
                if (one.file == sheet.layout.file) sheet.layout = one;
    }
    sheets_ = std::move(*sheets);
    report_bytes_ = report;
    layout_bytes_ = layout;
    ++revision_;
    return {};
}

bool Desk::stale() const { return bytes_of(layout_path_) != layout_bytes_ || bytes_of(report_path(folder_)) != report_bytes_; }

Json Desk::state() const {
    Json state = {{"revision", revision_}, {"layout", std::filesystem::path(layout_path_).filename().string()}, {"sheets", Json::array()}};
    for (const SheetOnDesk& sheet : sheets_) state["sheets"].push_back(sheet_json(sheet));
    return state;
}

Result<void> Desk::save(const nlohmann::json& sent, int revision) {
    if (revision != revision_)
        return fail(ErrorCode::usage, "the layout was saved from another page in the meantime", layout_path_,
                    "load the page again; what was changed here since is not saved");
    if (stale())
        return fail(ErrorCode::usage, "was changed on disk in the meantime", layout_path_, "load the page again; what was changed here since is not saved");
    auto layouts = layouts_of_json(sent);
    if (!layouts) return Failure(std::move(layouts.error()));
    for (NamedLayout& layout : *layouts)
        for (const SheetOnDesk& sheet : sheets_)
            if (sheet.layout.file == layout.file) {
                layout.layout.scale = sheet.layout.layout.scale;
                layout.layout.scale_origin = sheet.layout.layout.scale_origin;
                keep_untouched(layout, sheet.layout);
            }
    const std::string text = layout_text(*layouts);
    auto read_back = parse_layouts(text, layout_path_);  // refuses what a run would refuse, in the same words
    if (!read_back) return Failure(std::move(read_back.error()));
    if (auto written = write_whole_file(layout_path_, text); !written) return written;
    layout_bytes_ = text;
    for (NamedLayout& layout : *read_back)
        for (SheetOnDesk& sheet : sheets_)
            if (sheet.layout.file == layout.file) sheet.layout = std::move(layout);
    ++revision_;
    return {};
}

}  // namespace basefog::review
