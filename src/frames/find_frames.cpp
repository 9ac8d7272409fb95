// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/find_frames.h"

#include "close_up.h"
#include "constants.h"
#include "place.h"
#include "robust.h"
#include "say.h"
#include "scale.h"

#include <algorithm>
#include <cmath>

namespace basefog {

namespace {

using namespace frames;

struct Found {
    std::vector<StripFit> strips;
    double px_per_mm = 0;
    ScaleOrigin origin = ScaleOrigin::assumed;
    bool doubtful = false;  ///< strips side by side without perforations: more likely one strip at another scale
    template <class Number>
    [[nodiscard]] double mean_of(const Number& number) const {
        double sum = 0;
        int n = 0;
        for (const StripFit& s : strips) {
            for (const FrameFit& f : s.frames) {
                sum += number(f);
                ++n;
            }
        }
        return n > 0 ? sum / n : 0;
    }
    [[nodiscard]] double confidence() const {
        return mean_of([](const FrameFit& f) { return f.confidence(); });
    }
    [[nodiscard]] double quality() const {
        return mean_of([](const FrameFit& f) { return f.quality(); });
    }
    [[nodiscard]] double explained() const {
        double sum = 0;
        for (const StripFit& s : strips) sum += explained_area(s);
        return sum;
    }
    [[nodiscard]] bool holes_seen() const {
        return std::any_of(strips.begin(), strips.end(), [](const StripFit& s) { return s.lattice.has_value(); });
    }
    /// What the film says of the scale: perforations before widths, widths before pictures.
    [[nodiscard]] std::optional<FilmSays> film_says() const {
        for (const ScaleOrigin from : {ScaleOrigin::perforations, ScaleOrigin::film_width, ScaleOrigin::assumed}) {
            std::vector<double> ratios;
            FilmSays says;
            for (const StripFit& strip : strips) {
                const auto one = scale_of_strip(strip);
                if (!one || one->origin != from) continue;
                says = *one;
                ratios.push_back(one->ratio);
            }
            if (ratios.empty()) continue;
            says.ratio = median(ratios);
            return says;
        }
        return std::nullopt;
    }
};

/// What all of the search goes by.
struct Search {
    const Overview& overview;
    const FindOptions& options;
    const ForEach& for_each;
};

/// A sheet as seen at one scale.
struct Sheet {
    CoarseSheet coarse;
    SheetLight light;
    cv::Mat shades;
    int step = 1;
    std::vector<TakenForBare::Opening> clear_film;  ///< openings in which what passes for bare light is clear film
    /// What passes for bare light is clear film, on all of the sheet.
    void deny_bare() {
        light.deny_bare();
        shades = shade_map(coarse, light);
    }
    /// The same in some openings only; bare light shows in others.
    void deny_bare_in(std::vector<TakenForBare::Opening> openings) {
        clear_film = std::move(openings);
        for (const TakenForBare::Opening& opening : clear_film) {
            cv::Mat part = shades(opening.box);
            part.setTo(static_cast<int>(Shade::film), (part == static_cast<int>(Shade::bare)) & opening.mask);
        }
    }
    /// Light as it is to be understood on a strip.
    [[nodiscard]] SheetLight light_of(const StripPlace& place) const {
        SheetLight out = light;
        if (place.clear_as_bare) out.deny_bare();
        return out;
    }
};
Sheet look_at_sheet(const Overview& overview, double px_per_mm) {
    Sheet sheet;
    sheet.step = coarse_step(overview, px_per_mm);
    sheet.coarse = reduce(overview, sheet.step);
    sheet.light = SheetLight::measure(sheet.coarse, static_cast<double>(overview.pixels.width()), static_cast<double>(overview.pixels.height()));
    sheet.shades = shade_map(sheet.coarse, sheet.light);
    if (px_per_mm <= 0) return sheet;
    TakenForBare taken = film_taken_for_bare(sheet.shades, px_per_mm / sheet.step);
    if (taken.everywhere)
        sheet.deny_bare();
    else
        sheet.deny_bare_in(std::move(taken.openings));
    return sheet;
}

/// Strips of a sheet, each with whether its clear film is as bright as bare light.
std::vector<StripPlace> places_on(const Sheet& sheet, double px_per_mm, const FindOptions& options) {
    std::vector<StripPlace> places = place_strips(find_pieces(sheet.shades, px_per_mm / sheet.step), sheet.shades, sheet.step, px_per_mm, options);
    for (StripPlace& place : places) {
        const PointPx middle = centre(place.quad()) * (1.0 / sheet.step);
        place.clear_as_bare = std::any_of(sheet.clear_film.begin(), sheet.clear_film.end(), [&](const TakenForBare::Opening& opening) {
            const cv::Point at = cv::Point(static_cast<int>(middle.x), static_cast<int>(middle.y)) - opening.box.tl();
            return at.x >= 0 && at.y >= 0 && at.x < opening.box.width && at.y < opening.box.height && opening.mask.at<unsigned char>(at) != 0;
        });
    }
    return places;
}

double mean_quality(const StripFit& fit) {
    double sum = 0;
    for (const FrameFit& f : fit.frames) sum += f.quality();
    return fit.frames.empty() ? 0 : sum / static_cast<double>(fit.frames.size());
}

/// The format that explains a sheet's strips best together is likelier on each; those it would change are fitted again.
void agree_on_format(std::vector<std::optional<StripFit>>& fits, const std::vector<StripPlace>& places, const Search& search, const Sheet& sheet) {
    for (const FilmFamily family : families_for(search.options)) {
        const std::vector<Gauge> gauges = gauges_for(family, search.options);
        FormatPrior total = usual_formats();
        for (std::size_t i = 0; i < fits.size(); ++i) {
            if (!fits[i] || fits[i]->no_pictures || places[i].family != family) continue;
            const double best = *std::max_element(fits[i]->format_scores.begin(), fits[i]->format_scores.end());
            // A strip from another camera must not decide for all.
            for (const Gauge& gauge : gauges) total[place_of(gauge.format)] += std::max(fits[i]->format_scores[place_of(gauge.format)] - best, -kSheetFormat);
        }
        const auto more = [&](const Gauge& a, const Gauge& b) { return total[place_of(a.format)] < total[place_of(b.format)]; };
        const FrameFormat agreed = std::max_element(gauges.begin(), gauges.end(), more)->format;
        FormatPrior prior{};
        prior[place_of(agreed)] = kSheetFormat;
        for (std::size_t i = 0; i < fits.size(); ++i) {
            if (!fits[i] || places[i].family != family || fits[i]->gauge.format == agreed) continue;
            const double own = fits[i]->format_scores[place_of(fits[i]->gauge.format)];
            if (!fits[i]->no_pictures && fits[i]->format_scores[place_of(agreed)] + kSheetFormat <= own) continue;
            auto again = fit_strip(search.overview, sheet.light_of(places[i]), places[i], search.options, prior);
            // A frame that shows all its edges is not another's that the film's end cut off.
            if (!fits[i]->no_pictures && again && mean_quality(*again) < mean_quality(*fits[i]) - kBetterQuality) continue;
            fits[i] = std::move(again);
        }
    }
}

/// Of one piece seen as lying either way: rows of perforations settle it, else the evidence, unless the other way explains far more of the pictures.
bool lies_likelier(const StripFit& one, const StripFit& other, bool first) {
    constexpr double kFarMore = 3;  // Chosen
    if (one.lattice.has_value() != other.lattice.has_value()) return one.lattice.has_value();
    const double mine = explained_area(one), theirs = explained_area(other);
    if (mine > kFarMore * theirs || theirs > kFarMore * mine) return mine > theirs;
    return one.score != other.score ? one.score > other.score : first;
}

Found find_at_scale(const Search& search, const Sheet& sheet, double px_per_mm) {
    Found found;
    found.px_per_mm = px_per_mm;
    const std::vector<StripPlace> places = places_on(sheet, px_per_mm, search.options);
    std::vector<std::optional<StripFit>> fits(places.size());
    search.for_each.all(places.size(),
                        [&](std::size_t i) { fits[i] = fit_strip(search.overview, sheet.light_of(places[i]), places[i], search.options, usual_formats()); });
    agree_on_format(fits, places, search, sheet);
    std::vector<std::size_t> kept;
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (!fits[i]) continue;
        const auto* other =
            places[i].rival >= 0 && fits[static_cast<std::size_t>(places[i].rival)] ? &*fits[static_cast<std::size_t>(places[i].rival)] : nullptr;
        if (!other || !lies_likelier(*other, *fits[i], places[i].rival < static_cast<int>(i))) kept.push_back(i);
    }
    for (const std::size_t i : kept) {
        found.doubtful = found.doubtful || (places[i].lanes > 1 && !fits[i]->lattice);
        found.strips.push_back(std::move(*fits[i]));
    }
    return found;
}

/// Where the way from `inside` to `outside` leaves the scan.
PointPx on_border(PointPx inside, PointPx outside, double width, double height) {
    double t = 1;
    const auto limit = [&](double from, double to, double most) {
        if (to < 0) t = std::min(t, from / (from - to));
        if (to > most) t = std::min(t, (most - from) / (to - from));
    };
    limit(inside.x, outside.x, width);
    limit(inside.y, outside.y, height);
    return inside + (outside - inside) * std::clamp(t, 0.0, 1.0);
}

/// A frame that reaches over the scan's edge, cut there along its own sides.
void cut_at_scan(Quad& quad, double width, double height) {
    const auto on = [&](PointPx p) { return p.x >= 0 && p.y >= 0 && p.x <= width && p.y <= height; };
    const Quad whole = quad;
    for (std::size_t i = 0; i < 4; ++i) {
        if (on(whole[i])) continue;
        const std::size_t across = 3 - i, along = i ^ 1U;
        if (on(whole[across]))
            quad[i] = on_border(whole[across], whole[i], width, height);
        else if (on(whole[along]))
            quad[i] = on_border(whole[along], whole[i], width, height);
        else
            quad[i] = {std::clamp(whole[i].x, 0.0, width), std::clamp(whole[i].y, 0.0, height)};
    }
}

FrameBox frame_box(const StripFit& strip, const FrameFit& f, const Overview& overview) {
    constexpr double kCutShown = 0.3;  // Chosen: mm beyond the film from which a frame counts as cut off
    FrameBox box;
    const double u0 = strip.place.start == Beyond::off_scan ? f.u : first_on_film(strip, f);
    const double u1 = strip.place.end == Beyond::off_scan ? f.end() : last_on_film(strip, f);
    box.corners = quad_from_mm(strip.pose, u0, f.top, u1, f.top + f.height);
    for (PointPx& p : box.corners) p = p * overview.factor;
    const Quad whole = box.corners;
    cut_at_scan(box.corners, static_cast<double>(overview.pixels.width() * overview.factor), static_cast<double>(overview.pixels.height() * overview.factor));
    double most_cut = std::max(u0 - f.u, f.end() - u1);
    for (std::size_t i = 0; i < 4; ++i) most_cut = std::max(most_cut, distance(whole[i], box.corners[i]) / (strip.pose.px_per_mm() * overview.factor));
    box.cut_off = most_cut > kCutShown;
    box.kind = f.kind;
    box.confidence = f.confidence();
    box.edge_std = Millimetres(std::max(f.u_std, f.v_std));
    box.placed_by_pitch = f.placed_by_pitch;
    return box;
}

/// Deviation of the axis' middle from the chord between the strip's ends.
Measured<Millimetres> bow_of(const StripFit& strip) {
    const double half = 0.5 * strip.place.length(), std = strip.place.axis_seen ? strip.place.curve_std : strip.curve_std;
    const double curve = strip.place.axis_seen ? strip.place.pose.curve() : strip.pose.curve();
    return {Millimetres(-curve * half * half), Millimetres(std * half * half), static_cast<std::int64_t>(strip.place.length()),
            strip.frames.empty() ? MeasureFlag::assumed : MeasureFlag::none};
}

StripBox strip_box(const StripFit& strip, bool scale_by_holes, const Overview& overview) {
    StripBox box;
    box.corners = strip.place.quad();
    for (PointPx& p : box.corners) p = p * overview.factor;
    box.direction = strip.place.direction();
    box.angle_deg = degrees(strip.pose.angle()) - (box.direction == StripDirection::vertical ? 90 : 0);
    box.perforations_seen = strip.lattice.has_value();
    if (strip.lattice) box.perforations = describe_lattice(*strip.lattice, !scale_by_holes);
    box.format = strip.gauge.format;
    box.format_confidence = 1 / (1 + std::exp(-strip.lead / kSureFormat));
    box.bow = bow_of(strip);
    box.film_edges_seen = strip.place.top == Beyond::bare || strip.place.bottom == Beyond::bare;
    double sum = 0;
    for (const FrameFit& f : strip.frames) {
        box.frames.push_back(frame_box(strip, f, overview));
        sum += box.frames.back().confidence;
    }
    box.confidence = strip.frames.empty() ? 0 : sum / static_cast<double>(strip.frames.size());
    return box;
}

/// Top to bottom (left to right within a row), or left to right for strips that lie vertically.
std::vector<std::size_t> scan_order(const std::vector<StripFit>& strips) {
    std::vector<std::size_t> order(strips.size());
    std::size_t vertical = 0;
    std::vector<PointPx> at;
    for (std::size_t i = 0; i < strips.size(); ++i) {
        order[i] = i;
        vertical += strips[i].place.direction() == StripDirection::vertical ? 1 : 0;
        at.push_back(centre(strips[i].place.quad()) * (1 / strips[i].pose.px_per_mm()));
    }
    const bool across = 2 * vertical > strips.size();
    const auto lane = [&](std::size_t i) { return across ? at[i].x : at[i].y; };
    const auto along = [&](std::size_t i) { return across ? at[i].y : at[i].x; };
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return lane(a) < lane(b); });
    constexpr double kSameLaneMm = 12;  // Chosen: a third of a strip's width
    for (std::size_t first = 0; first < order.size();) {
        std::size_t last = first + 1;
        while (last < order.size() && lane(order[last]) - lane(order[first]) < kSameLaneMm) ++last;
        std::stable_sort(order.begin() + static_cast<std::ptrdiff_t>(first), order.begin() + static_cast<std::ptrdiff_t>(last),
                         [&](std::size_t a, std::size_t b) { return along(a) < along(b); });
        first = last;
    }
    return order;
}

