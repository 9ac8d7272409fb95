// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/pipeline/run.h"

#include "measure_sheet.h"
#include "outputs.h"
#include "plan.h"
#include "pool_rolls.h"
#include "print.h"
#include "render_sheet.h"
#include "settings.h"

#include "basefog/core/pending_file.h"
#include "basefog/core/version.h"
#include "basefog/report/write_report.h"

#include <tbb/global_control.h>
#include <thread>

namespace basefog {
namespace {

using namespace pipeline;

/// The sheets that share rolls: measured one by one, their rolls fitted together, then their positives made.
Result<void> run_group(const Plan& plan, const std::vector<int>& group, const RunOptions& options, const OutputProfile& profile, OutputFolder& output,
                       RunRecord& record, Observer& observer) {
    std::vector<MeasuredSheet> sheets;
    std::vector<int> scan_index;
    for (const int index : group) {
        observer.progress("measuring " + plan.sheets[static_cast<std::size_t>(index)].file, index, static_cast<double>(plan.sheets.size()));
        const std::string map = output.unique("maps", plan.sheets[static_cast<std::size_t>(index)].stem, "-defects.png");
        auto sheet = measure_sheet(plan, index, options, {map, output.absolute(map)}, record.findings, observer);
        if (!sheet) return Failure(std::move(sheet.error()));
        sheets.push_back(std::move(*sheet));
        scan_index.push_back(index);
    }
    auto rolls = pool_rolls(sheets, scan_index, options, record.findings, observer);
    if (!rolls) return Failure(std::move(rolls.error()));
    if (options.positives) {
        Thumbnails thumbnails;
        for (std::size_t i = 0; i < sheets.size(); ++i)
            if (auto made = render_sheet(plan, sheets[i], scan_index[i], rolls->rolls, profile, options, output, thumbnails, observer); !made) return made;
        if (auto made = write_contact_sheets(rolls->rolls, sheets, scan_index, thumbnails, output); !made) return made;
    }
    for (std::size_t i = 0; i < sheets.size(); ++i) record.scans[static_cast<std::size_t>(scan_index[i])] = std::move(sheets[i].record);
    for (RollRecord& roll : rolls->rolls) record.rolls.push_back(std::move(roll));
    for (StockComparison& comparison : rolls->comparisons) record.comparisons.push_back(std::move(comparison));
    return {};
}

Result<void> write_results(const RunRecord& record, const RunOptions& options, const OutputFolder& output) {
    if (!record.settings_file.empty())
        if (auto written = write_whole_file(output.absolute(record.settings_file), settings_file_of(record, options)); !written) return written;
    if (auto written = write_whole_file(output.absolute("report.json"), report_json(record)); !written) return written;
    if (auto written = write_whole_file(output.absolute("frames.csv"), frames_csv(record)); !written) return written;
    if (auto written = write_whole_file(output.absolute("report.html"), report_html(record)); !written) return written;
    if (!options.write_layout) return {};
    return write_whole_file(options.layout_output, layout_text(layouts_of(record)));
}

}  // namespace

Result<RunRecord> run(const RunOptions& options, Observer& observer) {
    if (auto valid = validate(options); !valid) return Failure(std::move(valid.error()));
    const int threads = options.threads > 0 ? options.threads : static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(threads));

    auto plan = make_plan(options);
    if (!plan) return Failure(std::move(plan.error()));
    auto profile = OutputProfile::make(options.invert);
    if (!profile) return Failure(std::move(profile.error()));
    const InputFiles inputs(options, *plan);
    if (options.write_layout && inputs.holds(options.layout_output) && options.layout_output != options.layout_path)
        return fail(ErrorCode::usage, "is a file this run reads; a layout must not be written over it", options.layout_output,
                    "give --write-layout another name");
    auto output = OutputFolder::open(options.output_folder, options.positives, options.replace, inputs);
    if (!output) return Failure(std::move(output.error()));

    if (options.positives && options.invert.linear)
        if (auto made = output->add_part("linear"); !made) return Failure(std::move(made.error()));
    if (options.positives && options.invert.density)
        if (auto made = output->add_part("density"); !made) return Failure(std::move(made.error()));

    RunRecord record;
    record.version = version();
    record.command = options.command;
    record.finished = options.finished;
    if (options.ledger) record.ledger = options.ledger->path;
    record.settings = settings_of(options);
    if (options.positives) record.settings_file = output->unique("", "settings", ".toml");
    record.findings = plan->findings;
    record.scans.resize(plan->sheets.size());
    for (const std::vector<int>& group : plan->groups)
        if (auto done = run_group(*plan, group, options, *profile, *output, record, observer); !done) return Failure(std::move(done.error()));
    if (auto written = write_results(record, options, *output); !written) return Failure(std::move(written.error()));
    if (const int leftovers = output->count_leftovers(); leftovers > 0)
        observer.notice(std::to_string(leftovers) + " file(s) of an earlier run are still in " + output->path() + "; this run's report does not name them");
    return record;
}

}  // namespace basefog
