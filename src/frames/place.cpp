// SPDX-License-Identifier: GPL-3.0-or-later
#include "place.h"

#include "constants.h"
#include "ends.h"
#include "fog.h"
#include "kinds.h"
#include "long_edges.h"
#include "robust.h"
#include "top_line.h"
#include "winding.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

/// Slots beyond the first and last frame, as far as the film reaches.
void fill_ends(StripFit& fit) {
    const double least = kLeastBlankShare * fit.gauge.width;
    const auto empty_copy = [](FrameFit f, double by) {
        f.u += by;
        f.placed_by_pitch = true;
        f.cut_start = f.cut_end = false;
        return f;
    };
    while (static_cast<int>(fit.frames.size()) < fit.gauge.most_frames) {
        const FrameFit next = empty_copy(fit.frames.back(), fit.advance);
        if (fit.place.u1 - next.u < least) break;
        fit.frames.push_back(next);
    }
    while (static_cast<int>(fit.frames.size()) < fit.gauge.most_frames) {
        const FrameFit next = empty_copy(fit.frames.front(), -fit.advance);
        if (next.end() - fit.place.u0 < least) break;
        fit.frames.insert(fit.frames.begin(), next);
    }
    for (FrameFit& f : fit.frames) {
        if (!f.placed_by_pitch) continue;
        f.kind = FrameKind::blank;
        f.left_share = f.right_share = 0;
        f.u_std = 2 * fit.gauge.advance_std;
    }
}

/// Frames of which no edge shows and which hold nothing: clear film after all.
void tell_blanks(StripFit& fit, const StripCells& cells, const ClearFilm& clear) {
    for (FrameFit& f : fit.frames) {
        const bool edges = std::max({f.left_share, f.right_share, f.long_share}) > kLeastEdgeShare;
        if (f.kind != FrameKind::picture || edges || holds_picture(cells, f, clear, true)) continue;
        f.kind = FrameKind::blank;
        f.placed_by_pitch = true;
        f.u_std = std::max(f.u_std, fit.gauge.advance_std);
    }
}

/// Slots put in by the advance that do hold a picture are looked at again as such.
bool seek_dark_pictures(StripFit& fit, const StripCells& cells, const ClearFilm& clear) {
    constexpr double kReach = 1.5;
    bool any = false;
    for (FrameFit& f : fit.frames) {
        if (!f.placed_by_pitch || !holds_picture(cells, f, clear)) continue;
        const Slot slot = slot_near(cells, fit.place, {f.top, 0, 0.6, f.height - 0.6}, clear.dirty, f.u, kReach, fit.gauge);
        f.kind = FrameKind::picture;
        f.placed_by_pitch = false;
        f.dark = true;
        f.u = slot.u;
        any = true;
    }
    return any;
}

/// A blank frame may be laid over its neighbour, whose lines then pass for its own. Where an even advance expects it, there is nothing.
void clear_overlaid(StripFit& fit, const StripCells& cells, const ClearFilm& clear) {
    const auto even = even_advance(fit);
    for (std::size_t i = 0; even && i < fit.frames.size(); ++i) {
        FrameFit& f = fit.frames[i];
        if (even->kept[i] || f.placed_by_pitch || f.cut_start || f.cut_end) continue;
        const bool over_last = i > 0 && f.u < fit.frames[i - 1].end() - kLeastGapMm,
                   over_next = i + 1 < fit.frames.size() && f.end() > fit.frames[i + 1].u + kLeastGapMm;
        const auto expected = expected_at(fit, *even, i);
        if (!expected || (!over_last && !over_next)) continue;
        FrameFit moved = f;
        moved.u = expected->u;
        if (moved.u < fit.place.u0 - kCutMm || moved.end() > fit.place.u1 + kCutMm || holds_picture(cells, moved, clear)) continue;
        f = moved;
        f.placed_by_pitch = true;
    }
}

/// What was taken for a picture cut off by the film's end is none where light reached the rebate as well: a leader loaded in daylight.
void drop_fogged_leader(StripFit& fit, const StripCells& cells) {
    const auto leader = [&](const FrameFit& f) {
        return (f.cut_start || f.cut_end) && fogged_across(cells, f, first_on_film(fit, f) + 0.5, last_on_film(fit, f) - 0.5);
    };
    if (fit.frames.size() > 1 && leader(fit.frames.front())) fit.frames.erase(fit.frames.begin());
    if (fit.frames.size() > 1 && leader(fit.frames.back())) fit.frames.pop_back();
}

