// SPDX-License-Identifier: GPL-3.0-or-later
#include "scale.h"

#include "constants.h"
#include "place.h"
#include "robust.h"
#include "top_line.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

/// Evidence for frames on one piece, were this its scale and its film of this family.
double evidence_at_scale(const Overview& overview, const SheetLight& light, const Piece& piece, const cv::Mat& shades, int step, double scale,
                         FilmFamily family, const FindOptions& options) {
    double best = 0;
    for (StripPlace& place : place_strips({piece}, shades, step, scale, options)) {
        if (place.family != family) continue;
        follow_film_edges(overview, light, place);
        StripCells cells = sample_strip(overview, light, place, place.pose);
        measure_base(cells);
        // At a wrong scale nearly anything can be laid out with overlaps and wide gaps: a scale is judged by frames that follow evenly.
        std::vector<Gauge> gauges = gauges_for(family, options);
        for (Gauge& gauge : gauges) gauge.most_overlap = 0;
        const double band = kFirstBandShare * picture_height_of(family);
        const FormatChoice choice = choose_format(cells, place, {place.axis_v, 0, -band, band}, kDirtyShare, gauges, usual_formats());
        if (choice.chain.slots.empty()) continue;
        const TopLine top = find_top(cells, place, choice.chain, kDirtyShare, choice.gauge);
        best = std::max(best, choice.chain.score + top.evidence);
    }
    return best;
}

struct Guess {
    double scale = 0;
    FilmFamily family = FilmFamily::perforated_35;
    double evidence = 0;
};

/// Area in pixels of the pictures whose edges a whole fit at this scale meets.
double explained_at(const Guess& guess, const Overview& overview, const SheetLight& light, const std::vector<Piece>& pieces, const cv::Mat& shades, int step,
                    const FindOptions& options) {
    constexpr double kNoHoles = 0.5;  // Chosen: 35 mm film that shows both its edges would show its holes
    const std::vector<StripPlace> places = place_strips(pieces, shades, step, guess.scale, options);
    std::vector<double> areas(places.size(), 0);
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (places[i].family != guess.family) continue;
        const auto fit = fit_strip(overview, light, places[i], options, usual_formats());
        if (!fit) continue;
        const bool odd = guess.family == FilmFamily::perforated_35 && places[i].whole_width_seen() && !fit->lattice;
        areas[i] = explained_area(*fit) * (odd ? kNoHoles : 1);
    }
    double sum = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
        // Of one piece seen as lying either way, the better counts.
        const double other = places[i].rival >= 0 ? areas[static_cast<std::size_t>(places[i].rival)] : 0;
        if (areas[i] > other || (areas[i] == other && static_cast<int>(i) < places[i].rival) || places[i].rival < 0) sum += areas[i];
    }
    return sum;
}

/// The guess under which frames explain the pieces best: the likeliest few of each family by their evidence, then those by their edges.
std::optional<double> best_of(std::vector<Guess> guesses, const Overview& overview, const SheetLight& light, const std::vector<Piece>& pieces,
                              const cv::Mat& shades, int step, const FindOptions& options) {
    constexpr int kLikeliest = 3;
    for (Guess& guess : guesses) {
        for (const Piece& piece : pieces) guess.evidence += evidence_at_scale(overview, light, piece, shades, step, guess.scale, guess.family, options);
        guess.evidence *= guess.scale;  // per piece of film: a scale does not gain by making it longer
    }
    std::stable_sort(guesses.begin(), guesses.end(), [](const Guess& a, const Guess& b) { return a.evidence > b.evidence; });
    double best = 0;
    std::optional<double> scale;
    for (const FilmFamily family : families_for(options)) {
        int tried = 0;
        for (const Guess& guess : guesses) {
            if (guess.family != family || guess.evidence <= 0 || ++tried > kLikeliest) continue;
            const double explained = explained_at(guess, overview, light, pieces, shades, step, options);
            if (explained <= best) continue;
            best = explained;
            scale = guess.scale;
        }
    }
    return scale;
}

