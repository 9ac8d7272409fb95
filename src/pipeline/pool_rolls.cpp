// SPDX-License-Identifier: GPL-3.0-or-later
#include "pool_rolls.h"

#include "basefog/film/fit_roll.h"
#include "basefog/ledger/read_ledger.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace basefog::pipeline {
namespace {

/// One strip of a roll: which sheet of the group, which strip on it.
struct StripRef {
    int sheet = 0, strip = 0;
};

constexpr double kDaysPerYear = 365.25;

void describe_from_ledger(RollRecord& record, const Ledger& ledger) {
    const Roll* roll = ledger.find_roll(record.roll.id);
    if (roll == nullptr) return;
    record.roll = *roll;
    RollFacts& facts = record.facts;
    facts.stock = roll->stock;
    facts.rating = roll->rating;
    facts.light = roll->light;
    facts.filter_mired = roll->filter_mired;
    if (const Stock* stock = ledger.find_stock(roll->stock)) {
        record.stock = *stock;
        facts.box_speed = stock->box_speed;
        facts.stock_balance = stock->balance;
        facts.own_process = stock->own_process;
        facts.black_and_white_told = stock->kind == StockKind::black_and_white;
    }
    if (const Session* session = ledger.find_session(roll->session)) {
        record.session = *session;
        facts.process = session->process;
        if (const Bath* bath = ledger.find_bath(session->bath)) record.bath = *bath;
    }
    if (record.stock && record.stock->expiry && record.session && record.session->date) {
        const auto days = std::chrono::sys_days(*record.session->date) - std::chrono::sys_days(*record.stock->expiry);
        facts.years_past_expiry = static_cast<double>(days.count()) / kDaysPerYear;
    }
    record.rolls_done_before = rolls_done_before(ledger, record.roll.id);
    record.bath_age_days = bath_age_days(ledger, record.roll.id);
}

/// Inverse-variance mean of the strips' bases; the spread between strips widens the uncertainty where it exceeds what they claim.
Measured<Density> pool(const std::vector<Measured<Density>>& parts) {
    double weights = 0, sum = 0;
    std::int64_t n = 0;
    MeasureFlag flags = MeasureFlag::none;
    for (const Measured<Density>& part : parts) {
        const double w = 1 / std::max(1e-8, part.std_uncertainty.value() * part.std_uncertainty.value());
        weights += w;
        sum += w * part.value.value();
        n += part.n;
        flags = flags | part.flags;
    }
    if (weights <= 0) return {};
    const double mean = sum / weights;
    double chi2 = 0;
    for (const Measured<Density>& part : parts) {
        const double s = std::max(1e-4, part.std_uncertainty.value());
        chi2 += (part.value.value() - mean) * (part.value.value() - mean) / (s * s);
    }
    const double dof = static_cast<double>(parts.size()) - 1;
    const double widen = dof > 0 ? std::max(1.0, std::sqrt(chi2 / dof)) : 1.0;
    return {Density(mean), Density(widen / std::sqrt(weights)), n, flags};
}

void pool_strips(RollRecord& record, const std::vector<StripRef>& strips, const std::vector<MeasuredSheet>& sheets) {
    std::array<std::vector<Measured<Density>>, 3> base;
    std::array<double, 3> variance{};
    int silver = 0;
    double area = 0, film = 0;
    for (const StripRef& ref : strips) {
        const StripRecord& strip = sheets[static_cast<std::size_t>(ref.sheet)].record.strips[static_cast<std::size_t>(ref.strip)];
        for (int c = 0; c < 3; ++c) {
            base[static_cast<std::size_t>(c)].push_back(strip.base.base[c]);
            variance[static_cast<std::size_t>(c)] += strip.base.noise[c] * strip.base.noise[c];
        }
        silver += strip.base.silver_image ? 1 : 0;
        const double length = std::max(1.0, distance(strip.box.corners[0], strip.box.corners[1]));
        area += strip.residue.area_percent.value * length;
        film += length;
        record.worst_residue = std::max(record.worst_residue, strip.residue.grade);
    }
    for (int c = 0; c < 3; ++c) {
        record.base[c] = pool(base[static_cast<std::size_t>(c)]);
        record.spot_noise[c] = std::sqrt(variance[static_cast<std::size_t>(c)] / static_cast<double>(std::max<std::size_t>(1, strips.size())));
    }
    record.silver_image = record.facts.black_and_white_told || 2 * silver > static_cast<int>(strips.size());
    record.residue_area_percent = film > 0 ? area / film : 0;
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

}  // namespace

Result<std::vector<RollRecord>> pool_rolls(std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index, const RunOptions& options,
                                           std::vector<Finding>& findings, Observer& observer) {
    std::vector<std::string> order;
    std::map<std::string, std::vector<StripRef>> strips_of;
    for (int i = 0; i < static_cast<int>(sheets.size()); ++i)
        for (int s = 0; s < static_cast<int>(sheets[static_cast<std::size_t>(i)].record.strips.size()); ++s) {
            const std::string& roll = sheets[static_cast<std::size_t>(i)].record.strips[static_cast<std::size_t>(s)].roll;
            if (strips_of[roll].empty()) order.push_back(roll);
            strips_of[roll].push_back({i, s});
        }
    std::vector<RollRecord> records;
    for (const std::string& id : order) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while fitting roll " + id);
        observer.progress("film", static_cast<double>(records.size()), static_cast<double>(order.size()));
        const std::vector<StripRef>& strips = strips_of[id];
        RollRecord record;
        record.roll.id = record.facts.id = id;
        if (options.ledger) describe_from_ledger(record, *options.ledger);
        if (options.ledger && options.ledger->find_roll(id) == nullptr) {
            Finding finding{
                Severity::caution,
                "roll-not-in-ledger",
                "The ledger has no roll \"" + id + "\", so its stock, rating and light are not known. Check the name in the layout, or add the roll.",
                {},
                {}};
            finding.where.roll = id;
            findings.push_back(std::move(finding));
        }
        pool_strips(record, strips, sheets);

        struct Numbered {
            int number;
            FrameRef local;  // sheet of the group, strip, frame
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
        note_duplicate_numbers(record, numbers, findings);

        RollSamples samples;
        samples.facts = record.facts;
        samples.base = record.base;
        samples.spot_noise = record.spot_noise;
        samples.silver_image = record.silver_image;
        for (const Numbered& frame : frames) {
            MeasuredSheet& sheet = sheets[static_cast<std::size_t>(frame.local.scan)];
            samples.relative_densities |= sheet.record.relative_densities;
            samples.frames.push_back(std::move(sheet.samples[static_cast<std::size_t>(frame.local.strip)][static_cast<std::size_t>(frame.local.frame)]));
            record.frames.push_back({scan_index[static_cast<std::size_t>(frame.local.scan)], frame.local.strip, frame.local.frame});
        }
        auto film = fit_roll(samples, options.film);
        if (!film) return Failure(std::move(film.error()));
        record.film = std::move(*film);
        for (std::size_t f = 0; f < frames.size(); ++f) {
            const FrameRef& local = frames[f].local;
            sheets[static_cast<std::size_t>(local.scan)]
                .record.strips[static_cast<std::size_t>(local.strip)]
                .frames[static_cast<std::size_t>(local.frame)]
                .exposure = record.film.frames[f];
        }
        for (Finding& finding : record.film.findings) {
            // The film stage counts frames over the roll; findings name them by strip, as every other stage does.
            if (const int f = finding.where.frame; f >= 0 && f < static_cast<int>(frames.size())) {
                const FrameRef& local = frames[static_cast<std::size_t>(f)].local;
                finding.where.scan = sheets[static_cast<std::size_t>(local.scan)].record.file;
                finding.where.strip = local.strip;
                finding.where.frame = local.frame;
            }
            finding.where.roll = id;
            findings.push_back(finding);
        }
        records.push_back(std::move(record));
    }
    return records;
}

}  // namespace basefog::pipeline
