// SPDX-License-Identifier: GPL-3.0-or-later
#include "strips.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <map>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace basefog::frames {

namespace {

constexpr double kQuarterTurn = std::numbers::pi / 2;

/// A holder's opening may be wider than the film, and the slits of bare light beside it too narrow to be told from film. Chosen.
constexpr double kOpeningSlackMm = 3;

/// Patches of one shade that lie inside the film are film: perforations, and frames as dense as the holder.
void fill_patches(const cv::Mat& shades, cv::Mat& film, Shade shade, double most_area, double most_side) {
    cv::Mat labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(shades == static_cast<int>(shade), labels, stats, centres, 4);
    std::vector<unsigned char> fill(static_cast<std::size_t>(n), 0);
    for (int i = 1; i < n; ++i) {
        const int* s = stats.ptr<int>(i);
        const int x = s[cv::CC_STAT_LEFT], y = s[cv::CC_STAT_TOP], w = s[cv::CC_STAT_WIDTH], h = s[cv::CC_STAT_HEIGHT];
        const bool touches = x == 0 || y == 0 || x + w == shades.cols || y + h == shades.rows;
        fill[static_cast<std::size_t>(i)] = !touches && s[cv::CC_STAT_AREA] < most_area && std::max(w, h) < most_side;
    }
    for (int y = 0; y < film.rows; ++y) {
        const int* label = labels.ptr<int>(y);
        auto* out = film.ptr<unsigned char>(y);
        for (int x = 0; x < film.cols; ++x) {
            if (fill[static_cast<std::size_t>(label[x])] != 0) out[x] = 255;
        }
    }
}

std::vector<cv::Point> grown_back(const cv::Mat& labels, int label, cv::Rect box, int by, const cv::Mat& film) {
    box = cv::Rect(box.x - by, box.y - by, box.width + 2 * by, box.height + 2 * by) & cv::Rect(0, 0, film.cols, film.rows);
    cv::Mat core = labels(box) == label;
    cv::dilate(core, core, cv::getStructuringElement(cv::MORPH_RECT, {2 * by + 1, 2 * by + 1}));
    core &= film(box);
    std::vector<cv::Point> pixels;
    cv::findNonZero(core, pixels);
    for (cv::Point& p : pixels) p += box.tl();
    return pixels;
}

/// Outermost film in bins of 1 mm, seen along one axis.
struct Outline {
    std::vector<double> at, low, high;
};
Outline outline(const std::vector<PointPx>& mm, bool along_u, double half_px_mm) {
    std::map<int, std::pair<double, double>> bins;
    for (const PointPx& p : mm) {
        const double a = along_u ? p.x : p.y, b = along_u ? p.y : p.x;
        auto [it, fresh] = bins.try_emplace(static_cast<int>(std::floor(a)), b, b);
        if (!fresh) it->second = {std::min(it->second.first, b), std::max(it->second.second, b)};
    }
    Outline out;
    for (const auto& [bin, range] : bins) {
        out.at.push_back(bin + 0.5);
        out.low.push_back(range.first - half_px_mm);
        out.high.push_back(range.second + half_px_mm);
    }
    return out;
}

/// What lies along a side, 1 mm beyond it; `side`: top, bottom, start, end.
Beyond beyond(const StripPlace& place, int side, const cv::Mat& shades, int step) {
    int bare = 0, dark = 0, off = 0;
    constexpr int kProbes = 40;
    for (int i = 0; i < kProbes; ++i) {
        const double t = (i + 0.5) / kProbes, u = place.u0 + t * place.length(), v = place.v0 + t * place.width();
        const double at[4][2] = {{u, place.v0 - 1}, {u, place.v1 + 1}, {place.u0 - 1, v}, {place.u1 + 1, v}};
        const PointPx p = place.pose.px_from_mm(at[side][0], at[side][1]) * (1.0 / step);
        const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
        if (x < 0 || y < 0 || x >= shades.cols || y >= shades.rows) {
            ++off;
            continue;
        }
        bare += shades.at<unsigned char>(y, x) == static_cast<unsigned char>(Shade::bare) ? 1 : 0;
        dark += shades.at<unsigned char>(y, x) == static_cast<unsigned char>(Shade::dark) ? 1 : 0;
    }
    if (2 * off > kProbes) return Beyond::off_scan;
    const int seen = kProbes - off;
    return 2 * bare > seen ? Beyond::bare : 2 * dark > seen ? Beyond::holder : Beyond::other;
}

StripPlace fit_place(const Piece& piece, double angle, int step, double px_per_mm) {
    StripPlace place;
    place.pose = Pose(PointPx{piece.rect.center.x + 0.5, piece.rect.center.y + 0.5} * step, angle, px_per_mm);
    const double half_px_mm = 0.5 * step / px_per_mm;
    Line top, bottom;
    std::vector<PointPx> mm(piece.pixels.size());
    for (int pass = 0; pass < 2; ++pass) {
        for (std::size_t i = 0; i < mm.size(); ++i) {
            mm[i] = place.pose.mm_from_px(PointPx{piece.pixels[i].x + 0.5, piece.pixels[i].y + 0.5} * step);
        }
        const Outline sides = outline(mm, true, half_px_mm);
        top = fit_line(sides.at, sides.low, {median(sides.low), 0, 0, 0}, 0.4);
        bottom = fit_line(sides.at, sides.high, {median(sides.high), 0, 0, 0}, 0.4);
        if (pass == 1) break;
        const double a = 1 / (top.spread + 0.05), b = 1 / (bottom.spread + 0.05);
        place.pose = place.pose.turned((a * top.slope + b * bottom.slope) / (a + b));
    }
    const Outline ends = outline(mm, false, half_px_mm);
    place.u0 = median(ends.low);
    place.u1 = median(ends.high);
    const double middle = 0.5 * (place.u0 + place.u1);
    place.v0 = top.at(middle);
    place.v1 = bottom.at(middle);
    return place;
}

/// Where the film's middle lies across, from what of its edges is in view.
void set_axis(StripPlace& place) {
    constexpr double kOfRoom = 0.6, kLeastAxisStd = 0.4;  // Chosen: one sigma, of the room that a holder leaves either way; mm
    const double half = 0.5 * place.film_width();
    const bool narrow = place.width() < place.film_width() - kWidthSlackMm;
    place.axis_v = 0.5 * (place.v0 + place.v1);
    if (place.whole_width_seen()) {
        place.axis_std = 0.4;
    } else if (place.top == Beyond::holder && place.bottom == Beyond::holder) {
        // Film lies on both ledges of an opening narrower than itself, and within a wider one.
        place.axis_std = std::clamp(kOfRoom * 0.5 * std::abs(place.film_width() - place.width()), kLeastAxisStd, place.axis_std);
    } else if (narrow && place.bottom == Beyond::off_scan) {
        place.axis_v = place.v0 + half;
        place.axis_std = place.top == Beyond::bare ? 0.4 : 3;
    } else if (narrow && place.top == Beyond::off_scan) {
        place.axis_v = place.v1 - half;
        place.axis_std = place.bottom == Beyond::bare ? 0.4 : 3;
    }
    if (place.top == Beyond::bare || place.bottom == Beyond::bare) place.slope_std = 0.0015;
}

/// Strips that touch need not be as long as each other.
void settle_lane_ends(StripPlace& lane, const std::vector<PointPx>& mm) {
    constexpr double kInside = 2;  // mm
    std::vector<PointPx> own;
    std::copy_if(mm.begin(), mm.end(), std::back_inserter(own), [&](PointPx p) { return p.y > lane.v0 + kInside && p.y < lane.v1 - kInside; });
    const Outline ends = outline(own, false, 0);
    if (ends.low.empty()) return;
    lane.u0 = median(ends.low);
    lane.u1 = median(ends.high);
}

/// As many lanes of this film as the width holds; none if it does not hold a whole number.
void add_lanes(const StripPlace& place, const std::vector<PointPx>& mm, FilmFamily family, std::vector<StripPlace>& out) {
    const double width = film_width_of(family), least = family == FilmFamily::roll ? picture_height_of(family) - kRollHiddenMm : kLeastAcrossMm;
    const bool cut = place.top == Beyond::off_scan || place.bottom == Beyond::off_scan;
    const int lanes = std::max(1, static_cast<int>(std::lround(place.width() / width)));
    const bool in_opening = place.top == Beyond::holder && place.bottom == Beyond::holder;
    if (place.width() > lanes * width + (in_opening ? kOpeningSlackMm : kWidthSlackMm) || place.width() < (cut ? kLeastCutAcrossMm : least)) return;
    // Of roll film that runs off the scan, no less may show than shows it to be wider than the other kind.
    if (cut && family == FilmFamily::roll && place.width() < film_width_of(FilmFamily::perforated_35) + kWidthSlackMm) return;
    // With both edges in view the width must be right. Strips that touch: as many lanes of film side by side.
    if ((lanes > 1 || place.whole_width_seen()) && place.width() < lanes * width - kWidthSlackMm) return;
    for (int i = 0; i < lanes; ++i) {
        StripPlace lane = place;
        lane.lanes = lanes;
        lane.family = family;
        lane.v0 = place.v0 + i * place.width() / lanes;
        lane.v1 = place.v0 + (i + 1) * place.width() / lanes;
        if (i > 0) lane.top = Beyond::other;
        if (i + 1 < lanes) lane.bottom = Beyond::other;
        if (lanes > 1) settle_lane_ends(lane, mm);
        set_axis(lane);
        out.push_back(lane);
    }
}

/// A short strip that touches a long one stands out from the sides that most of the piece agrees on.
std::vector<Piece> beside_place(const StripPlace& place, const Piece& piece, int step) {
    constexpr double kClear = 0.4;  // mm: a coarse pixel
    std::array<std::vector<cv::Point>, 2> out;
    for (const cv::Point& p : piece.pixels) {
        const double v = place.pose.mm_from_px(PointPx{p.x + 0.5, p.y + 0.5} * step).y;
        if (v < place.v0 - kClear) out[0].push_back(p);
        if (v > place.v1 + kClear) out[1].push_back(p);
    }
    std::vector<Piece> pieces;
    const double mm2 = std::pow(place.pose.px_per_mm() / step, 2);
    for (auto& pixels : out) {
        if (static_cast<double>(pixels.size()) < kLeastAcrossMm * kLeastAlongMm * mm2) continue;
        Piece rest{std::move(pixels), {}};
        rest.rect = cv::minAreaRect(rest.pixels);
        if (rest.across() > kLeastAcrossMm * std::sqrt(mm2)) pieces.push_back(std::move(rest));
    }
    return pieces;
}

void add_place(StripPlace place, const Piece& piece, const cv::Mat& shades, int step, const FindOptions& options, std::vector<StripPlace>& out) {
    const double tilt = std::remainder(place.pose.angle(), kQuarterTurn);
    if (std::abs(degrees(tilt)) > options.max_tilt_deg || place.length() < kLeastAlongMm) return;
    place.top = beyond(place, 0, shades, step);
    place.bottom = beyond(place, 1, shades, step);
    place.start = beyond(place, 2, shades, step);
    place.end = beyond(place, 3, shades, step);
    // A scan full from edge to edge shows no strip.
    if (place.top == Beyond::off_scan && place.bottom == Beyond::off_scan && place.start == Beyond::off_scan && place.end == Beyond::off_scan) return;
    std::vector<PointPx> mm;
    for (const cv::Point& p : piece.pixels) mm.push_back(place.pose.mm_from_px(PointPx{p.x + 0.5, p.y + 0.5} * step));
    const std::size_t before = out.size();
    for (const FilmFamily family : families_for(options)) add_lanes(place, mm, family, out);
    if (out.size() == before) return;
    for (const Piece& rest : beside_place(place, piece, step))
        add_place(fit_place(rest, place.pose.angle(), step, place.pose.px_per_mm()), rest, shades, step, options, out);
}

}  // namespace