/// Scales at which a holder's opening may show pictures whole: anything from the film's width down to the pictures' height.
std::vector<Guess> guesses_from_opening(double across, const FindOptions& options) {
    constexpr double kRatio = 1.02;  // Chosen: an advance wrong by 2 % slips by less than a millimetre a frame
    std::vector<Guess> guesses;
    for (const FilmFamily family : families_for(options)) {
        for (double scale = across / film_width_of(family); scale < across / (picture_height_of(family) - 0.7); scale *= kRatio)
            guesses.push_back({scale, family});
    }
    return guesses;
}

std::vector<Piece> largest_pieces(const cv::Mat& shades) {
    const auto by_size = [](const Piece& a, const Piece& b) { return a.pixels.size() > b.pixels.size(); };
    std::vector<Piece> pieces = find_pieces(shades, 1.5);  // a guess on the small side keeps small strips whole
    std::stable_sort(pieces.begin(), pieces.end(), by_size);
    if (pieces.empty()) return pieces;
    pieces = find_pieces(shades, pieces.front().across() / 30);
    std::stable_sort(pieces.begin(), pieces.end(), by_size);
    if (pieces.size() > 4) pieces.resize(4);
    return pieces;
}

struct SheetView {
    const Overview& overview;
    const SheetLight& light;
    const cv::Mat& shades;
    int step;
    const FindOptions& options;
};

/// Are there holes of the right size on this piece, were this its scale? A spacing alone may be a whole part of the true one, which fits at a scale so many
/// times off.
bool holes_at(const SheetView& sheet, const Piece& piece, double scale) {
    constexpr double kNear = 0.03;  // Chosen: what a spacing told on a tilted or bowed strip may be off by
    for (StripPlace& place : place_strips({piece}, sheet.shades, sheet.step, scale, sheet.options)) {
        if (place.family != FilmFamily::perforated_35) continue;
        follow_film_edges(sheet.overview, sheet.light, place);
        const auto spacing = find_spacing(sheet.overview, sheet.light, place, (1 - kNear) * kPerforationPitchMm, (1 + kNear) * kPerforationPitchMm);
        if (spacing && fit_lattice(sheet.overview, sheet.light, place, *spacing)) return true;
    }
    return false;
}

/// Pitch of a lattice by the film's nominal one, or its width by its nominal width.
double over_nominal(const Lattice& lattice) {
    const PerforationKind kind = describe_lattice(lattice, true).kind;
    return lattice.pitch / (kind == PerforationKind::long_pitch ? kLongPitchMm : kind == PerforationKind::short_pitch ? kShortPitchMm : kPerforationPitchMm);
}

/// What the pieces tell were each, or a lane of it, as wide as film.
struct WidthsTold {
    std::optional<double> by_holes;  ///< scale by the spacing of perforations
    std::vector<Guess> whole;        ///< scales at which film of a family shows both its edges
    bool plain = false;              ///< some of these by a piece's shorter side: bare light beyond the longer may be what lies at a strip's ends
};

/// Sides of a piece that may lie across the film: a bit of film shorter than it is wide lies along its shorter one.
std::vector<double> sides_across(const Piece& piece) {
    constexpr double kShort = 1.8;  // Chosen: 35 mm film that shows a frame is at least half as long as wide, roll film two thirds
    if (piece.along() > kShort * piece.across()) return {piece.across()};
    return {piece.across(), piece.along()};
}

void look_at_width(const SheetView& sheet, const Piece& piece, FilmFamily family, int lanes, double guess, WidthsTold& told, std::optional<double>& unproven,
                   std::vector<double>& widths) {
    for (StripPlace& place : place_strips({piece}, sheet.shades, sheet.step, guess, sheet.options)) {
        if (place.family != family) continue;
        const bool whole = lanes == 1 && place.whole_width_seen();
        follow_film_edges(sheet.overview, sheet.light, place);
        if (whole) widths.push_back(place.width() * guess / film_width_of(family));
        if (family != FilmFamily::perforated_35) continue;
        const double most = lanes > 1 || whole ? 1.06 : film_width_of(family) / (picture_height_of(family) - 0.7);
        const auto spacing = find_spacing(sheet.overview, sheet.light, place, 0.94 * kPerforationPitchMm, most * kPerforationPitchMm);
        if (!spacing) continue;
        const double scale = guess * spacing->pitch / kPerforationPitchMm;
        if (holes_at(sheet, piece, scale)) {
            told.by_holes = scale;
            return;
        }
        if (lanes == 1 && !unproven) unproven = scale;
    }
}

