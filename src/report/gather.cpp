// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/gather.h"

#include <algorithm>

namespace basefog::report {
namespace {

bool in_range(int index, std::size_t size) { return index >= 0 && static_cast<std::size_t>(index) < size; }

/// Pointers to the optional values of all rolls, one for each id.
template <class T>
std::vector<const T*> each_once(const std::vector<RollRecord>& rolls, std::optional<T> RollRecord::*member) {
    std::vector<const T*> found;
    for (const RollRecord& roll : rolls) {
        const std::optional<T>& value = roll.*member;
        if (!value) continue;
        const bool known = std::any_of(found.begin(), found.end(), [&](const T* other) { return other->id == value->id; });
        if (!known) found.push_back(&*value);
    }
    return found;
}

}  // namespace

std::vector<Finding> all_findings(const RunRecord& record) {
    std::vector<Finding> findings = record.findings;
    for (const RollRecord& roll : record.rolls) {
        for (const Finding& finding : roll.film.findings) {
            Finding named = finding;
            if (named.where.roll.empty()) named.where.roll = roll.roll.id;
            const auto known = [&](const Finding& other) { return other == finding || other == named; };
            if (std::none_of(findings.begin(), findings.end(), known)) findings.push_back(std::move(named));
        }
    }
    return findings;
}

std::vector<const Stock*> all_stocks(const RunRecord& record) { return each_once(record.rolls, &RollRecord::stock); }
std::vector<const Session*> all_sessions(const RunRecord& record) { return each_once(record.rolls, &RollRecord::session); }
std::vector<const Bath*> all_baths(const RunRecord& record) { return each_once(record.rolls, &RollRecord::bath); }

std::optional<int> find_roll(const RunRecord& record, const std::string& id) {
    for (std::size_t i = 0; i < record.rolls.size(); ++i)
        if (record.rolls[i].roll.id == id) return static_cast<int>(i);
    return std::nullopt;
}

std::optional<int> find_scan(const RunRecord& record, const std::string& file) {
    for (std::size_t i = 0; i < record.scans.size(); ++i)
        if (record.scans[i].file == file) return static_cast<int>(i);
    return std::nullopt;
}

const StripRecord* find_strip(const RunRecord& record, const FrameRef& ref) {
    if (!in_range(ref.scan, record.scans.size())) return nullptr;
    const std::vector<StripRecord>& strips = record.scans[static_cast<std::size_t>(ref.scan)].strips;
    return in_range(ref.strip, strips.size()) ? &strips[static_cast<std::size_t>(ref.strip)] : nullptr;
}

const FrameRecord* find_frame(const RunRecord& record, const FrameRef& ref) {
    const StripRecord* strip = find_strip(record, ref);
    if (strip == nullptr || !in_range(ref.frame, strip->frames.size())) return nullptr;
    return &strip->frames[static_cast<std::size_t>(ref.frame)];
}

std::optional<FrameRef> find_place(const RunRecord& record, const Where& where) {
    const std::optional<int> scan = find_scan(record, where.scan);
    if (!scan) return std::nullopt;
    const FrameRef ref{*scan, where.strip, where.frame};
    return find_frame(record, ref) != nullptr ? std::optional(ref) : std::nullopt;
}

const std::string& stock_name(const RollRecord& roll) {
    if (!roll.roll.stock.empty()) return roll.roll.stock;
    return roll.stock ? roll.stock->id : roll.facts.stock;
}

Totals count_totals(const RunRecord& record) {
    Totals totals;
    for (const ScanRecord& scan : record.scans) {
        ++totals.scans;
        totals.failed_scans += scan.failure ? 1 : 0;
        for (const StripRecord& strip : scan.strips) {
            ++totals.strips;
            for (const FrameRecord& frame : strip.frames) {
                totals.pictures += frame.box.kind == FrameKind::picture ? 1 : 0;
                totals.blank += frame.box.kind == FrameKind::blank ? 1 : 0;
                totals.fogged += frame.box.kind == FrameKind::fogged ? 1 : 0;
            }
        }
    }
    return totals;
}

}  // namespace basefog::report