StripDirection StripPlace::direction() const {
    return std::abs(std::sin(pose.angle())) > std::numbers::sqrt2 / 2 ? StripDirection::vertical : StripDirection::horizontal;
}

Quad StripPlace::quad() const { return quad_from_mm(pose, u0, v0, u1, v1); }

namespace {

/// Along an opening's inner borders: places with film between them, and those of them in long runs of what passes for bare light.
struct Runs {
    int seen = 0, bright = 0;
    /// Chosen: pictures that reach the borders leave a seventh of them where all openings agree; one alone has to be plain.
    [[nodiscard]] bool may_be_film() const { return bright > 0.15 * seen; }
    [[nodiscard]] bool are_film() const { return bright > 0.5 * seen; }
};
/// So much film, counted along both borders, an opening has to hold to tell anything. Chosen: a picture's length.
constexpr double kLeastTellingMm = 36;
Runs bright_runs(const cv::Mat& shades, cv::Rect box, double coarse_px_per_mm) {
    constexpr double kRunMm = 6, kInMm = 0.6;  // Chosen: a run longer than a perforation's pitch; half the narrowest rebate
    const bool lying = box.width >= box.height;
    const int from = lying ? box.x : box.y, length = std::max(box.width, box.height), near = lying ? box.y : box.x, across = std::min(box.width, box.height);
    const auto shade = [&](int along, int v) { return static_cast<Shade>(lying ? shades.at<unsigned char>(v, along) : shades.at<unsigned char>(along, v)); };
    const int in = std::max(1, static_cast<int>(std::lround(kInMm * coarse_px_per_mm))), least = static_cast<int>(kRunMm * coarse_px_per_mm);
    Runs out;
    for (const int v : {near + in, near + across - 1 - in}) {
        int run = 0;
        for (int a = from; a <= from + length; ++a) {
            const bool film_inside = a < from + length && shade(a, near + across / 2) != Shade::bare;
            out.seen += film_inside ? 1 : 0;
            if (film_inside && shade(a, v) == Shade::bare) {
                ++run;
                continue;
            }
            out.bright += run >= least ? run : 0;
            run = 0;
        }
    }
    return out;
}

}  // namespace

