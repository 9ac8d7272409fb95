// SPDX-License-Identifier: GPL-3.0-or-later
#include "summary.h"
#include "plain_text.h"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <algorithm>
#include <cstdlib>
#include <ctime>
#include <filesystem>

namespace basefog::cli {
namespace {

const char* word(Severity severity) { return severity == Severity::serious ? "serious" : severity == Severity::caution ? "caution" : "note"; }

const char* plural(std::size_t n) { return n == 1 ? "" : "s"; }

}  // namespace

void print_summary(const RunRecord& record, const RunOptions& options, bool every_finding) {
    std::size_t strips = 0, frames = 0, failed = 0, made = 0;
    for (const ScanRecord& scan : record.scans) {
        strips += scan.strips.size();
        failed += scan.failure ? 1 : 0;
        for (const StripRecord& strip : scan.strips) {
            frames += strip.frames.size();
            made += static_cast<std::size_t>(std::count_if(strip.frames.begin(), strip.frames.end(), [](const FrameRecord& f) { return !f.positive.empty(); }));
        }
    }
    fmt::print("{} sheet{}, {} strip{}, {} frame{} on {} roll{}{}\n", record.scans.size(), plural(record.scans.size()), strips, plural(strips), frames,
               plural(frames), record.rolls.size(), plural(record.rolls.size()),
               failed > 0 ? fmt::format("; {} sheet{} could not be used", failed, plural(failed)) : "");
    if (record.sheets_taken_over > 0)
        fmt::print("{} sheet{} finished before and taken over\n", record.sheets_taken_over, record.sheets_taken_over == 1 ? " was" : "s were");
    for (const RollRecord& roll : record.rolls) fmt::print("  {}: {}\n", plain(roll.roll.id), plain(roll.film.verdict.text));
    for (const Severity severity : {Severity::serious, Severity::caution, Severity::note}) {
        const auto is = [&](const Finding& finding) { return finding.severity == severity; };
        const auto n = std::count_if(record.findings.begin(), record.findings.end(), is);
        if (n > 0) fmt::print("{} finding{} of kind \"{}\"{}\n", n, plural(static_cast<std::size_t>(n)), word(severity), every_finding ? ":" : "");
        if (!every_finding) continue;
        for (const Finding& finding : record.findings) {
            if (!is(finding)) continue;
            std::string where = finding.where.scan;
            if (finding.where.strip >= 0) where += fmt::format(" strip {}", finding.where.strip + 1);
            if (finding.where.frame >= 0) where += fmt::format(" frame {}", finding.where.frame + 1);
            if (!finding.where.roll.empty()) where += fmt::format("{}roll {}", where.empty() ? "" : ", ", finding.where.roll);
            fmt::print("  {} [{}] {}\n", plain(where), finding.code, plain(finding.message));
        }
    }
    const std::filesystem::path folder(options.output_folder);
    if (options.write_layout) fmt::print("Layout:    {}\n", options.layout_output);
    fmt::print("Report:    {}\n", (folder / "report.html").string());
    if (options.positives && made > 0) fmt::print("Positives: {}\n", (folder / "positives").string());
}

std::string time_now() {
    std::time_t now = std::time(nullptr);
    if (const char* fixed = std::getenv("SOURCE_DATE_EPOCH")) now = static_cast<std::time_t>(std::strtoll(fixed, nullptr, 10));
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(now));
}

}  // namespace basefog::cli
