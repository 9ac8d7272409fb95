// SPDX-License-Identifier: GPL-3.0-or-later
#include "plan.h"

#include "roll_facts.h"

#include "basefog/film/fit_stock.h"
#include "basefog/scan/reader.h"

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <limits>
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

/// The ledger's entry for a scan: the same file, or else the only entry of that file name, if the file it names is nowhere: scans are moved about. Not so for
/// cameras' shots, whose names begin anew with every card.
const Sheet* sheet_of(const Ledger& ledger, const std::string& path) {
    const std::string wanted = canonical(path);
    for (const Sheet& sheet : ledger.sheets)
        if (canonical(sheet.path) == wanted) return &sheet;
    const Sheet* by_name = nullptr;
    for (const Sheet& sheet : ledger.sheets) {
        std::error_code ignored;
        if (fs::path(sheet.path).filename() != fs::path(path).filename() || sheet.close_up || fs::exists(sheet.path, ignored)) continue;
        if (by_name != nullptr) return nullptr;
        by_name = &sheet;
    }
    return by_name;
}

Result<SheetPlan> plan_sheet(const RunOptions& options, std::string file, std::string path, const Sheet* sheet) {
    SheetPlan plan{std::move(file), std::move(path), {}, options.scan, {}, {}, options.find.close_up, options.join_shots};
    plan.scan.memory_bytes = std::max<std::int64_t>(options.memory_bytes / 4, 16 << 20);
    if (sheet == nullptr) return plan;
    plan.sheet = *sheet;
    plan.close_up = plan.close_up || sheet->close_up;
    plan.strip_shots = plan.strip_shots || sheet->strip_shots;
    if (!sheet->further_shots.empty()) plan.shots.push_back(plan.file);
    for (const SheetFile& shot : sheet->further_shots) {
        plan.shots.push_back(shot.file);
        plan.scan.further_shots.push_back({shot.path, shot.exposure_paths});
    }
    if (plan.scan.light_frame_path.empty()) {
        plan.scan.light_frame_path = sheet->light_frame_path;
        plan.scan.dark_frame_path = sheet->dark_frame_path;
    }
    plan.scan.other_exposures = sheet->exposure_paths;
    if (plan.scan.infrared_path.empty() && !plan.scan.ignore_infrared) plan.scan.infrared_path = sheet->infrared_path;
    if (!plan.scan.dpi) plan.scan.dpi = sheet->dpi;
    if (!plan.scan.encoding && !sheet->encoding.empty()) {
        auto encoding = parse_encoding(sheet->encoding);
        if (!encoding) return Failure(std::move(encoding.error()));
        plan.scan.encoding = *encoding;
    }
    return plan;
}

/// The scans that a name on the command line stands for.
struct Named {
    std::vector<std::string> scans;
    bool folder = false;
};

/// A folder stands for the scans in it, in order of their names; what is hidden or no scan is passed over, and so is what goes with another.
Result<std::vector<Named>> expand_folders(const RunOptions& options) {
    std::set<std::string> beside;
    const auto pass_over = [&](const std::string& path) {
        if (!path.empty()) beside.insert(canonical(path));
    };
    for (const std::string& path : {options.scan.infrared_path, options.scan.light_frame_path, options.scan.dark_frame_path}) pass_over(path);
    if (options.ledger)
        for (const Sheet& sheet : options.ledger->sheets) {
            for (const std::string& path : {sheet.infrared_path, sheet.light_frame_path, sheet.dark_frame_path}) pass_over(path);
            for (const std::string& path : sheet.exposure_paths) pass_over(path);
            for (const SheetFile& shot : sheet.further_shots) {
                pass_over(shot.path);
                for (const std::string& path : shot.exposure_paths) pass_over(path);
            }
        }
    std::vector<Named> names;
    for (const std::string& named : options.scans) {
        std::error_code error;
        if (!fs::is_directory(named, error)) {
            names.push_back({{named}, false});
            continue;
        }
        Named& folder = names.emplace_back();
        folder.folder = true;
        std::vector<std::string>& inside = folder.scans;
        for (fs::directory_iterator it(named, error), end; !error && it != end; it.increment(error)) {
            const std::string path = it->path().string();
            if (!it->path().filename().string().starts_with(".") && !beside.contains(canonical(path)) && looks_like_scan(path)) inside.push_back(path);
        }
        if (error) return fail(ErrorCode::unreadable, "cannot be listed: " + error.message(), named, "check that you may read it");
        if (inside.empty()) inside.push_back(named);  // the reader tells what is wrong with it, and the others go on
        std::sort(inside.begin(), inside.end());
    }
    return names;
}

