// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/summary.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace basefog::suite {
namespace {

/// Orders sheets for the list of the worst: frames lost or invented weigh most, then the largest corner error.
double badness(const SheetOutcome& sheet) {
    double bad = 0, largest = 0;
    for (const FrameOutcome& frame : sheet.frames) {
        if (wanted(frame) && !frame.found) bad += 10;
        if (measurable(frame)) largest = std::max(largest, frame.error_mm);
    }
    for (const StrayOutcome& stray : sheet.strays) bad += stray.kind == "picture" && !stray.excused ? 10 : 0;
    return bad + std::min(largest, 9.0);
}

void count_confidence(Summary& out, double confidence, bool kept, const Limits& limits) {
    for (std::size_t i = out.bins.size(); i-- > 0;) {
        if (confidence < out.bins[i].from) continue;
        ++out.bins[i].given;
        out.bins[i].kept += kept;
        break;
    }
    if (confidence < limits.sure) return;
    ++out.sure;
    out.sure_kept += kept;
}

void count_frame(Summary& out, const FrameOutcome& frame, const Limits& limits) {
    if (frame.content == "blank") {
        ++out.blanks;
        out.blanks_found += frame.found;
    }
    if (frame.content == "fogged") {
        ++out.fogged;
        out.fogged_found += frame.found;
    }
    if (frame.found) {
        ++out.kind_known;
        out.kind_wrong += frame.found_kind != frame.content;
    }
    if (!wanted(frame)) return;
    out.all.add(frame);
    for (const std::string& difficulty : frame.difficulties) out.by_difficulty[difficulty].add(frame);
    if (frame.found) count_confidence(out, frame.confidence, frame.error_mm <= limits.sure_within_mm, limits);
}

}  // namespace

void Tally::add(const FrameOutcome& frame) {
    ++wanted;
    found += frame.found;
    if (!frame.found) return;
    wrong_kind += frame.found_kind != frame.content;
    if (measurable(frame)) {
        errors_mm.push_back(frame.error_mm);
    } else {
        ++not_measurable;
    }
}

double Tally::quantile_mm(double share) const {
    if (errors_mm.empty()) return 0;
    std::vector<double> sorted = errors_mm;
    std::sort(sorted.begin(), sorted.end());
    const auto rank = static_cast<std::size_t>(std::max(1.0, std::ceil(share * static_cast<double>(sorted.size()))));
    return sorted[rank - 1];
}

Summary summarise(const std::vector<SheetOutcome>& sheets, const Limits& limits) {
    Summary out;
    std::vector<std::pair<double, std::uint64_t>> order;
    for (const SheetOutcome& sheet : sheets) {
        ++out.sheets;
        out.draw_seconds += sheet.draw_seconds;
        out.find_seconds += sheet.find_seconds;
        for (const FrameOutcome& frame : sheet.frames) count_frame(out, frame, limits);
        for (const StrayOutcome& stray : sheet.strays) {
            if (stray.excused) continue;
            if (stray.kind == "picture") {
                ++out.false_pictures;
                count_confidence(out, stray.confidence, false, limits);
            } else {
                ++out.false_others;
            }
        }
        if (!sheet.failure.empty()) out.failures.emplace_back(sheet.seed, sheet.failure);
        if (const double bad = badness(sheet); bad > 0) order.emplace_back(-bad, sheet.seed);
    }
    std::sort(order.begin(), order.end());
    for (const auto& [bad, seed] : order) out.worst.push_back(seed);
    return out;
}

std::vector<std::string> broken_limits(const Summary& s, const Limits& limits) {
    std::vector<std::string> out;
    const auto check = [&](bool kept, const char* what, double is, double limit) {
        if (kept) return;
        char text[160];
        std::snprintf(text, sizeof text, "%s is %.4f, the limit %.4f", what, is, limit);
        out.emplace_back(text);
    };
    const double invented = static_cast<double>(s.false_pictures) / std::max(1, s.all.found);
    const double kept = s.sure > 0 ? static_cast<double>(s.sure_kept) / s.sure : 1;
    check(s.all.recall() >= limits.recall, "recall", s.all.recall(), limits.recall);
    check(invented <= limits.false_per_frame, "the share of false frames", invented, limits.false_per_frame);
    check(s.all.quantile_mm(0.95) <= limits.p95_mm, "the 95th percentile of the corner error (mm)", s.all.quantile_mm(0.95), limits.p95_mm);
    check(s.all.quantile_mm(1) <= limits.worst_mm, "the worst corner error (mm)", s.all.quantile_mm(1), limits.worst_mm);
    check(kept >= limits.sure_share, "the share of frames given 0.95 or more that lie within 0.25 mm", kept, limits.sure_share);
    if (!s.failures.empty()) out.push_back(std::to_string(s.failures.size()) + " sheets on which the finder stopped");
    return out;
}

}  // namespace basefog::suite