TakenForBare film_taken_for_bare(const cv::Mat& shades, double coarse_px_per_mm) {
    cv::Mat open = shades != static_cast<int>(Shade::dark), labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(open, labels, stats, centres, 4);
    TakenForBare out;
    std::size_t telling = 0, maybe = 0;
    for (int i = 1; i < n; ++i) {
        const int* s = stats.ptr<int>(i);
        const cv::Rect box(s[cv::CC_STAT_LEFT], s[cv::CC_STAT_TOP], s[cv::CC_STAT_WIDTH], s[cv::CC_STAT_HEIGHT]);
        const double w = box.width / coarse_px_per_mm, h = box.height / coarse_px_per_mm;
        // Only where it is plain which way the film lies: hardly wider than film, so that bare light shows on one side of it at most; longer than it is wide.
        constexpr double kWidthRounding = 0.5;  // Chosen: two coarse pixels
        const auto plain = [&](FilmFamily family) {
            const double width = film_width_of(family), height = picture_height_of(family);
            return std::min(w, h) >= height - 1 && std::min(w, h) <= width + kWidthRounding && std::max(w, h) >= width + kWidthSlackMm;
        };
        // A small sheet of bare glass is as wide as roll film: it is no opening.
        const bool enclosed = box.x > 0 && box.y > 0 && box.br().x < shades.cols && box.br().y < shades.rows;
        const bool narrow = std::min(w, h) <= film_width_of(FilmFamily::perforated_35) - 1;
        if (!(plain(FilmFamily::perforated_35) && (narrow || enclosed)) && !(plain(FilmFamily::roll) && enclosed)) continue;
        const Runs runs = bright_runs(shades, box, coarse_px_per_mm);
        if (runs.seen < kLeastTellingMm * coarse_px_per_mm) continue;
        ++telling;
        maybe += runs.may_be_film() ? 1 : 0;
        if (runs.are_film()) out.openings.push_back({box, labels(box) == i});
    }
    constexpr double kNearlyAll = 0.75;  // Chosen
    out.everywhere = maybe > 0 && static_cast<double>(maybe) >= kNearlyAll * static_cast<double>(telling);
    return out;
}