/// Film without a mask in a holder about as wide as itself may have been taken for bare light, whole or in part: then pictures look like so many bits of film.
/// Nothing is lost by looking once more where they fit poorly.
void try_without_bare(Found& found, Sheet& sheet, const Search& search) {
    constexpr double kHolderShare = 0.1;  // Chosen: of the sheet; less is no holder
    const bool holder = cv::countNonZero(sheet.shades == static_cast<int>(Shade::dark)) > kHolderShare * static_cast<double>(sheet.shades.total());
    if (!holder || !sheet.light.bare_seen() || search.overview.light_divided || found.holes_seen() || found.quality() > kDoubtfulQuality) return;
    sheet.deny_bare();
    Found next = find_at_scale(search, sheet, found.px_per_mm);
    if (next.explained() > kExplainsMore * found.explained()) found = std::move(next);
}

std::optional<Found> look_at_scale(const Search& search, double scale, ScaleOrigin origin) {
    Sheet sheet = look_at_sheet(search.overview, scale);
    if (!sheet.light.any_light()) return std::nullopt;
    Found found = find_at_scale(search, sheet, scale);
    try_without_bare(found, sheet, search);
    found.origin = origin;
    return found;
}

/// Nothing but pictures tells the scale, and they fit poorly: perhaps they do better some per cent off.
void try_other_scales(Found& found, const Search& search) {
    const auto says = found.film_says();
    if (found.strips.empty() || (says && says->origin != ScaleOrigin::assumed) || found.quality() > kDoubtfulQuality) return;
    const double scale = found.px_per_mm;
    double least = kExplainsMore * found.explained();
    for (const double ratio : kScalesTried) {
        auto next = look_at_scale(search, scale * ratio, ScaleOrigin::assumed);
        if (!next || next->explained() <= least) continue;
        least = next->explained();
        found = std::move(*next);
    }
}

