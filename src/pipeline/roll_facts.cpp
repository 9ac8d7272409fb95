// SPDX-License-Identifier: GPL-3.0-or-later
#include "roll_facts.h"

#include "basefog/history/find_trends.h"

#include <algorithm>
#include <chrono>

namespace basefog::pipeline {
namespace {

constexpr double kDaysPerYear = 365.25;

FrameUse use_of(FrameSubject subject) {
    switch (subject) {
        case FrameSubject::step_wedge:
            return FrameUse::step_wedge;
        case FrameSubject::grey_card:
            return FrameUse::grey_card;
        case FrameSubject::colour_chart:
            return FrameUse::colour_chart;
        case FrameSubject::picture:
            break;
    }
    return FrameUse::picture;
}

}  // namespace

RollFacts facts_of_roll(const Ledger& ledger, const std::string& id) {
    RollFacts facts;
    facts.id = id;
    const Roll* roll = ledger.find_roll(id);
    if (roll == nullptr) return facts;
    facts.stock = roll->stock;
    facts.session = roll->session;
    facts.rating = roll->rating;
    facts.light = roll->light;
    facts.filter_mired = roll->filter_mired;
    const Stock* stock = ledger.find_stock(roll->stock);
    if (stock != nullptr) {
        facts.box_speed = stock->box_speed;
        facts.stock_balance = stock->balance;
        facts.own_process = stock->own_process;
        facts.black_and_white_told = stock->kind == StockKind::black_and_white;
    }
    const Session* session = ledger.find_session(roll->session);
    if (session != nullptr) facts.process = session->process;
    if (stock != nullptr && stock->expiry && session != nullptr && session->date) {
        const auto days = std::chrono::sys_days(*session->date) - std::chrono::sys_days(*stock->expiry);
        facts.years_past_expiry = static_cast<double>(days.count()) / kDaysPerYear;
    }
    return facts;
}

void add_history(RollFacts& facts, const std::vector<HistoryRoll>& history, const std::vector<std::string>& now) {
    if (history.empty() || facts.stock.empty()) return;
    std::vector<HistoryRoll> others;
    std::copy_if(history.begin(), history.end(), std::back_inserter(others),
                 [&](const HistoryRoll& roll) { return std::find(now.begin(), now.end(), roll.roll) == now.end(); });
    if (const auto slopes = earlier_curve(others, facts.stock, facts.process)) {
        EarlierCurve curve;
        curve.rolls = slopes->rolls;
        for (int i = 0; i < 3; ++i) curve.slope[i] = {slopes->slope[i], slopes->slope_std[i], slopes->rolls, MeasureFlag::none};
        facts.earlier_curve = curve;
    }
    if (const auto colour = earlier_colour(others, facts.stock, facts.process)) {
        ChartColour chart;
        for (std::size_t i = 0; i < 9; ++i)
            chart.neutral_share[i / 3][i % 3] = colour->neutral_share[i], chart.scene_from_layer[i / 3][i % 3] = colour->scene_from_layer[i];
        facts.earlier_colour = chart;
    }
}

FrameNote note_of_frame(const Roll& roll, int number) {
    for (const NamedFrame& frame : roll.frames)
        if (frame.number == number) return {use_of(frame.kind), frame.step, frame.stops, frame.light};
    return {};
}

}  // namespace basefog::pipeline
