// SPDX-License-Identifier: GPL-3.0-or-later
#include "chain.h"

#include "constants.h"
#include "line_steps.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

/// All that a strip's columns say, in one place.
struct Columns {
    ColumnSums sums;
    Steps steps;
    std::vector<double> joints;
    double side = 0, u_first = 0;
    int n = 0;
    int film_first = 0, film_last = 0;  ///< columns of film: [first, last)
};
Columns look_at_columns(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty) {
    Columns out{column_sums(cells, place, rows, dirty), column_steps(cells, rows), column_joints(cells, rows), cells.side, cells.u_first, cells.nu, 0, 0};
    out.film_first = std::clamp(cell_index(place.u0, cells.u_first, cells.side), 0, cells.nu);
    out.film_last = std::clamp(cell_index(place.u1, cells.u_first, cells.side), out.film_first, cells.nu);
    return out;
}

/// Share that explains columns [from, to) best, and its evidence.
std::pair<double, int> best_share(const ColumnSums& sums, int from, int to) {
    std::pair<double, int> best{-1e9, 0};
    for (int a = 0; a < kShares; ++a) {
        const double e = sums[a][static_cast<std::size_t>(to)] - sums[a][static_cast<std::size_t>(from)];
        if (e > best.first) best = {e, a};
    }
    return best;
}

/// Evidence of columns [from, to), each short stretch by its own best share: so a picture gains nothing by being taken for two.
double evidence_of(const Columns& columns, int from, int to) {
    constexpr double kStretchMm = 6, kShareCost = 0.3;
    const int n = std::max(1, static_cast<int>(std::lround((to - from) * columns.side / kStretchMm)));
    double sum = 0;
    for (int k = 0; k < n; ++k) {
        const auto [evidence, share] = best_share(columns.sums, from + (to - from) * k / n, from + (to - from) * (k + 1) / n);
        sum += evidence - kShareCost * share;
    }
    return sum;
}

/// How much columns [from, to) speak for film without a picture, all of it clear.
double clearness(const Columns& columns, int from, int to) {
    return std::max(0.0, columns.sums[0][static_cast<std::size_t>(from)] - columns.sums[0][static_cast<std::size_t>(to)]);
}

/// Gates differ by a cell or two.
double strongest_near(const std::vector<double>& steps, int at, int reach) {
    double most = 0;
    for (int k = std::max(0, at - reach); k <= std::min(static_cast<int>(steps.size()) - 1, at + reach); ++k)
        most = std::max(most, steps[static_cast<std::size_t>(k)]);
    return most;
}

/// A frame from column i on, `width` columns wide. Where the film ends well within it, what is left of it counts.
Slot slot_at(const Columns& columns, int i, int width) {
    Slot slot;
    slot.u = columns.u_first + i * columns.side;
    slot.evidence = -1e9;
    const int over = static_cast<int>(std::lround(kCutMm / columns.side)), least = static_cast<int>(std::lround(kLeastCutMm / columns.side));
    slot.cut_start = i < columns.film_first - over;
    slot.cut_end = i + width > columns.film_last + over;
    const int from = slot.cut_start ? columns.film_first : i, to = slot.cut_end ? columns.film_last : i + width;
    if ((slot.cut_start && slot.cut_end) || to - from < least) return slot;
    slot.share = best_share(columns.sums, from, to).second;
    slot.evidence = evidence_of(columns, from, to) + kStepEvidence * ((slot.cut_start ? 0 : columns.steps.left[static_cast<std::size_t>(from)]) +
                                                                      (slot.cut_end ? 0 : strongest_near(columns.steps.right, to, 2)));
    if (slot.cut_start || slot.cut_end) slot.evidence -= kCutCost + kShortCost * std::max(0.0, 1 - (to - from) * columns.side / kShortMm);
    return slot;
}

/// Slots at every column, those that begin before the first included.
struct Slots {
    std::vector<Slot> at;
    int first = 0;  ///< column of the first
};
Slots all_slots(const Columns& columns, const Gauge& gauge) {
    const int width = static_cast<int>(std::lround(gauge.width / columns.side));
    Slots slots{{}, columns.film_first - width};
    for (int i = slots.first; i < columns.film_last; ++i) slots.at.push_back(slot_at(columns, i, width));
    return slots;
}

struct Step {
    int back = 0;     ///< columns
    int skipped = 0;  ///< slots in between without a picture
    double cost = 0;
};