/// Found at a scale, and again at the one the film itself states where that differs by more than a scanner's error.
Found find_and_correct(const Search& search, double scale, ScaleOrigin origin) {
    auto first = look_at_scale(search, scale, origin);
    if (!first) return {};
    Found found = std::move(*first);
    try_other_scales(found, search);
    for (int pass = 0; pass < 2; ++pass) {
        const auto says = found.film_says();
        // A scale that came from the film to begin with is bettered whenever it can be.
        const double enough = !says ? 0 : found.origin == ScaleOrigin::file ? says->contradiction : kFineCorrection;
        if (!says || std::abs(says->ratio - 1) < enough || std::abs(says->ratio - 1) > kMostCorrection) break;
        auto next = look_at_scale(search, found.px_per_mm * says->ratio, says->origin);
        if (!next || next->quality() < found.quality()) break;
        found = std::move(*next);
    }
    return found;
}

/// With a stated resolution, that; unless the film itself says otherwise.
Found find_all(const Search& search, double stated) {
    Found found;
    if (stated > 0) {
        found = find_and_correct(search, stated, ScaleOrigin::file);
        constexpr double kPoor = 0.2;  // Chosen: mean confidence at which the stated scale is doubted
        if (!found.doubtful && !found.strips.empty() && found.confidence() > kPoor) return found;
    }
    const Sheet sheet = look_at_sheet(search.overview, 0);
    if (!sheet.light.any_light()) return found;
    const auto scale = scale_from_film(search.overview, sheet.light, sheet.shades, sheet.step, search.options);
    if (!scale || (stated > 0 && std::abs(scale->px_per_mm / stated - 1) <= kScaleContradiction)) return found;
    Found other = find_and_correct(search, scale->px_per_mm, scale->origin);
    if (stated > 0 && (other.strips.empty() || (!found.doubtful && other.confidence() <= found.confidence()))) return found;
    constexpr double kBetterBy = 0.15;  // Chosen: a doubtful answer whose pictures fit so much better than the other's stands all the same
    constexpr double kPlain = 0.9;      // Chosen: pictures whose edges all show, a gate's size apart, confirm the scale they were found at
    if (stated > 0 && found.doubtful && other.quality() < found.quality() - (found.quality() > kPlain ? 0 : kBetterBy)) return found;
    return other;
}

