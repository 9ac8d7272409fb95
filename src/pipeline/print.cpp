// SPDX-License-Identifier: GPL-3.0-or-later
#include "print.h"

#include "settings.h"

#include "basefog/invert/balance.h"

#include <algorithm>
#include <filesystem>
#include <optional>

namespace basefog::pipeline {
namespace {

using By = BalanceChoice::By;

template <class T>
const PrintChoices* choices_in(const std::vector<T>& frames, int number) {
    const auto found = std::find_if(frames.begin(), frames.end(), [&](const T& frame) { return frame.number == number; });
    return found == frames.end() ? nullptr : &found->print;
}

const RollPrintChoices* settings_of_roll(const RunOptions& options, const std::string& roll) {
    const auto found = std::find_if(options.roll_print.begin(), options.roll_print.end(), [&](const RollPrintChoices& r) { return r.roll == roll; });
    return found == options.roll_print.end() ? nullptr : &*found;
}

const Roll* ledger_roll(const RunOptions& options, const std::string& roll) { return options.ledger ? options.ledger->find_roll(roll) : nullptr; }

Finding no_balance(const std::string& why, std::size_t frame) {
    Finding finding{Severity::caution, "balance-not-told", why + " The roll's own balance is used.", {}, {}};
    finding.where.frame = static_cast<int>(frame);
    return finding;
}

PrintChoices chosen(const PrintValues& values) { return {values.balance, values.exposure, values.contrast, values.black_point, values.saturation}; }

}  // namespace

PrintValues print_of_run(const RunOptions& options) {
    const InvertOptions& invert = options.invert;
    return overlaid({{}, invert.exposure, invert.contrast, invert.black_point, invert.saturation}, options.print);
}

PrintValues print_of_roll(const RunOptions& options, const std::string& roll) {
    PrintValues values = print_of_run(options);
    if (const Roll* told = ledger_roll(options, roll)) values = overlaid(values, told->print);
    if (const RollPrintChoices* set = settings_of_roll(options, roll)) values = overlaid(values, set->print);
    return values;
}

PrintValues print_of_frame(const RunOptions& options, const std::string& roll, int number) {
    PrintValues values = print_of_roll(options, roll);
    if (const Roll* told = ledger_roll(options, roll))
        if (const PrintChoices* frame = choices_in(told->frames, number)) values = overlaid(values, *frame);
    if (const RollPrintChoices* set = settings_of_roll(options, roll))
        if (const PrintChoices* frame = choices_in(set->frames, number)) values = overlaid(values, *frame);
    return values;
}

InvertOptions invert_options_of(const RunOptions& options, const PrintValues& print) {
    InvertOptions invert = options.invert;
    invert.exposure = print.exposure;
    invert.contrast = print.contrast;
    invert.black_point = print.black_point;
    invert.saturation = print.saturation;
    return invert;
}

std::vector<Rgb<LogExposure>> balances_of(const RollFilm& film, const std::vector<FrameSamples>& frames, const std::vector<PrintValues>& prints,
                                          const PrintValues& of_roll, std::vector<Finding>& findings) {
    const FilmModel& model = film.model;
    std::vector<Rgb<LogExposure>> balances(frames.size(), model.balance);
    if (model.silver) return balances;  // one layer: nothing to balance
    const auto shifted = [&](const Rgb<LogExposure>& balance, std::size_t to) {
        Rgb<LogExposure> out = balance;
        for (int l = 0; l < 3; ++l) out[l] = out[l] + film.frames[to].light_shift[l];
        return out;
    };
    for (std::size_t f = 0; f < frames.size(); ++f) balances[f] = shifted(balances[f], f);
    for (std::size_t f = 0; f < frames.size(); ++f) {
        const BalanceChoice& choice = prints[f].balance;
        if (choice.by == By::numbers) {
            for (int l = 0; l < 3; ++l) balances[f][l] = to_log_exposure(choice.stops[l]);
            if (choice == of_roll.balance) balances[f] = shifted(balances[f], f);
        }
        if (choice.by != By::frame && choice.by != By::patch) continue;
        if (frames[f].kind == FrameKind::blank) continue;
        const int number = choice.by == By::patch ? choice.frame.value_or(frames[f].number) : frames[f].number;
        const auto from = std::find_if(frames.begin(), frames.end(), [&](const FrameSamples& s) { return s.number == number; });
        if (from == frames.end()) {
            findings.push_back(no_balance("Its balance was to be taken from frame " + std::to_string(number) + ", which this run did not meet.", f));
            continue;
        }
        const auto found = choice.by == By::patch ? balance_of_patch(model, *from, choice.patch) : balance_of_picture(model, *from);
        if (found && choice.by == By::patch) {
            // In the light of the frame that holds the patch.
            const auto& there = film.frames[static_cast<std::size_t>(from - frames.begin())].light_shift;
            balances[f] = shifted(*found, f);
            for (int l = 0; l < 3; ++l) balances[f][l] = balances[f][l] - there[l];
        } else if (found)
            balances[f] = *found;
        else
            findings.push_back(no_balance(choice.by == By::patch
                                              ? "The grey patch named in frame " + std::to_string(number) + " holds no clean film above base."
                                              : "The picture holds no clean film above base to balance by.",
                                          f));
    }
    return balances;
}

std::string settings_file_of(const RunRecord& record, const RunOptions& options) {
    Settings settings;
    settings.output.profile = output_name(options.invert);
    if (options.invert.output == OutputSpace::profile_file) {
        std::error_code ignored;
        settings.output.profile = std::filesystem::absolute(options.invert.profile_path, ignored).string();
    }
    settings.output.icc_version = options.invert.icc_version;
    settings.output.compression = compression_name(options.invert.compression);
    settings.output.linear = options.invert.linear;
    settings.output.density = options.invert.density;
    settings.print = chosen(print_of_run(options));
    for (const RollRecord& roll : record.rolls) {
        RollPrintChoices choices{roll.roll.id, chosen(roll.print), {}};
        for (const FrameRef& ref : roll.frames) {
            const FrameRecord& frame =
                record.scans[static_cast<std::size_t>(ref.scan)].strips[static_cast<std::size_t>(ref.strip)].frames[static_cast<std::size_t>(ref.frame)];
            const bool again = std::any_of(choices.frames.begin(), choices.frames.end(), [&](const auto& f) { return f.number == frame.number; });
            if (!again && frame.print != roll.print) choices.frames.push_back({frame.number, chosen(frame.print)});
        }
        settings.rolls.push_back(std::move(choices));
    }
    std::vector<std::string> head{"The choices these positives were made with. With the same program, scans, ledger and layout,", "",
                                  "  basefog invert --settings THIS-FILE"};
    for (const auto& [name, value] : settings_of(options))
        if (name == "ledger" || name == "layout" || name == "encoding" || name == "format" || name == "dpi" || name == "infrared")
            head.back() += " --" + name + " " + value;
        else if (name == "no-infrared")
            head.back() += " --no-infrared";
    head.insert(head.end(), {"", "gives the same again. What may be changed, and how, stands in the page on settings."});
    return settings_text(settings, head);
}

}  // namespace basefog::pipeline
