// SPDX-License-Identifier: GPL-3.0-or-later
#include "roll_facts.h"

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

FrameNote note_of_frame(const Roll& roll, int number) {
    for (const NamedFrame& frame : roll.frames)
        if (frame.number == number) return {use_of(frame.kind), frame.step, frame.stops};
    return {};
}

}  // namespace basefog::pipeline
