// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/pipeline/run.h"

#include "camera.h"
#include "finished_work.h"
#include "group_key.h"
#include "measure_sheet.h"
#include "outputs.h"
#include "plan.h"
#include "pool_rolls.h"
#include "print.h"
#include "render_sheet.h"
#include "settings.h"
#include "strip_shots.h"

#include "basefog/core/kept_bytes.h"
#include "basefog/core/pending_file.h"
#include "basefog/core/version.h"
#include "basefog/report/write_report.h"

#include <tbb/global_control.h>
#include <algorithm>
#include <functional>
#include <iterator>
#include <memory>
#include <thread>

namespace basefog {
namespace {

using namespace pipeline;

/// One run's means and ends, as every group of sheets needs them.
struct Work {
    const RunOptions& options;
    const Plan& plan;
    const OutputProfile& profile;
    OutputFolder& output;
    Observer& observer;
};

/// The sheets that share rolls: measured one by one, their rolls fitted together, then their positives made.
Result<GroupResults> make_group(const Work& work, const std::vector<int>& group) {
    const auto& [options, planned, profile, output, observer] = work;
    GroupResults results;
    Plan plan = planned;
    if (auto prepared = prepare_close_ups(plan, group, options, results.findings, observer); !prepared) return Failure(std::move(prepared.error()));
    if (auto prepared = prepare_strips(plan, group, options, results.findings, observer); !prepared) return Failure(std::move(prepared.error()));
    std::vector<MeasuredSheet> sheets;
    for (const int index : group) {
        observer.progress("measuring " + plan.sheets[static_cast<std::size_t>(index)].file, index, static_cast<double>(plan.sheets.size()));
        const std::string map = output.unique("maps", plan.sheets[static_cast<std::size_t>(index)].stem, "-defects.png");
        auto sheet = measure_sheet(plan, index, options, {map, output.absolute(map)}, results.findings, observer);
        if (!sheet) return Failure(std::move(sheet.error()));
        sheets.push_back(std::move(*sheet));
    }
    auto rolls = pool_rolls(sheets, group, options, results.findings, observer);
    if (!rolls) return Failure(std::move(rolls.error()));
    if (options.positives) {
        Thumbnails thumbnails;
        for (std::size_t i = 0; i < sheets.size(); ++i)
            if (auto made = render_sheet(plan, sheets[i], group[i], rolls->rolls, profile, options, output, thumbnails, observer); !made)
                return Failure(std::move(made.error()));
        if (auto made = write_contact_sheets(rolls->rolls, sheets, group, thumbnails, output); !made) return Failure(std::move(made.error()));
    }
    for (MeasuredSheet& sheet : sheets) results.scans.push_back(std::move(sheet.record));
    results.rolls = std::move(rolls->rolls);
    results.comparisons = std::move(rolls->comparisons);
    return results;
}

/// A group's results, kept for a later run if all of its sheets could be used.
Result<GroupResults> make_and_keep(const Work& work, const std::vector<int>& group, const GroupWork& known, FinishedWork& finished) {
    const std::size_t names_before = work.output.names().size();
    finished.start(known);
    auto results = make_group(work, group);
    if (!results || std::any_of(results->scans.begin(), results->scans.end(), [](const ScanRecord& scan) { return scan.failure.has_value(); })) return results;
    const std::vector<GivenName> names(work.output.names().begin() + static_cast<std::ptrdiff_t>(names_before), work.output.names().end());
    if (auto kept = finished.finish(known, *results, group, names); !kept) return Failure(std::move(kept.error()));
    return results;
}

/// Takes back what was made of a group that failed, and records its sheets as failed.
GroupResults left_out(const Work& work, const std::vector<int>& group, std::size_t names_before, const Error& error) {
    work.observer.notice(describe(error));
    work.output.remove_named_since(names_before);
    GroupResults results;
    for (const int index : group) {
        ScanRecord scan;
        scan.file = work.plan.sheets[static_cast<std::size_t>(index)].file;
        scan.failure = error;
        results.scans.push_back(std::move(scan));
    }
    return results;
}

Result<GroupResults> results_of(const Work& work, const std::vector<int>& group, const GroupWork& known, FinishedWork& finished, RunRecord& record) {
    if (auto taken_over = finished.take_over(known, group, work.output)) {
        record.sheets_taken_over += static_cast<int>(group.size());
        return std::move(*taken_over);
    }
    const std::size_t names_before = work.output.names().size();
    auto results = make_and_keep(work, group, known, finished);
    if (results || !work.options.keep_going || results.error().code == ErrorCode::interrupted) return results;
    return left_out(work, group, names_before, results.error());
}

void add(RunRecord& record, GroupResults results, const std::vector<int>& group) {
    std::move(results.findings.begin(), results.findings.end(), std::back_inserter(record.findings));
    for (std::size_t i = 0; i < group.size(); ++i) {
        ScanRecord& scan = record.scans[static_cast<std::size_t>(group[i])] = std::move(results.scans[i]);
        if (scan.failure)
            record.findings.push_back(
                {Severity::serious, "sheet-failed", "This sheet could not be used: " + describe(*scan.failure) + ".", {scan.file, -1, -1, {}}, {}});
    }
    std::move(results.rolls.begin(), results.rolls.end(), std::back_inserter(record.rolls));
    std::move(results.comparisons.begin(), results.comparisons.end(), std::back_inserter(record.comparisons));
}

/// The report shows pictures of every sheet, but only in the end: until then they may not fill memory.
Result<void> put_pictures_aside(GroupResults& results, const std::shared_ptr<Scratch>& scratch) {
    std::vector<KeptBytes*> pictures;
    for (ScanRecord& scan : results.scans) {
        pictures.insert(pictures.end(), {&scan.overview_jpeg, &scan.residue_png});
        for (StripRecord& strip : scan.strips)
            for (FrameRecord& frame : strip.frames) pictures.insert(pictures.end(), {&frame.thumbnail_jpeg, &frame.defects_png});
    }
    for (KeptBytes* const picture : pictures)
        if (auto put = picture->put_aside(scratch); !put) return put;
    return {};
}

/// A results folder, with the parts the run will fill.
Result<OutputFolder> open_output(const RunOptions& options, const InputFiles& inputs, const std::function<bool()>& may_go_on) {
    auto output = OutputFolder::open(options.output_folder, options.positives, may_go_on, inputs);
    if (!output) return output;
    for (const auto& [wanted, part] : {std::pair(options.invert.linear, "linear"), std::pair(options.invert.density, "density")})
        if (options.positives && wanted)
            if (auto made = output->add_part(part); !made) return Failure(std::move(made.error()));
    return output;
}

RunRecord record_of(const RunOptions& options, const Plan& plan, OutputFolder& output) {
    RunRecord record;
    record.version = version();
    record.command = options.command;
    record.finished = options.finished;
    if (options.ledger) record.ledger = options.ledger->path;
    record.settings = settings_of(options);
    if (options.positives) record.settings_file = output.unique("", "settings", ".toml");
    record.findings = plan.findings;
    record.scans.resize(plan.sheets.size());
    return record;
}

Result<void> write_results(const RunRecord& record, const RunOptions& options, const OutputFolder& output) {
    if (!record.settings_file.empty())
        if (auto written = write_whole_file(output.absolute(record.settings_file), settings_file_of(record, options)); !written) return written;
    if (auto written = write_whole_file(output.absolute("report.json"), report_json(record)); !written) return written;
    if (auto written = write_whole_file(output.absolute("frames.csv"), frames_csv(record)); !written) return written;
    if (auto written = write_whole_file(output.absolute("report.html"), [&](const auto& write) { return report_html(record, write); }); !written)
        return written;
    if (!options.write_layout) return {};
    return write_whole_file(options.layout_output, layout_text(layouts_of(record)));
}

}  // namespace

Result<std::vector<std::vector<std::string>>> sheet_groups(const RunOptions& options) {
    const auto plan = make_plan(options);
    if (!plan) return Failure(plan.error());
    std::vector<std::vector<std::string>> groups;
    for (const std::vector<int>& group : plan->groups) {
        groups.emplace_back();
        for (const int index : group) groups.back().push_back(plan->sheets[static_cast<std::size_t>(index)].path);
    }
    return groups;
}

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
    FinishedWork finished(options.output_folder, run_key(options, *profile));
    const std::vector<GroupWork> groups = works_of(options, *plan, finished.run_key());
    auto output = open_output(options, inputs, [&] { return options.replace || options.update || finished.belongs_to(groups); });
    if (!output) return Failure(std::move(output.error()));
    if (auto begun = finished.begin(options.replace); !begun) return Failure(std::move(begun.error()));

    RunRecord record = record_of(options, *plan, *output);
    const Work work{options, *plan, *profile, *output, observer};
    // A sixteenth of memory holds some fifty sheets' pictures.
    const auto pictures = std::make_shared<Scratch>(options.output_folder, options.memory_bytes / 16, "the report's pictures", observer);
    for (std::size_t g = 0; g < groups.size(); ++g) {
        auto results = results_of(work, plan->groups[g], groups[g], finished, record);
        if (!results) return Failure(std::move(results.error()));
        if (auto put = put_pictures_aside(*results, pictures); !put) return Failure(std::move(put.error()));
        add(record, std::move(*results), plan->groups[g]);
    }
    if (auto written = write_results(record, options, *output); !written) return Failure(std::move(written.error()));
    if (const int leftovers = output->count_leftovers(); leftovers > 0)
        observer.notice(std::to_string(leftovers) + " file(s) of an earlier run are still in " + output->path() + "; this run's report does not name them");
    return record;
}

}  // namespace basefog