/// Each by what is its own: a fogged frame laid over a picture is fogged all the same.
void tell_kinds(StripFit& fit, const StripCells& cells) {
    constexpr double kLeastOwn = 0.5;  // Chosen: share of a frame; less does not tell
    std::vector<FrameFit>& frames = fit.frames;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        FrameFit own = frames[i];
        const double begin = i > 0 ? std::max(own.u, frames[i - 1].end()) : own.u, end = i + 1 < frames.size() ? std::min(own.end(), frames[i + 1].u) : own.end();
        if (end - begin >= kLeastOwn * own.width) own.u = begin, own.width = end - begin;
        tell_kind(cells, own);
        frames[i].kind = own.kind, frames[i].level = own.level, frames[i].spread = own.spread;
    }
}

bool looks_like_film(const StripPlace& place, const StripCells& cells) {
    const double red = cells.base.at(0, 0, 0), blue = cells.base.at(2, 0, 0);
    const bool masked = blue - red > 0.2;
    const bool right_width = place.whole_width_seen() && std::abs(place.width() - place.film_width()) < 0.7;
    return cells.base.share > 0.4 && (masked || right_width);
}

void lay_out_blank(StripFit& fit) {
    const double pitch = fit.gauge.pitch, width = fit.gauge.width;
    fit.no_pictures = true;
    fit.advance = pitch;
    const int n = std::clamp(static_cast<int>(std::floor((fit.place.length() - kLeastBlankShare * width) / pitch)) + 1, 0, fit.gauge.most_frames);
    for (int i = 0; i < n; ++i) {
        FrameFit f;
        f.u = fit.place.u0 + 0.5 * (pitch - width) + i * pitch;
        f.top = fit.place.axis_v - 0.5 * fit.gauge.height;
        f.width = width;
        f.height = fit.gauge.height;
        f.kind = FrameKind::blank;
        f.placed_by_pitch = true;
        f.u_std = pitch / 4;
        f.v_std = 0.5;
        fit.frames.push_back(f);
    }
}

void start_frames(StripFit& fit, const Chain& chain, const TopLine& top) {
    fit.advance = chain.advance;
    fit.frames.clear();
    for (const Slot& slot : chain.slots) {
        FrameFit f;
        f.u = slot.u;
        f.top = top.at0;
        f.width = fit.gauge.width;
        f.height = fit.gauge.height;
        f.placed_by_pitch = !slot.seen;
        f.cut_start = slot.cut_start;
        f.cut_end = slot.cut_end;
        f.evidence = slot.evidence;
        fit.frames.push_back(f);
    }
}

/// Edges sharpen the evidence's answer: three looks, each nearer than the last.
void settle_edges(StripFit& fit, const Overview& overview, const SheetLight& light) {
    constexpr double kGuards[] = {0.4, 0.22, 0.18};
    for (const double least : kGuards) {
        const double guard = guard_for(fit.pose, least);
        const LongEdges along = look_along(overview, light, fit, guard);
        const LongFit line = fit_long(along, fit, std::max(least * 0.7, 1.0 / fit.pose.px_per_mm()));
        fit.curve_std = line.curve_std;
        for (FrameFit& f : fit.frames) {
            f.top = line.at0;
            f.height = line.height;
        }
        if (least > kGuards[2]) {
            fit.pose = fit.pose.turned(line.slope, line.curve);
        } else {
            for (FrameFit& f : fit.frames) f.top = line.top_at(f.u + f.width / 2);
            ride(fit, along, line);
        }
        solve_starts(fit, look_at_ends(overview, light, fit, guard));
        if (return_strays(fit, overview, light, guard)) solve_starts(fit, look_at_ends(overview, light, fit, guard));
    }
}

/// The film's own axis first: perforations, or its edges.
void find_axis(StripFit& fit, const Overview& overview, const SheetLight& light) {
    StripPlace& place = fit.place;
    follow_film_edges(overview, light, place);
    if (place.family != FilmFamily::perforated_35) return;
    const auto spacing = find_spacing(overview, light, place, 0.8 * kPerforationPitchMm, 1.25 * kPerforationPitchMm);
    if (!spacing) return;
    fit.lattice = fit_lattice(overview, light, place, *spacing);
    if (!fit.lattice || !fit.lattice->inner || place.axis_seen) return;
    bend_place(place, *fit.lattice->inner);
    place.axis_v = fit.lattice->axis_v;
    place.axis_std = 0.3;
}