WidthsTold look_at_widths(const SheetView& sheet, const std::vector<Piece>& pieces) {
    constexpr int kMostLanes = 8;  // Chosen: as many 35 mm strips as a sheet of paper is long
    WidthsTold told;
    std::optional<double> unproven;
    for (const FilmFamily family : families_for(sheet.options)) {
        std::vector<double> widths, of_short;
        for (const Piece& piece : pieces) {
            for (const double across : sides_across(piece)) {
                for (int lanes = 1; lanes <= kMostLanes; ++lanes) {                              // strips that touch, side by side
                    const double guess = across * sheet.step / (lanes * film_width_of(family));  // were the whole width in view
                    look_at_width(sheet, piece, family, lanes, guess, told, unproven, across == piece.across() ? widths : of_short);
                    if (told.by_holes) return told;
                }
            }
        }
        if (!widths.empty()) told.whole.push_back({median(widths), family}), told.plain = true;
        if (!of_short.empty()) told.whole.push_back({median(of_short), family});
    }
    told.by_holes = unproven;
    return told;
}

}  // namespace

std::optional<FilmSays> scale_of_strip(const StripFit& fit) {
    if (fit.lattice) return FilmSays{over_nominal(*fit.lattice), kScaleContradiction, ScaleOrigin::perforations};
    if (fit.place.whole_width_seen() && fit.place.axis_seen)
        return FilmSays{fit.place.width() / fit.place.film_width(), kScaleContradiction, ScaleOrigin::film_width};
    if (fit.frames.empty() || fit.no_pictures) return std::nullopt;
    // Where the gate's two sides agree, it is the scale that is off, not the gate.
    constexpr double kAgree = 0.008;
    const FrameFit& f = fit.frames.front();
    const double along = f.width / fit.gauge.width, across = f.height / fit.gauge.height;
    if (std::abs(along - across) > kAgree) return std::nullopt;
    return FilmSays{0.5 * (along + across), kScaleContradictionOfFrames, ScaleOrigin::assumed};
}

std::optional<FilmScale> scale_from_film(const Overview& overview, const SheetLight& light, const cv::Mat& shades, int step, const FindOptions& options) {
    std::vector<Piece> pieces = largest_pieces(shades);
    if (pieces.empty()) return std::nullopt;
    const WidthsTold told = look_at_widths({overview, light, shades, step, options}, pieces);
    if (told.by_holes) return FilmScale{*told.by_holes, ScaleOrigin::perforations};
    const std::vector<Guess>& from_width = told.whole;
    if (told.plain && from_width.size() == 1) return FilmScale{from_width.front().scale, ScaleOrigin::film_width};
    constexpr double kLongEnough = 3.5;  // Chosen: a piece this many times longer than wide holds three frames or so, which settle the scale alone
    if (pieces.front().along() > kLongEnough * pieces.front().across()) pieces.resize(1);
    if (told.plain) {
        const auto scale = best_of(from_width, overview, light, pieces, shades, step, options);
        return FilmScale{scale.value_or(from_width.front().scale), ScaleOrigin::film_width};
    }
    std::vector<Guess> guesses = guesses_from_opening(pieces.front().across() * step, options);
    guesses.insert(guesses.end(), from_width.begin(), from_width.end());
    const auto scale = best_of(guesses, overview, light, pieces, shades, step, options);
    if (!scale) return std::nullopt;
    const bool by_width = std::any_of(from_width.begin(), from_width.end(), [&](const Guess& g) { return g.scale == *scale; });
    return FilmScale{*scale, by_width ? ScaleOrigin::film_width : ScaleOrigin::assumed};
}

}  // namespace basefog::frames