/// Advances from one picture to the next, over skipped slots too.
std::vector<Step> possible_steps(double side, const Gauge& gauge, double length) {
    std::vector<Step> steps;
    const int most = std::min(gauge.most_frames, static_cast<int>(length / gauge.pitch) + 2);
    for (int k = 1; k < most; ++k) {
        const double room = std::sqrt(static_cast<double>(k));
        const double least = std::min(k * gauge.pitch - gauge.advance_less * room, (k - 1) * gauge.pitch + gauge.width - gauge.most_overlap);
        const int from = static_cast<int>(std::lround(least / side));
        // One frame may be wound on too far, by up to where a blank one would have room; not by a camera that never winds too little.
        const double furthest = k == 1 && gauge.most_overlap > 0 ? 2 * gauge.pitch - gauge.advance_less : k * gauge.pitch + gauge.advance_more * room;
        const int to = static_cast<int>(std::lround(furthest / side));
        for (int back = from; back <= to; ++back) {
            const double off = (back * side - k * gauge.pitch) / (gauge.advance_std * room);
            steps.push_back({back, k - 1, std::min(0.5 * off * off, kAdvanceCostMost) + 1.5 * (k - 1)});
        }
    }
    return steps;
}

/// Of clear film beside a frame, that much is looked at: a gap is rarely narrower. Chosen.
constexpr double kClearBesideMm = 1;

class ChainSearch {
public:
    ChainSearch(const Columns& columns, const Gauge& gauge)
        : columns_(columns),
          gauge_(gauge),
          slots_(all_slots(columns, gauge)),
          width_(static_cast<int>(std::lround(gauge.width / columns.side))),
          beside_(static_cast<int>(std::lround(kClearBesideMm / columns.side))),
          score_(slots_.at.size(), -1e9),
          from_(slots_.at.size(), -1),
          skipped_(slots_.at.size(), 0) {}

    Chain run() {
        const std::vector<Step> steps = possible_steps(columns_.side, gauge_, (columns_.film_last - columns_.film_first) * columns_.side);
        int best = -1;
        for (int i = 0; i < static_cast<int>(slots_.at.size()); ++i) {
            const auto here = static_cast<std::size_t>(i);
            if (slots_.at[here].evidence < kLeastEvidence) continue;
            score_[here] = slots_.at[here].evidence + before(i, steps);
            if (best < 0 || score_[here] > score_[static_cast<std::size_t>(best)]) best = i;
        }
        if (best < 0) return {};
        return trace(best);
    }

private:
    /// The best that can come before a frame at i, or nothing.
    double before(int i, const std::vector<Step>& steps) {
        const auto here = static_cast<std::size_t>(i);
        double best = 0;
        for (const Step& step : steps) {
            if (step.back > i) continue;
            const int j = i - step.back;
            if (slots_.at[static_cast<std::size_t>(j)].cut_end || score_[static_cast<std::size_t>(j)] < -1e8) continue;
            const double s = score_[static_cast<std::size_t>(j)] - step.cost + meeting(j, i);
            if (s <= best) continue;
            best = s;
            from_[here] = j;
            skipped_[here] = step.skipped;
        }
        return best;
    }
    /// What lies between two frames, the second beginning at slot i. A gap is clear but for dirt. Without one that could be seen, the place where they
    /// meet, or where one begins and the other ends, must show as a joint; and columns that they share must not count for both.
    [[nodiscard]] double meeting(int j, int i) const {
        constexpr double kOneJoint = 1.3, kNarrowMm = 2 * kLeastGapMm, kWideMm = 5, kDenseGap = 2, kTwoAccidents = 40, kClearBeside = 2,
                         kHiddenOverlap = 15;  // Chosen
        constexpr int kOneEdge = 5;            // columns over which blur spreads one edge
        const int begin = slots_.first + i, end = slots_.first + j + width_, narrow = static_cast<int>(std::lround(kNarrowMm / columns_.side));
        const int from = std::clamp(begin, 0, columns_.n), to = std::clamp(end, 0, columns_.n);
        const int blurred = from - to < narrow ? 1 : 2;
        double score = 0;
        if (from - to > 2 * blurred && (from - to) * columns_.side < kWideMm)
            score -= kDenseGap * std::max(0.0, evidence_of(columns_, to + blurred, from - blurred));
        if (from - to >= narrow) return score;
        if (to > from) score -= std::max(0.0, evidence_of(columns_, from, to));
        // Clear film behind the first frame's end, or before the second's beginning, is the gap and no part of the other.
        if (to - from > kOneEdge)
            score -= kClearBeside * (clearness(columns_, std::min(to + 2, columns_.n), std::min(to + 2 + beside_, columns_.n)) +
                                     clearness(columns_, std::max(from - 2 - beside_, 0), std::max(from - 2, 0)));
        // That the film ends within a frame and another overlaps it as well takes two accidents at once.
        const bool cut = slots_.at[static_cast<std::size_t>(j)].cut_start || slots_.at[static_cast<std::size_t>(i)].cut_end;
        if (cut && to - from > kOneEdge) score -= kTwoAccidents;
        // Chosen: lines in a picture make a third of a joint now and then; grey beside grey makes no whole one.
        const auto sure = [&](int at, int reach) { return std::clamp((strongest_near(columns_.joints, at, reach) - 0.3) / 0.4, 0.0, 1.0); };
        const double first = sure(from, 0), last = sure(to, 2);
        // Where the two coincide they are one joint, which must not count twice; and frames that overlap must show both.
        const double joints = std::abs(from - to) > kOneEdge ? 2 * std::min(first, last) : kOneJoint * std::max(first, last);
        // An overlap that hardly shows, of two frames of which one's other end does not show either, is a line in a picture far more often.
        if (to - from > kOneEdge) score -= kHiddenOverlap * std::max(0.0, 1 - 2 * std::min(first, last)) * (1 - std::min(shows_start(j), shows_end(i)));
        // What counted as a step before is the same edge.
        const double counted = strongest_near(columns_.steps.left, from, 0) + strongest_near(columns_.steps.right, to, 2);
        const double seen = strongest_near(columns_.steps.left, from, 3) + strongest_near(columns_.steps.right, to, 5);
        return score + (seen + 0.3 > joints ? 0 : kStepEvidence * std::max(0.0, joints - counted)) - kMeetCost * std::max(0.0, 1 - seen);
    }
    /// How plainly a frame's start, or its end, shows: as a step from clear film, or as a joint.
    [[nodiscard]] double shows_start(int slot) const {
        const int at = std::clamp(slots_.first + slot, 0, columns_.n);
        return std::max(strongest_near(columns_.steps.left, at, 2), strongest_near(columns_.joints, at, 2));
    }
    [[nodiscard]] double shows_end(int slot) const {
        const int at = std::clamp(slots_.first + slot + width_, 0, columns_.n);
        return std::max(strongest_near(columns_.steps.right, at, 2), strongest_near(columns_.joints, at, 2));
    }
    [[nodiscard]] Chain trace(int best) const {
        Chain chain;
        chain.score = score_[static_cast<std::size_t>(best)];
        std::vector<double> advances;
        for (int i = best; i >= 0; i = from_[static_cast<std::size_t>(i)]) {
            const auto here = static_cast<std::size_t>(i);
            chain.slots.push_back(slots_.at[here]);
            if (from_[here] < 0) break;
            const int gaps = skipped_[here] + 1;
            const double advance = (i - from_[here]) * columns_.side / gaps;
            for (int k = 1; k < gaps; ++k) {
                Slot slot;
                slot.u = slots_.at[here].u - k * advance;
                slot.share = kShares - 1;
                slot.seen = false;
                chain.slots.push_back(slot);
            }
            for (int k = 0; k < gaps; ++k) advances.push_back(advance);
        }
        std::reverse(chain.slots.begin(), chain.slots.end());
        chain.advance = advances.size() >= 2 ? median(advances) : gauge_.pitch;
        if (std::abs(chain.advance - gauge_.pitch) > 2.5 * gauge_.advance_std) chain.advance = gauge_.pitch;
        return chain;
    }