Result<void> check_size(const Overview& overview, double px_per_mm) {
    constexpr double kLeastPx = 24;  // Chosen: a pixel a millimetre across a frame
    const auto w = static_cast<double>(overview.pixels.width()), h = static_cast<double>(overview.pixels.height());
    const double least = px_per_mm > 0 ? kLeastAcrossMm * px_per_mm : kLeastPx;
    if (overview.factor < 1 || std::min(w, h) < std::max(kLeastPx, least)) {
        return fail(ErrorCode::malformed, "the scan is too small to hold a frame of film", {}, "check the resolution the file states");
    }
    return {};
}

}  // namespace

Result<SheetLayout> find_frames(const Overview& overview, const FindOptions& options, const ForEach& for_each) {
    if (auto ok = validate(options); !ok) return Failure(ok.error());
    const double factor = overview.factor;
    double stated = overview.scan_resolution ? overview.scan_resolution->value() / factor : 0;
    if (!(stated > 0.5 && stated < 1000)) stated = 0;
    if (options.close_up) stated = 0;  // what a camera writes there means nothing
    if (auto ok = check_size(overview, stated); !ok) return Failure(ok.error());
    if (options.close_up) return find_close_up(overview, options);

    const Found found = find_all({overview, options, for_each}, stated);
    SheetLayout layout;
    layout.scale = PixelsPerMm((found.px_per_mm > 0 ? found.px_per_mm : stated) * factor);
    layout.scale_origin = found.origin;
    for (const std::size_t i : scan_order(found.strips))
        layout.strips.push_back(strip_box(found.strips[i], found.origin == ScaleOrigin::perforations, overview));
    say_scale(layout, stated * factor, overview.scan_resolution.has_value());
    say_strips(layout);
    return layout;
}

}  // namespace basefog
