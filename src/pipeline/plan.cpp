// SPDX-License-Identifier: GPL-3.0-or-later
#include "plan.h"

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <map>
#include <numeric>
#include <set>

namespace basefog::pipeline {
namespace {

namespace fs = std::filesystem;

std::string canonical(const std::string& path) {
    std::error_code ignored;
    const fs::path result = fs::weakly_canonical(fs::absolute(path, ignored), ignored);
    return result.empty() ? path : result.string();
}

/// The ledger's entry for a scan: the same file, or else the only entry of that file name.
const Sheet* sheet_of(const Ledger& ledger, const std::string& path) {
    const std::string wanted = canonical(path);
    for (const Sheet& sheet : ledger.sheets)
        if (canonical(sheet.path) == wanted) return &sheet;
    const Sheet* by_name = nullptr;
    for (const Sheet& sheet : ledger.sheets) {
        if (fs::path(sheet.path).filename() != fs::path(path).filename()) continue;
        if (by_name != nullptr) return nullptr;
        by_name = &sheet;
    }
    return by_name;
}

Result<SheetPlan> plan_sheet(const RunOptions& options, std::string file, std::string path, const Sheet* sheet) {
    SheetPlan plan{std::move(file), std::move(path), {}, options.scan, {}, {}};
    plan.scan.memory_bytes = std::max<std::int64_t>(options.memory_bytes / 4, 16 << 20);
    if (sheet == nullptr) return plan;
    plan.sheet = *sheet;
    if (plan.scan.infrared_path.empty() && !plan.scan.ignore_infrared) plan.scan.infrared_path = sheet->infrared_path;
    if (!plan.scan.dpi) plan.scan.dpi = sheet->dpi;
    if (!plan.scan.encoding && !sheet->encoding.empty()) {
        auto encoding = parse_encoding(sheet->encoding);
        if (!encoding) return Failure(std::move(encoding.error()));
        plan.scan.encoding = *encoding;
    }
    return plan;
}

Result<std::vector<SheetPlan>> plan_sheets(const RunOptions& options, std::vector<Finding>& findings) {
    std::vector<SheetPlan> sheets;
    const auto add = [&](const std::string& file, const std::string& path, const Sheet* sheet) -> Result<void> {
        auto planned = plan_sheet(options, file, path, sheet);
        if (!planned) return Failure(std::move(planned.error()));
        sheets.push_back(std::move(*planned));
        return {};
    };
    if (options.scans.empty() && options.ledger)
        for (const Sheet& sheet : options.ledger->sheets)
            if (auto added = add(sheet.file, sheet.path, &sheet); !added) return Failure(added.error());
    std::set<std::string> seen;
    for (const std::string& scan : options.scans) {
        if (!seen.insert(canonical(scan)).second) continue;
        const Sheet* sheet = options.ledger ? sheet_of(*options.ledger, scan) : nullptr;
        if (options.ledger && sheet == nullptr) {
            Finding finding{
                Severity::caution, "sheet-not-in-ledger", "The ledger has no entry for this scan, so its rolls are named by sheet and strip.", {}, {}};
            finding.where.scan = scan;
            findings.push_back(std::move(finding));
        }
        if (auto added = add(scan, scan, sheet); !added) return Failure(added.error());
    }
    if (sheets.empty()) return fail(ErrorCode::usage, "no scan to work on", {}, "name one or more scans, or a ledger with sheets");
    return sheets;
}

void give_stems(std::vector<SheetPlan>& sheets) {
    std::set<std::string> taken;
    for (SheetPlan& sheet : sheets) {
        const std::string base = safe_name(fs::path(sheet.path).stem().string());
        sheet.stem = base;
        for (int i = 2; !taken.insert(sheet.stem).second; ++i) sheet.stem = base + "-" + std::to_string(i);
    }
}

Result<void> attach_layouts(const std::string& layout_path, std::vector<SheetPlan>& sheets) {
    auto layouts = read_layouts(layout_path);
    if (!layouts) return Failure(std::move(layouts.error()));
    for (NamedLayout& layout : *layouts) {
        SheetPlan* owner = nullptr;
        for (SheetPlan& sheet : sheets)
            if (sheet.file == layout.file || canonical(sheet.path) == canonical(layout.file)) owner = &sheet;
        if (owner == nullptr)
            for (SheetPlan& sheet : sheets)
                if (fs::path(sheet.path).filename() == fs::path(layout.file).filename()) owner = &sheet;
        if (owner != nullptr) owner->layout = std::move(layout);
    }
    if (std::none_of(sheets.begin(), sheets.end(), [](const SheetPlan& s) { return s.layout.has_value(); }))
        return fail(ErrorCode::usage, "the layout file names none of the scans of this run", layout_path, "its sheets' `file` must match the scans");
    return {};
}

/// Union of sheets over shared rolls.
std::vector<std::vector<int>> group_sheets(const std::vector<SheetPlan>& sheets) {
    std::vector<int> parent(sheets.size());
    std::iota(parent.begin(), parent.end(), 0);
    const auto root = [&](int i) {
        while (parent[static_cast<std::size_t>(i)] != i) i = parent[static_cast<std::size_t>(i)];
        return i;
    };
    std::map<std::string, int> first_sheet_of_roll;
    const auto join = [&](const std::string& roll, int sheet) {
        const auto [place, is_new] = first_sheet_of_roll.emplace(roll, sheet);
        const int a = root(place->second), b = root(sheet);
        if (!is_new && a != b) parent[static_cast<std::size_t>(std::max(a, b))] = std::min(a, b);
    };
    for (int i = 0; i < static_cast<int>(sheets.size()); ++i) {
        const SheetPlan& sheet = sheets[static_cast<std::size_t>(i)];
        if (sheet.sheet)
            for (const SheetStrip& strip : sheet.sheet->strips) join(strip.roll, i);
        if (sheet.layout)
            for (const StripNaming& strip : sheet.layout->names) join(strip.roll, i);
    }
    std::map<int, std::vector<int>> members;
    for (int i = 0; i < static_cast<int>(sheets.size()); ++i) members[root(i)].push_back(i);
    std::vector<std::vector<int>> groups;
    for (auto& [first, group] : members) groups.push_back(std::move(group));
    return groups;
}

/// Turns a strip end for end, or mirrors it: the frames are then read from its other end.
void orient_strip(StripBox& strip, bool flip, bool turn) {
    const auto orient = [&](Quad& q) {
        if (turn) q = {q[2], q[3], q[0], q[1]};
        if (flip) q = {q[1], q[0], q[3], q[2]};
    };
    orient(strip.corners);
    for (FrameBox& frame : strip.frames) orient(frame.corners);
    if (turn) strip.bow.value = -strip.bow.value;  // what was its lower edge is now its upper one
    if (flip != turn) std::reverse(strip.frames.begin(), strip.frames.end());
}

}  // namespace

std::string safe_name(const std::string& text) {
    std::string name;
    for (const char c : text) {
        const bool safe = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '_' || c == '-';
        name += safe ? c : '_';
    }
    if (name.size() > 80) name.resize(80);
    if (name.empty() || name[0] == '.' || name[0] == '-') name.insert(0, "_");
    return name;
}

Result<Plan> make_plan(const RunOptions& options) {
    Plan plan;
    auto sheets = plan_sheets(options, plan.findings);
    if (!sheets) return Failure(std::move(sheets.error()));
    plan.sheets = std::move(*sheets);
    give_stems(plan.sheets);
    if (!options.layout_path.empty())
        if (auto attached = attach_layouts(options.layout_path, plan.sheets); !attached) return Failure(std::move(attached.error()));
    plan.groups = group_sheets(plan.sheets);
    return plan;
}

std::vector<StripNaming> name_strips(const SheetPlan& plan, SheetLayout& layout, std::vector<Finding>& findings) {
    if (plan.layout) return plan.layout->names;
    std::vector<StripNaming> names;
    const std::size_t told = plan.sheet ? plan.sheet->strips.size() : 0;
    if (plan.sheet && told != layout.strips.size()) {
        Finding finding{Severity::caution, "strip-count-differs", {}, {}, {}};
        finding.message = "The ledger lists " + std::to_string(told) + " strips on this sheet, but " + std::to_string(layout.strips.size()) +
                          " were found. Names are given in scan order, so check that they still match.";
        finding.where.scan = plan.file;
        finding.numbers = {{"strips_in_ledger", static_cast<double>(told)}, {"strips_found", static_cast<double>(layout.strips.size())}};
        findings.push_back(std::move(finding));
    }
    for (std::size_t i = 0; i < layout.strips.size(); ++i) {
        StripBox& strip = layout.strips[i];
        StripNaming naming{plan.stem + "-strip" + std::to_string(i + 1), {}};
        int first = 1;
        if (i < told) {
            const SheetStrip& entry = plan.sheet->strips[i];
            orient_strip(strip, entry.flip, entry.turn);
            naming.roll = entry.roll;
            first = entry.first_frame;
        }
        for (std::size_t k = 0; k < strip.frames.size(); ++k) naming.numbers.push_back(first + static_cast<int>(k));
        names.push_back(std::move(naming));
    }
    return names;
}

}  // namespace basefog::pipeline