StripCells look_at_cells(StripFit& fit, const Overview& overview, const SheetLight& light) {
    StripCells cells = sample_strip(overview, light, fit.place, fit.pose);
    measure_base(cells);
    fit.base = cells.base;
    return cells;
}

}  // namespace

double FrameFit::confidence() const {
    const auto within = [](double std) { return std::erf(kConfidenceMm / (std::max(std, 1e-4) * std::numbers::sqrt2)); };
    // One edge alone may be a line in the picture; two that agree on the gate's size are not.
    const auto trust = [](double one, double other) {
        const double a = std::exp(-one / kSureShare), b = std::exp(-other / kSureShare);
        return 1 - 0.5 * a * b - 0.1 * std::max(a, b);
    };
    return std::clamp(trust(left_share, right_share) * trust(top_share, bottom_share) * within(u_std) * within(v_std), 0.0, 1.0);
}

double FrameFit::quality() const {
    constexpr double kSeen = 0.2, kOneOnly = 0.7;  // Chosen
    const auto met = [](double a, double b) { return std::min(a, b) > kSeen ? 1 : kOneOnly; };
    return confidence() * met(top_share, bottom_share) * met(left_share, right_share);
}

double explained_area(const StripFit& fit) {
    double sum = 0;
    for (const FrameFit& f : fit.frames) {
        if (f.kind != FrameKind::blank) sum += f.quality() * std::max(0.0, last_on_film(fit, f) - first_on_film(fit, f)) * f.height;
    }
    return sum * fit.pose.px_per_mm() * fit.pose.px_per_mm();
}

std::optional<StripFit> fit_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const FindOptions& options,
                                  const FormatPrior& prior) {
    StripFit fit;
    fit.place = place;
    find_axis(fit, overview, light);
    fit.pose = fit.place.pose;
    StripCells cells = look_at_cells(fit, overview, light);
    const std::vector<Gauge> gauges = gauges_for(fit.place.family, options);
    const double height = picture_height_of(fit.place.family), band = kFirstBandShare * height;
    FormatChoice choice = choose_format(cells, fit.place, {fit.place.axis_v, 0, -band, band}, kDirtyShare, gauges, prior);
    TopLine top{fit.place.axis_v - height / 2, 0, 0};
    if (!choice.chain.slots.empty()) {
        top = find_top(cells, fit.place, choice.chain, kDirtyShare, choice.gauge);
        fit.pose = fit.pose.turned(top.slope);
        cells = look_at_cells(fit, overview, light);
    }
    const Rows rows{top.at0, 0, 0.6, height - 0.6};
    if (!choice.chain.slots.empty()) measure_fog(cells, rows, height);
    fit.base = cells.base;
    const ClearFilm clear = look_at_clear_film(cells, rows, height);
    FormatChoice better = choose_format(cells, fit.place, rows, clear.dirty, gauges, prior);
    if (!better.chain.slots.empty()) choice = std::move(better);
    fit.gauge = choice.gauge;
    fit.lead = choice.lead;
    fit.format_scores = choice.scores;
    if (choice.chain.slots.empty()) {
        if (!looks_like_film(fit.place, cells)) return std::nullopt;
        const auto has_room = [&](const Gauge& gauge) { return fit.place.length() >= kLeastBlankShare * gauge.width; };
        for (const Gauge& gauge : gauges) {
            const bool likelier = prior[place_of(gauge.format)] > prior[place_of(fit.gauge.format)];
            if (has_room(gauge) != has_room(fit.gauge) ? has_room(gauge) : likelier) fit.gauge = gauge;
        }
        lay_out_blank(fit);
        if (fit.frames.empty()) return std::nullopt;
        for (FrameFit& f : fit.frames) f.kind = holds_picture(cells, f, clear) ? FrameKind::picture : FrameKind::blank;
        return fit;
    }
    fit.score = choice.chain.score;
    start_frames(fit, choice.chain, top);
    drop_fogged_leader(fit, cells);
    settle_edges(fit, overview, light);
    clear_overlaid(fit, cells, clear);
    fill_ends(fit);
    if (seek_dark_pictures(fit, cells, clear)) settle_edges(fit, overview, light);
    tell_blanks(fit, cells, clear);
    tell_kinds(fit, cells);
    return fit;
}

}  // namespace basefog::frames
