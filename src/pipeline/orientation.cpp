// SPDX-License-Identifier: GPL-3.0-or-later
#include "orientation.h"

#include <algorithm>
#include <optional>

namespace basefog::pipeline {
namespace {

/// Mirrored left to right, rotated by 180 degrees, or both; the order does not matter.
struct Way {
    bool mirrored = false, turned = false;
    friend bool operator==(const Way&, const Way&) = default;
};

void lay(StripBox& strip, Way way) {
    const auto orient = [&](Quad& q) {
        if (way.turned) q = {q[2], q[3], q[0], q[1]};
        if (way.mirrored) q = {q[1], q[0], q[3], q[2]};
    };
    orient(strip.corners);
    for (FrameBox& frame : strip.frames) orient(frame.corners);
    if (way.turned) strip.bow.value = Millimetres(-strip.bow.value.value());
    if (way.mirrored != way.turned) std::reverse(strip.frames.begin(), strip.frames.end());
}

std::string how(Way way) {
    if (way.mirrored && way.turned) return "wrong side down and the other way round";
    if (way.mirrored) return "wrong side down";
    return way.turned ? "the other way round" : "right side down and the right way round";
}

std::string in_ledger(Way way) { return std::string("flip = ") + (way.mirrored ? "true" : "false") + ", turn = " + (way.turned ? "true" : "false"); }

Finding finding_of(Severity severity, std::string code, std::string message, const SheetPlan& plan, std::size_t strip) {
    return {severity, std::move(code), std::move(message), {plan.file, static_cast<int>(strip), -1, {}}, {}};
}

/// What the print says against what the ledger says.
Way settle(const StripBox& strip, const SheetStrip* entry, const SheetPlan& plan, std::size_t index, std::vector<Finding>& findings) {
    const bool told = entry != nullptr && (entry->flip || entry->turn);
    const Way by_ledger = told ? Way{entry->flip.value_or(false), entry->turn.value_or(false)} : Way{};
    if (strip.edge_print.kind != EdgePrint::Kind::numbers) return by_ledger;
    const Way by_print{strip.edge_print.mirrored, strip.edge_print.turned};
    const std::string read =
        "The frame numbers printed on the edge of strip " + std::to_string(index + 1) + " (" + strip.edge_print.text + ") show that it lies " + how(by_print);
    if (told && !(by_ledger == by_print)) {
        findings.push_back(finding_of(Severity::caution, "edge-print-contradicts-ledger",
                                      read + ", but the ledger says " + in_ledger(by_ledger) + ". The ledger was followed. Look at a picture of it.", plan,
                                      index));
        return by_ledger;
    }
    if (!told && !(by_print == Way{}))
        findings.push_back(finding_of(Severity::note, "strip-oriented-by-print",
                                      read + ", and its pictures were set right. To overrule it, give the strip " + in_ledger({}) + " in the ledger.", plan,
                                      index));
    return by_print;
}

/// How the machine-readable code lies once the strip is laid `way`.
struct CodePlace {
    bool backwards = false, below = false;
    [[nodiscard]] bool wrong_side() const { return backwards != below; }
    friend bool operator==(const CodePlace&, const CodePlace&) = default;
};
std::optional<CodePlace> code_of(const StripBox& strip, Way way) {
    if (strip.edge_print.kind != EdgePrint::Kind::machine_code) return std::nullopt;
    return CodePlace{strip.edge_print.code_backwards != (way.mirrored != way.turned), strip.edge_print.code_below != way.turned};
}

/// All films carry their code on the same edge: one read as if in a mirror lies wrong side down. Strips of one roll carry it running the same
/// way. Which of two is right the code cannot say.
void compare_codes(const SheetPlan& plan, const SheetLayout& layout, const std::vector<Way>& ways, std::vector<Finding>& findings) {
    const auto roll_of = [&](std::size_t i) { return plan.sheet && i < plan.sheet->strips.size() ? plan.sheet->strips[i].roll : std::string{}; };
    for (std::size_t b = 1; b < ways.size(); ++b)
        for (std::size_t a = 0; a < b; ++a) {
            const auto first = code_of(layout.strips[a], ways[a]), second = code_of(layout.strips[b], ways[b]);
            if (!first || !second) continue;
            const bool side = first->wrong_side() != second->wrong_side();
            const bool same_roll = !roll_of(a).empty() && roll_of(a) == roll_of(b);
            if (!side && !(same_roll && !(*first == *second))) continue;
            findings.push_back(finding_of(Severity::caution, "strips-lie-differently",
                                          "The key number on the edge of strip " + std::to_string(b + 1) +
                                              (side ? " lies as if mirrored" : " runs the other way") + " against that of strip " + std::to_string(a + 1) +
                                              ". One of the two lies " + (side ? "wrong side down" : "the other way round") +
                                              ", but the code does not say which. Look at their pictures and give the wrong one " +
                                              (side ? "flip = true" : "turn = true") + " in the ledger.",
                                          plan, b));
            return;
        }
}

}  // namespace

void orient_strips(const SheetPlan& plan, SheetLayout& layout, std::vector<Finding>& findings) {
    std::vector<Way> ways;
    for (std::size_t i = 0; i < layout.strips.size(); ++i) {
        const SheetStrip* entry = plan.sheet && i < plan.sheet->strips.size() ? &plan.sheet->strips[i] : nullptr;
        ways.push_back(settle(layout.strips[i], entry, plan, i, findings));
    }
    compare_codes(plan, layout, ways, findings);
    for (std::size_t i = 0; i < layout.strips.size(); ++i) lay(layout.strips[i], ways[i]);
}

}  // namespace basefog::pipeline