/// Without a ledger, with --join: a folder is one strip, and so are the files named one by one, together.
std::vector<Sheet> strips_to_join(const std::vector<Named>& names) {
    std::vector<Sheet> strips;
    std::set<std::string> seen;
    std::optional<std::size_t> single;
    for (const Named& name : names) {
        if (name.folder || !single) {
            if (!name.folder) single = strips.size();
            strips.emplace_back();
        }
        Sheet& strip = name.folder ? strips.back() : strips[*single];
        strip.strip_shots = true;
        for (const std::string& file : name.scans) {
            if (!seen.insert(canonical(file)).second) continue;
            if (strip.file.empty())
                strip.file = strip.path = file;
            else
                strip.further_shots.push_back({file, file, {}});
        }
    }
    std::erase_if(strips, [](const Sheet& strip) { return strip.file.empty(); });
    return strips;
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
    const auto names = expand_folders(options);
    if (!names) return Failure(names.error());
    std::vector<std::string> scans;
    if (options.join_shots && !options.ledger) {
        for (const Sheet& strip : strips_to_join(*names))
            if (auto added = add(strip.file, strip.path, &strip); !added) return Failure(added.error());
        for (SheetPlan& sheet : sheets) sheet.sheet.reset();  // it says nothing of rolls
    } else {
        for (const Named& name : *names) scans.insert(scans.end(), name.scans.begin(), name.scans.end());
    }
    std::set<std::string> seen;
    for (const std::string& scan : scans) {
        if (!seen.insert(canonical(scan)).second) continue;
        const Sheet* sheet = options.ledger ? sheet_of(*options.ledger, scan) : nullptr;
        Sheet shot;
        if (sheet == nullptr && !options.ledger && options.find.close_up) {
            // Shots without a ledger are one roll, in the order given.
            shot.file = shot.path = scan;
            shot.strips = {SheetStrip{.roll = "roll", .first_frame = static_cast<int>(sheets.size()) + 1}};
            sheet = &shot;
        }
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

/// Sets of sheets that can be joined.
class SheetSets {
public:
    /// `sizes`: of the single sheets.
    explicit SheetSets(std::vector<std::size_t> sizes) : parent_(sizes.size()), size_(std::move(sizes)) {
        std::iota(parent_.begin(), parent_.end(), std::size_t{0});
    }
    [[nodiscard]] std::size_t root(std::size_t i) const {
        while (parent_[i] != i) i = parent_[i];
        return i;
    }
    /// Unless the joined set would hold more than `most`.
    void join(std::size_t i, std::size_t j, std::size_t most) {
        const std::size_t a = std::min(root(i), root(j)), b = std::max(root(i), root(j));
        if (a == b || size_[a] + size_[b] > most) return;
        parent_[b] = a;
        size_[a] += size_[b];
    }
    /// In order of their first sheets.
    [[nodiscard]] std::vector<std::vector<int>> all() const {
        std::map<std::size_t, std::vector<int>> members;
        for (std::size_t i = 0; i < parent_.size(); ++i) members[root(i)].push_back(static_cast<int>(i));
        std::vector<std::vector<int>> out;
        for (auto& [first, group] : members) out.push_back(std::move(group));
        return out;
    }

private:
    std::vector<std::size_t> parent_, size_;
};

/// Sheets that share a roll belong together; sheets with rolls of one stock too, as far as memory lets their samples wait for each other.
std::vector<std::vector<int>> group_sheets(const std::vector<SheetPlan>& sheets, const RunOptions& options) {
    // Measured: 24 frames' samples take 36 MB, and as much again while they are fitted. Half of the memory is for them.
    constexpr std::int64_t kBytesPerFrame = 3LL << 20;
    constexpr std::size_t kFramesOfSheet = 24;
    const auto room = static_cast<std::size_t>(std::max<std::int64_t>(1, options.memory_bytes / 2 / kBytesPerFrame));
    constexpr std::size_t kAnyNumber = std::numeric_limits<std::size_t>::max();
    std::vector<std::size_t> frames;
    for (const SheetPlan& sheet : sheets) frames.push_back(sheet.close_up ? 1 : kFramesOfSheet);
    SheetSets sets(std::move(frames));
    std::map<std::string, std::size_t> first_sheet_of_roll;
    for (std::size_t i = 0; i < sheets.size(); ++i)
        for (const std::string& roll : rolls_on(sheets[i])) sets.join(first_sheet_of_roll.emplace(roll, i).first->second, i, kAnyNumber);
    if (!options.ledger) return sets.all();
    std::vector<std::pair<RollFacts, std::size_t>> kinds;  // and the last sheet with a roll of it
    for (const auto& [roll, sheet] : first_sheet_of_roll) {
        RollFacts facts = facts_of_roll(*options.ledger, roll);
        const auto like = std::find_if(kinds.begin(), kinds.end(), [&](const auto& kind) { return are_alike(kind.first, facts); });
        if (like == kinds.end()) {
            kinds.emplace_back(std::move(facts), sheet);
        } else {
            sets.join(like->second, sheet, room);
            like->second = sheet;
        }
    }
    return sets.all();
}

}  // namespace

std::vector<std::string> rolls_on(const SheetPlan& sheet) {
    std::vector<std::string> rolls;
    if (sheet.sheet)
        for (const SheetStrip& strip : sheet.sheet->strips) rolls.push_back(strip.roll);
    if (sheet.layout)
        for (const StripNaming& strip : sheet.layout->names) rolls.push_back(strip.roll);
    return rolls;
}

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
    plan.groups = group_sheets(plan.sheets, options);
    return plan;
}

std::vector<StripNaming> name_strips(const SheetPlan& plan, const SheetLayout& layout, std::vector<Finding>& findings) {
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
        const StripBox& strip = layout.strips[i];
        StripNaming naming{plan.stem + "-strip" + std::to_string(i + 1), {}};
        int first = 1;
        if (i < told) {
            const SheetStrip& entry = plan.sheet->strips[i];
            naming.roll = entry.roll;
            first = entry.first_frame;
        }
        for (std::size_t k = 0; k < strip.frames.size(); ++k) naming.numbers.push_back(first + static_cast<int>(k));
        names.push_back(std::move(naming));
    }
    return names;
}

}  // namespace basefog::pipeline
