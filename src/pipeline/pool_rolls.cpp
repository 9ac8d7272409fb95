// SPDX-License-Identifier: GPL-3.0-or-later
#include "pool_rolls.h"

#include "pool_strips.h"
#include "print.h"
#include "roll_facts.h"
#include "workers.h"

#include "basefog/film/fit_stock.h"
#include "basefog/ledger/read_ledger.h"

#include <algorithm>
#include <map>

namespace basefog::pipeline {
namespace {

/// Frames fitted at once; more rolls of a stock are fitted in further lots. Chosen: keeps the fit's working copy under 320 MB.
constexpr std::size_t kMostFramesTogether = 240;

/// A roll on its way to being fitted.
struct Gathered {
    RollRecord record;
    RollSamples samples;
    std::vector<FrameRef> local;  ///< by number: sheet of the group, strip, frame
};

struct NamedStrips {
    std::string roll;
    std::vector<StripRef> strips;
};

/// In order of first appearance.
std::vector<NamedStrips> strips_by_roll(const std::vector<MeasuredSheet>& sheets) {
    std::vector<NamedStrips> rolls;
    for (int i = 0; i < static_cast<int>(sheets.size()); ++i) {
        const auto& strips = sheets[static_cast<std::size_t>(i)].record.strips;
        for (int s = 0; s < static_cast<int>(strips.size()); ++s) {
            const std::string& id = strips[static_cast<std::size_t>(s)].roll;
            auto place = std::find_if(rolls.begin(), rolls.end(), [&](const NamedStrips& r) { return r.roll == id; });
            if (place == rolls.end()) place = rolls.insert(rolls.end(), {id, {}});
            place->strips.push_back({i, s});
        }
    }
    return rolls;
}

void describe_from_ledger(RollRecord& record, const Ledger& ledger, std::vector<Finding>& findings) {
    const std::string& id = record.facts.id;
    const Roll* roll = ledger.find_roll(id);
    if (roll == nullptr) {
        findings.push_back(
            {Severity::caution,
             "roll-not-in-ledger",
             "The ledger has no roll \"" + id + "\", so its stock, rating and light are not known. Check the name in the layout, or add the roll.",
             {{}, -1, -1, id},
             {}});
        return;
    }
    record.roll = *roll;
    record.facts = facts_of_roll(ledger, id);
    if (const Stock* stock = ledger.find_stock(roll->stock)) record.stock = *stock;
    if (const Session* session = ledger.find_session(roll->session)) {
        record.session = *session;
        if (const Bath* bath = ledger.find_bath(session->bath)) record.bath = *bath;
    }
    record.rolls_done_before = rolls_done_before(ledger, id);
    record.bath_age_days = bath_age_days(ledger, id);
}

void note_duplicate_numbers(const RollRecord& record, const std::vector<int>& numbers, std::vector<Finding>& findings) {
    for (std::size_t i = 1; i < numbers.size(); ++i)
        if (numbers[i] == numbers[i - 1]) {
            findings.push_back({Severity::caution,
                                "frame-number-twice",
                                "Frame number " + std::to_string(numbers[i]) + " occurs more than once on roll " + record.roll.id +
                                    "; check the first frame numbers in the ledger.",
                                {{}, -1, -1, record.roll.id},
                                {}});
            return;
        }
}

/// The roll's frames by number, wherever they lie; takes their samples.
void gather_frames(Gathered& roll, const std::vector<StripRef>& strips, std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index,
                   std::vector<Finding>& findings) {
    struct Numbered {
        int number;
        FrameRef local;
    };
    std::vector<Numbered> frames;
    for (const StripRef& ref : strips) {
        const StripRecord& strip = sheets[static_cast<std::size_t>(ref.sheet)].record.strips[static_cast<std::size_t>(ref.strip)];
        for (int f = 0; f < static_cast<int>(strip.frames.size()); ++f)
            frames.push_back({strip.frames[static_cast<std::size_t>(f)].number, {ref.sheet, ref.strip, f}});
    }
    std::stable_sort(frames.begin(), frames.end(), [](const Numbered& a, const Numbered& b) { return a.number < b.number; });
    std::vector<int> numbers;
    for (const Numbered& frame : frames) numbers.push_back(frame.number);
    note_duplicate_numbers(roll.record, numbers, findings);
    roll.samples.camera_channels = !frames.empty();
    for (const Numbered& frame : frames) {
        MeasuredSheet& sheet = sheets[static_cast<std::size_t>(frame.local.scan)];
        FrameSamples& samples = sheet.samples[static_cast<std::size_t>(frame.local.strip)][static_cast<std::size_t>(frame.local.frame)];
        samples.number = frame.number;
        samples.note = note_of_frame(roll.record.roll, frame.number);
        roll.samples.relative_densities |= sheet.record.relative_densities;
        roll.samples.camera_channels &= sheet.record.info.kind == FileKind::raw;
        roll.samples.frames.push_back(std::move(samples));
        roll.local.push_back(frame.local);
        roll.record.frames.push_back({scan_index[static_cast<std::size_t>(frame.local.scan)], frame.local.strip, frame.local.frame});
    }
}

/// Everything about a roll but its film. `now`: all rolls being measured.
Gathered gather_roll(const NamedStrips& named, const std::vector<std::string>& now, std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index,
                     const RunOptions& options, std::vector<Finding>& findings) {
    Gathered roll;
    RollRecord& record = roll.record = told_of_roll(named.roll, now, options, findings);
    pool_strips(record, named.strips, sheets);
    gather_frames(roll, named.strips, sheets, scan_index, findings);
    roll.samples.facts = record.facts;
    roll.samples.base = record.base;
    roll.samples.spot_noise = record.spot_noise;
    roll.samples.silver_image = record.silver_image;
    return roll;
}

/// Rolls to be fitted together: each joins the first lot whose rolls it is like, while there is room.
std::vector<std::vector<std::size_t>> lots_of(const std::vector<Gathered>& rolls) {
    std::vector<std::vector<std::size_t>> lots;
    std::vector<std::size_t> frames;
    for (std::size_t r = 0; r < rolls.size(); ++r) {
        const RollSamples& roll = rolls[r].samples;
        std::size_t lot = 0;
        for (; lot < lots.size(); ++lot) {
            const RollSamples& first = rolls[lots[lot].front()].samples;
            if (are_alike(first.facts, roll.facts) && first.silver_image == roll.silver_image && frames[lot] + roll.frames.size() <= kMostFramesTogether) break;
        }
        if (lot == lots.size()) lots.emplace_back(), frames.push_back(0);
        lots[lot].push_back(r);
        frames[lot] += roll.frames.size();
    }
    return lots;
}

/// Hands the film's results to the roll's record and its frames'.
void hand_out(Gathered& roll, RollFilm film, const std::vector<FrameSamples>& samples, const RunOptions& options, std::vector<MeasuredSheet>& sheets,
              std::vector<Finding>& findings) {
    roll.record.film = std::move(film);
    roll.record.print = print_of_roll(options, roll.record.roll.id);
    std::vector<PrintValues> prints;
    for (const FrameSamples& frame : samples) prints.push_back(print_of_frame(options, roll.record.roll.id, frame.number));
    const auto balances = balances_of(roll.record.film, samples, prints, roll.record.print, roll.record.film.findings);
    for (std::size_t f = 0; f < roll.local.size(); ++f) {
        const FrameRef& local = roll.local[f];
        StripRecord& strip = sheets[static_cast<std::size_t>(local.scan)].record.strips[static_cast<std::size_t>(local.strip)];
        FrameRecord& frame = strip.frames[static_cast<std::size_t>(local.frame)];
        frame.exposure = roll.record.film.frames[f];
        frame.print = prints[f];
        frame.balance = balances[f];
    }
    for (Finding& finding : roll.record.film.findings) {
        // The film stage counts frames over the roll; findings name them by strip, as every other stage does.
        if (const int f = finding.where.frame; f >= 0 && f < static_cast<int>(roll.local.size())) {
            const FrameRef& local = roll.local[static_cast<std::size_t>(f)];
            finding.where.scan = sheets[static_cast<std::size_t>(local.scan)].record.file;
            finding.where.strip = local.strip;
            finding.where.frame = local.frame;
        }
        finding.where.roll = roll.record.roll.id;
        findings.push_back(finding);
    }
}

}  // namespace

RollRecord told_of_roll(const std::string& id, const std::vector<std::string>& now, const RunOptions& options, std::vector<Finding>& findings) {
    RollRecord record;
    record.roll.id = record.facts.id = id;
    if (options.ledger) describe_from_ledger(record, *options.ledger, findings);
    add_history(record.facts, options.history, now);
    return record;
}

Result<PooledRolls> pool_rolls(std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index, const RunOptions& options,
                               std::vector<Finding>& findings, Observer& observer) {
    std::vector<Gathered> rolls;
    const std::vector<NamedStrips> all = strips_by_roll(sheets);
    std::vector<std::string> now;
    for (const NamedStrips& named : all) now.push_back(named.roll);
    for (const NamedStrips& named : all) rolls.push_back(gather_roll(named, now, sheets, scan_index, options, findings));
    PooledRolls out;
    std::size_t fitted = 0;
    for (const std::vector<std::size_t>& lot : lots_of(rolls)) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while fitting roll " + rolls[lot.front()].record.roll.id);
        observer.progress("film", static_cast<double>(fitted), static_cast<double>(rolls.size()));
        std::vector<RollSamples> samples;
        for (const std::size_t r : lot) samples.push_back(std::move(rolls[r].samples));
        auto film = fit_stock(samples, options.film, on_all_threads());
        if (!film) return Failure(std::move(film.error()));
        for (std::size_t i = 0; i < lot.size(); ++i) hand_out(rolls[lot[i]], std::move(film->rolls[i]), samples[i].frames, options, sheets, findings);
        if (film->comparison) out.comparisons.push_back(std::move(*film->comparison));
        fitted += lot.size();
    }
    for (Gathered& roll : rolls) out.rolls.push_back(std::move(roll.record));
    return out;
}

}  // namespace basefog::pipeline