std::vector<Piece> find_pieces(const cv::Mat& shades, double coarse_px_per_mm) {
    cv::Mat film = shades == static_cast<int>(Shade::film);
    const double mm2 = coarse_px_per_mm * coarse_px_per_mm;
    fill_patches(shades, film, Shade::bare, kHoleMm2 * mm2, 4.2 * coarse_px_per_mm);
    fill_patches(shades, film, Shade::dark, kDarkPatchMm2 * mm2, kDarkPatchMm * coarse_px_per_mm);
    const int reach = std::max(1, static_cast<int>(std::lround(1.2 * coarse_px_per_mm)));
    cv::Mat core, labels, stats, centres;
    cv::erode(film, core, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    const int n = cv::connectedComponentsWithStats(core, labels, stats, centres, 4);
    std::vector<Piece> pieces;
    for (int i = 1; i < n; ++i) {
        const int* s = stats.ptr<int>(i);
        if (s[cv::CC_STAT_AREA] < 0.3 * kLeastAcrossMm * kLeastAlongMm * mm2) continue;
        const cv::Rect box(s[cv::CC_STAT_LEFT], s[cv::CC_STAT_TOP], s[cv::CC_STAT_WIDTH], s[cv::CC_STAT_HEIGHT]);
        Piece piece{grown_back(labels, i, box, reach + 1, film), {}};
        if (piece.pixels.size() < 16) continue;
        piece.rect = cv::minAreaRect(piece.pixels);
        if (piece.across() > 4) pieces.push_back(std::move(piece));
    }
    return pieces;
}

std::vector<StripPlace> place_strips(const std::vector<Piece>& pieces, const cv::Mat& shades, int step, double px_per_mm, const FindOptions& options) {
    std::vector<StripPlace> places;
    double widest = 0;
    for (const FilmFamily family : families_for(options)) widest = std::max(widest, film_width_of(family));
    for (const Piece& piece : pieces) {
        const bool wide = piece.rect.size.width >= piece.rect.size.height;
        double angle = piece.rect.angle * std::numbers::pi / 180 + (wide ? 0 : kQuarterTurn);
        angle = std::remainder(angle, std::numbers::pi);               // -90 to 90 degrees
        if (angle < -std::numbers::pi / 4) angle += std::numbers::pi;  // vertical strips run downwards
        const std::size_t before = places.size();
        add_place(fit_place(piece, angle, step, px_per_mm), piece, shades, step, options, places);
        // A bit of film no longer than it is wide may lie either way.
        const bool short_piece = piece.along() * step / px_per_mm <= widest + kWidthSlackMm;
        // Many strips that touch may be wider together than they are long.
        const std::size_t one_way = places.size();
        if (one_way > before && (!short_piece || one_way > before + 1)) continue;
        const double other = angle > std::numbers::pi / 4 ? angle - kQuarterTurn : angle + kQuarterTurn;
        add_place(fit_place(piece, other, step, px_per_mm), piece, shades, step, options, places);
        if (one_way == before + 1 && places.size() == before + 2) {  // and no two lanes of the other way
            places[before].rival = static_cast<int>(before + 1);
            places[before + 1].rival = static_cast<int>(before);
        }
    }
    return places;
}

}  // namespace basefog::frames