    const Columns& columns_;
    const Gauge& gauge_;
    Slots slots_;
    int width_, beside_;  ///< columns: of a frame; of a gap that is looked for beside one
    std::vector<double> score_;
    std::vector<int> from_, skipped_;
};

}  // namespace

Chain find_chain(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const Gauge& gauge) {
    const Columns columns = look_at_columns(cells, place, rows, dirty);
    return ChainSearch(columns, gauge).run();
}

FormatChoice choose_format(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const std::vector<Gauge>& gauges,
                           const FormatPrior& prior) {
    const Columns columns = look_at_columns(cells, place, rows, dirty);
    FormatChoice best;
    best.scores.fill(-1e9);
    double most = -1e9, next = 0;
    for (const Gauge& gauge : gauges) {
        Chain chain = ChainSearch(columns, gauge).run();
        double score = chain.slots.empty() ? 0 : chain.score - kFrameCost * static_cast<double>(chain.slots.size());
        best.scores[place_of(gauge.format)] = score;
        score += prior[place_of(gauge.format)];
        if (score <= most) {
            next = std::max(next, score);
            continue;
        }
        next = std::max(next, most);
        most = score;
        best.gauge = gauge;
        best.chain = std::move(chain);
    }
    best.lead = gauges.size() > 1 ? most - next : kUsualFormat;
    return best;
}

Slot slot_near(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, double u, double reach, const Gauge& gauge) {
    Slot best;
    best.u = u;
    best.evidence = -1e9;
    best.share = kShares - 1;
    best.seen = false;
    for (const Slot& slot : all_slots(look_at_columns(cells, place, rows, dirty), gauge).at) {
        const double off = slot.u - u;
        if (std::abs(off) > reach || slot.cut_start || slot.cut_end) continue;
        const double evidence = slot.evidence - 0.5 * off * off / (gauge.advance_std * gauge.advance_std);
        if (evidence <= best.evidence) continue;
        best = slot;
        best.evidence = evidence;
    }
    return best;
}

}  // namespace basefog::frames
