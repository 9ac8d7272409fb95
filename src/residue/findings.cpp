// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/findings.h"

#include <fmt/format.h>
#include <algorithm>

namespace basefog::residue {

namespace {

void add(std::vector<Finding>& findings, Severity severity, std::string code, std::string message, int strip) {
    Finding f{severity, std::move(code), std::move(message), {}, {}};
    f.where.strip = strip;
    findings.push_back(std::move(f));
}

std::string join(const std::vector<std::string>& words) {
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i) text += (i == 0 ? "" : i + 1 == words.size() ? " and " : ", ") + words[i];
    return text;
}

}  // namespace

void report_strip(const StripResidue& strip, int index, bool silver, bool by_infrared, bool likely, std::vector<Finding>& findings) {
    const std::string where = strip.patterns.empty() ? "" : " (" + join(strip.patterns) + ")";
    const double area = strip.area_percent.value;
    if (strip.grade == ResidueGrade::heavy) {
        add(findings, Severity::serious, "residue-heavy",
            fmt::format("Much of the backing is still on this strip{}: a second wash looks worthwhile before it dries in for good.", where), index);
    } else if (strip.grade == ResidueGrade::partial) {
        add(findings, Severity::caution, "residue-partial", fmt::format("Some of the backing is still on this strip{}: a second wash may help.", where), index);
    } else if (strip.grade == ResidueGrade::trace) {
        add(findings, Severity::note, "residue-trace", fmt::format("Traces of backing are left on this strip{}.", where), index);
    }
    if (strip.grade != ResidueGrade::clean) {
        findings.back().numbers = {{"area_percent", area}, {"mean_density", strip.mean.value.value()}, {"veil_density", strip.veil.value.value()}};
    }
    if (silver) {
        add(findings, Severity::note, "silver-no-infrared",
            "Silver is opaque in infrared and as neutral as carbon, so only patches on the clear film of this black-and-white strip were looked at.", index);
    } else if (!by_infrared && strip.grade != ResidueGrade::clean) {
        add(findings, Severity::note, "residue-extrapolated",
            "Without infrared the share is read off the clear film and taken to hold for the pictures too; inside a picture a grey object looks like residue.",
            index);
    }
    if (likely) {
        add(findings, Severity::note, "residue-likely",
            "Inside the pictures of this strip the map shows where backing is likely: there the film is denser than the stock's dyes explain. About half of it "
            "may "
            "be right; a grey object looks the same, so nothing is mended by it.",
            index);
    }
    if (!strip.veil_separable && !silver) {
        add(findings, Severity::note, "veil-not-separable",
            "An even veil cannot be told from this strip's base: there is no infrared and no cleaner strip of the stock on this sheet.", index);
    }
}

void report_cautions(const std::vector<StripResidue>& strips, std::vector<Finding>& findings) {
    const bool wash =
        std::any_of(strips.begin(), strips.end(), [](const StripResidue& s) { return s.grade == ResidueGrade::partial || s.grade == ResidueGrade::heavy; });
    if (!wash) return;
    add(findings, Severity::caution, "re-wash-cautions",
        "Before washing again: wear gloves and eye protection, ventilate, never mix chemicals, and follow the safety data sheets. Collect the carbon sludge "
        "and "
        "dispose of it by local rules, not down the drain. Try one short strip first.",
        -1);
}

}  // namespace basefog::residue
