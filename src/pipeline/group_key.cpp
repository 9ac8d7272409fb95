// SPDX-License-Identifier: GPL-3.0-or-later
#include "group_key.h"

#include "archive.h"
#include "pool_rolls.h"

#include "basefog/core/sha256.h"
#include "basefog/core/version.h"

#include <algorithm>

namespace basefog::pipeline {
namespace {

/// Rolls a sheet's strips may turn out to be of: those told, and the ledger's that are named as this sheet's strips would be.
std::vector<std::string> possible_rolls(const SheetPlan& sheet, const RunOptions& options) {
    std::vector<std::string> rolls = rolls_on(sheet);
    const auto add = [&](const std::string& id) {
        if (id.starts_with(sheet.stem + "-strip")) rolls.push_back(id);
    };
    if (options.ledger)
        for (const Roll& roll : options.ledger->rolls) add(roll.id);
    for (const RollPrintChoices& roll : options.roll_print) add(roll.roll);
    return rolls;
}

}  // namespace

std::string run_key(const RunOptions& o, const OutputProfile& profile) {
    ArchiveWriter all;
    all(std::string(version()), o.command, o.positives, o.memory_bytes, o.ledger.has_value());
    all(o.scan, o.overview, o.find, o.density, o.residue, o.film, o.mend, o.invert, o.print, profile.icc_bytes());
    return sha256(all.bytes());
}

std::string group_key(const std::string& run_key, const Plan& plan, const std::vector<int>& group, const RunOptions& options) {
    ArchiveWriter all;
    all(run_key);
    std::vector<std::string> rolls;
    for (const int index : group) {
        const SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(index)];
        all(sheet.file, sheet.path, sheet.stem, sheet.scan, sheet.sheet, sheet.layout, sheet.close_up, sheet.strip_shots, sheet.shots);
        for (std::string& roll : possible_rolls(sheet, options))
            if (std::find(rolls.begin(), rolls.end(), roll) == rolls.end()) rolls.push_back(std::move(roll));
    }
    for (const std::string& roll : rolls) {
        std::vector<Finding> findings;
        all(told_of_roll(roll, rolls, options, findings), findings);
        for (const RollPrintChoices& print : options.roll_print)
            if (print.roll == roll) all(print);
    }
    return sha256(all.bytes());
}

}  // namespace basefog::pipeline
