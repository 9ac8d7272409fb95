// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/tables.h"

#include <algorithm>
#include <cstdarg>
#include <cstdio>

namespace basefog::suite {
namespace {

constexpr std::size_t kWorstShown = 10;

__attribute__((format(printf, 1, 2))) std::string text(const char* format, ...) {
    char buffer[512];
    va_list arguments;
    va_start(arguments, format);
    std::vsnprintf(buffer, sizeof buffer, format, arguments);
    va_end(arguments);
    return buffer;
}

std::string row(const std::string& name, const Tally& t) {
    return text("| %s | %d | %d | %.4f | %d | %.3f | %.3f | %.3f | %d |\n", name.c_str(), t.wanted, t.wanted - t.found, t.recall(), t.wrong_kind,
                t.quantile_mm(0.5), t.quantile_mm(0.95), t.quantile_mm(1), t.not_measurable);
}

std::string worst_line(const SheetOutcome& sheet) {
    int missed = 0, invented = 0;
    double largest = 0;
    std::string where;
    for (const FrameOutcome& frame : sheet.frames) {
        if (!wanted(frame)) continue;
        missed += !frame.found;
        if (measurable(frame) && frame.error_mm > largest) {
            largest = frame.error_mm;
            where = "strip " + std::to_string(frame.strip + 1) + " frame " + std::to_string(frame.number);
        }
    }
    for (const StrayOutcome& stray : sheet.strays) invented += stray.kind == "picture" && !stray.excused;
    std::string all;
    for (const std::string& d : sheet.difficulties) all += (all.empty() ? "" : ", ") + d;
    return text("| %llu | %d | %d | %.3f | %s | ", static_cast<unsigned long long>(sheet.seed), missed, invented, largest, where.c_str()) + all +
           sheet.failure + " |\n";
}

}  // namespace

std::string markdown(const Summary& s, const std::vector<SheetOutcome>& sheets) {
    std::string out = text("%d sheets, %d pictures of which at least half shows; %.2f s of a processor a sheet to draw, %.2f s to open, reduce and search.\n\n",
                           s.sheets, s.all.wanted, s.draw_seconds / std::max(1, s.sheets), s.find_seconds / std::max(1, s.sheets));
    out += text("- Recall %.4f (%d of %d); false pictures %d; other finds that nothing explains (called blank or fogged) %d.\n", s.all.recall(), s.all.found,
                s.all.wanted, s.false_pictures, s.false_others);
    out += text("- Corner error of %zu pictures, mm: median %.3f, 95th percentile %.3f, worst %.3f. Left out: %d whose edges do not show enough.\n",
                s.all.errors_mm.size(), s.all.quantile_mm(0.5), s.all.quantile_mm(0.95), s.all.quantile_mm(1), s.all.not_measurable);
    out += text("- Kind wrong on %d of %d frames found; blank frames found %d of %d, fogged %d of %d.\n", s.kind_wrong, s.kind_known, s.blanks_found, s.blanks,
                s.fogged_found, s.fogged);
    out += text("- Of %d frames given 0.95 or more, %d lie within 0.25 mm (%.4f).\n\n", s.sure, s.sure_kept,
                s.sure > 0 ? static_cast<double>(s.sure_kept) / s.sure : 1.0);
    out += "| confidence from | frames | within 0.25 mm | share |\n|---|---|---|---|\n";
    for (const Bin& bin : s.bins)
        out += text("| %.2f | %d | %d | %.3f |\n", bin.from, bin.given, bin.kept, bin.given > 0 ? static_cast<double>(bin.kept) / bin.given : 0.0);
    out += "\n| difficulty | pictures | missed | recall | wrong kind | median mm | p95 mm | worst mm | edges unseen |\n|---|---|---|---|---|---|---|---|---|\n";
    out += row("all", s.all);
    for (const auto& [name, tally] : s.by_difficulty) out += row(name, tally);
    out += "\n| worst sheets | missed | false | worst mm | at | drawn |\n|---|---|---|---|---|---|\n";
    for (std::size_t i = 0; i < std::min(kWorstShown, s.worst.size()); ++i) {
        const auto sheet = std::find_if(sheets.begin(), sheets.end(), [&](const SheetOutcome& o) { return o.seed == s.worst[i]; });
        if (sheet != sheets.end()) out += worst_line(*sheet);
    }
    return out;
}

}  // namespace basefog::suite
