// SPDX-License-Identifier: GPL-3.0-or-later
#include "perforations.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

constexpr double kStrongLattice = 0.4;  // Chosen: clean holes give 0.7, chance alignments of dust under 0.2
constexpr double kLeastHoleMm = 6;      // Chosen: at least three holes' worth of bare light along an edge
constexpr double kBesideHoleMm = 5.5;   // Defined: edge of the film to the far side of its holes, 4.8 mm, and some room

/// Share of bare light across the margin (0..1) at steps of `step` mm along the strip.
std::vector<double> bare_along(const Overview& overview, const SheetLight& light, const StripPlace& place, bool top, double margin, double step) {
    constexpr int kLooks = 16;
    std::vector<double> out;
    for (double u = place.u0 + 1; u < place.u1 - 1; u += step) {
        int bare = 0;
        for (int k = 0; k < kLooks; ++k) {
            const double in = (k + 0.5) / kLooks * margin;
            const PointPx p = place.pose.px_from_mm(u, top ? place.v0 + 0.2 + in : place.v1 - 0.2 - in);
            const auto x = static_cast<std::int64_t>(std::floor(p.x)), y = static_cast<std::int64_t>(std::floor(p.y));
            if (x < 0 || y < 0 || x >= overview.pixels.width() || y >= overview.pixels.height()) continue;
            bare += light.shade(light.density(clean_light(overview.pixels(x, y)), p.x, p.y)) == Shade::bare ? 1 : 0;
        }
        out.push_back(std::min(1.0, bare / 4.0));  // a sliver of a hole counts as much as a whole one
    }
    return out;
}

struct Wave {
    double strength = 0, phase = 0;  ///< phase: distance of a crest from the signal's first sample
};
Wave wave_at(const std::vector<double>& signal, double step, double pitch) {
    double re = 0, im = 0, sum = 0;
    for (std::size_t i = 0; i < signal.size(); ++i) {
        const double phase = 2 * std::numbers::pi * static_cast<double>(i) * step / pitch;
        re += signal[i] * std::cos(phase);
        im += signal[i] * std::sin(phase);
        sum += signal[i];
    }
    if (sum <= 0) return {};
    return {std::hypot(re, im) / sum, std::atan2(im, re) / (2 * std::numbers::pi) * pitch};
}

/// Mean light over a rectangle of the strip, by steps along one direction.
class Window {
public:
    Window(const Overview& overview, const SheetLight& light, const Pose& pose) : overview_(overview), light_(light), pose_(pose) {}
    /// Along u from `from` to `to`, each value a mean over v0..v1.
    [[nodiscard]] std::vector<double> along(double from, double to, double v0, double v1) const { return profile(from, to, v0, v1, false); }
    /// Along v, each value a mean over u0..u1.
    [[nodiscard]] std::vector<double> across(double from, double to, double u0, double u1) const { return profile(from, to, u0, u1, true); }
    [[nodiscard]] double step() const { return 0.5 / pose_.px_per_mm(); }

private:
    [[nodiscard]] std::vector<double> profile(double from, double to, double a0, double a1, bool over_v) const {
        const int looks = std::max(2, static_cast<int>(std::ceil((a1 - a0) * pose_.px_per_mm())));
        const double x0 = 0.5 * (from + to), a = 0.5 * (a0 + a1);
        const Gains gains = gains_at(light_, pose_, over_v ? a : x0, over_v ? x0 : a);
        std::vector<double> out;
        for (double x = from; x <= to + 1e-9; x += step()) {
            double sum = 0;
            for (int k = 0; k < looks; ++k) {
                const double b = a0 + (k + 0.5) / looks * (a1 - a0);
                sum += over_v ? mean_light(overview_, gains, pose_, b, x) : mean_light(overview_, gains, pose_, x, b);
            }
            out.push_back(sum / looks);
        }
        return out;
    }
    const Overview& overview_;
    const SheetLight& light_;
    const Pose& pose_;
};

/// Rows between which a hole of this row is seen, holder and all: the stretch that is bright at holes and not between them.
struct Band {
    double from = 0, to = 0;
    [[nodiscard]] bool seen() const { return to - from > 0.5; }
};
Band hole_band(const Window& window, const StripPlace& place, const Spacing& spacing, bool top) {
    const double v_from = top ? place.v0 - 0.2 : place.v1 - kBesideHoleMm - 0.4, v_to = top ? place.v0 + kBesideHoleMm + 0.4 : place.v1 + 0.2;
    std::vector<std::vector<double>> excess;
    for (double k = std::ceil((place.u0 + 3 - spacing.phase) / spacing.pitch); spacing.phase + k * spacing.pitch < place.u1 - 3; k += 1) {
        const double u = spacing.phase + k * spacing.pitch, other = u + 0.5 * spacing.pitch;
        std::vector<double> hole = window.across(v_from, v_to, u - 0.4, u + 0.4);
        const std::vector<double> beside = window.across(v_from, v_to, other - 0.3, other + 0.3);
        for (std::size_t i = 0; i < hole.size(); ++i) hole[i] -= beside[i];
        excess.push_back(std::move(hole));
    }
    if (excess.size() < 3) return {};
    std::vector<double> middle;
    for (std::size_t i = 0; i < excess.front().size(); ++i) {
        std::vector<double> column;
        for (const auto& e : excess) column.push_back(e[i]);
        middle.push_back(median(std::move(column)));
    }
    const auto peak = std::max_element(middle.begin(), middle.end());
    constexpr double kLeastExcess = 0.1;  // Chosen: clear film without a mask lets through 0.8 of bare light
    if (*peak < kLeastExcess) return {};
    auto from = peak, to = peak;
    while (from != middle.begin() && *(from - 1) > 0.7 * *peak) --from;
    while (to + 1 != middle.end() && *(to + 1) > 0.7 * *peak) ++to;
    return {v_from + static_cast<double>(from - middle.begin()) * window.step(), v_from + static_cast<double>(to - middle.begin()) * window.step()};
}

struct Hole {
    double u = 0, height = 0, inner_v = 0;
    bool inner_seen = false;
};
/// One hole's edges, each half way between its own side's film and the hole's light.
std::optional<Hole> measure_hole(const Window& window, double u, const Band& band, bool top) {
    constexpr double kIn = 0.3, kOut = 1.1;  // mm within and without a straight edge half a hole away
    const double half = 0.5 * 0.5 * (kLongHoleMm + kShortHoleMm), inset = std::min(0.5, 0.25 * (band.to - band.from));
    const double v0 = band.from + inset, v1 = band.to - inset;
    const double first_from = u - half - kOut, last_from = u + half - (half - kIn);
    const auto rise = half_crossing(window.along(first_from, u - kIn, v0, v1), first_from, window.step());
    const auto fall = half_crossing(window.along(last_from, u + half + kOut, v0, v1), last_from, window.step());
    constexpr double kContrast = 0.08;
    if (!rise || !fall || rise->contrast < kContrast || fall->contrast > -kContrast) return std::nullopt;
    Hole hole{0.5 * (rise->at + fall->at), fall->at - rise->at, 0, false};
    if (hole.height < 0.75 * kShortHoleMm || hole.height > 1.25 * kLongHoleMm) return std::nullopt;
    const double edge = top ? band.to : band.from, from = edge - 0.8, to = edge + 0.8;
    const auto inner = half_crossing(window.across(from, to, hole.u - 0.5, hole.u + 0.5), from, window.step());
    hole.inner_seen = inner && (top ? -inner->contrast : inner->contrast) > kContrast;
    if (hole.inner_seen) hole.inner_v = inner->at;
    return hole;
}

/// Pitch and phase through all holes of both rows.
void fit_pitch(const std::vector<Hole>& holes, const Spacing& spacing, Lattice& out) {
    std::vector<double> index, at;
    for (const Hole& hole : holes) {
        index.push_back(std::round((hole.u - spacing.phase) / spacing.pitch));
        at.push_back(hole.u);
    }
    const Line line = fit_line(index, at, {spacing.phase, spacing.pitch, 0, 0}, 0.05);
    double mean = 0, square = 0;
    for (const double i : index) mean += i / static_cast<double>(index.size());
    for (const double i : index) square += (i - mean) * (i - mean);
    out.phase = line.at0;
    out.pitch = line.slope;
    out.pitch_std = std::hypot(0.01, line.spread) / std::sqrt(std::max(1.0, square));
}

}  // namespace

std::optional<Spacing> find_spacing(const Overview& overview, const SheetLight& light, const StripPlace& place, double least, double most) {
    if (!light.bare_seen()) return std::nullopt;
    const double step = std::max(0.1, 0.5 / place.pose.px_per_mm()), margin = std::min(kBesideHoleMm, 0.22 * place.width());
    std::optional<Spacing> best;
    for (const bool top : {true, false}) {
        const std::vector<double> signal = bare_along(overview, light, place, top, margin, step);
        double sum = 0;
        for (const double s : signal) sum += s * step;
        if (sum < kLeastHoleMm || sum > 0.75 * place.length()) continue;
        const double fine = 0.2 * least * least / std::max(place.length(), 20.0);  // a fifth of the peak's width
        Spacing found;
        for (double pitch = least; pitch <= most; pitch += fine) {
            const Wave wave = wave_at(signal, step, pitch);
            if (wave.strength > found.strength) found = {pitch, wave.phase, wave.strength, top};
        }
        const double a = wave_at(signal, step, found.pitch - fine).strength, b = found.strength, c = wave_at(signal, step, found.pitch + fine).strength;
        if (a < b && c < b) found.pitch += 0.5 * fine * (a - c) / (a - 2 * b + c);
        found.phase = place.u0 + 1 + wave_at(signal, step, found.pitch).phase;
        if (found.strength > kStrongLattice && (!best || found.strength > best->strength)) best = found;
    }
    return best;
}

std::optional<Lattice> fit_lattice(const Overview& overview, const SheetLight& light, const StripPlace& place, const Spacing& spacing) {
    constexpr std::size_t kLeastHoles = 5;
    const Window window(overview, light, place.pose);
    std::vector<Hole> holes;
    std::array<AxisPoints, 2> inner;
    for (const int row : {0, 1}) {
        const Band band = hole_band(window, place, spacing, row == 0);
        if (!band.seen()) continue;
        for (double k = std::ceil((place.u0 + 2.5 - spacing.phase) / spacing.pitch); spacing.phase + k * spacing.pitch < place.u1 - 2.5; k += 1) {
            const auto hole = measure_hole(window, spacing.phase + k * spacing.pitch, band, row == 0);
            if (!hole) continue;
            holes.push_back(*hole);
            if (!hole->inner_seen) continue;
            inner[static_cast<std::size_t>(row)].u.push_back(hole->u);
            inner[static_cast<std::size_t>(row)].v.push_back(hole->inner_v);
        }
    }
    if (holes.size() < kLeastHoles) return std::nullopt;
    Lattice lattice;
    lattice.holes = static_cast<int>(holes.size());
    fit_pitch(holes, spacing, lattice);
    std::vector<double> heights;
    for (const Hole& hole : holes) heights.push_back(hole.height);
    lattice.hole_height = median(heights);
    lattice.hole_height_std = std::hypot(0.004, 1.25 * spread(heights, lattice.hole_height) / std::sqrt(static_cast<double>(heights.size())));
    if (const auto rows = fit_rows(inner, place.length(), 0.06); rows && (*rows)[0].followed > 0.6) {
        const double to_axis = 0.5 * kFilmWidthMm - kHoleMarginMm - kHoleAcrossMm;
        const bool both = !inner[0].u.empty() && !inner[1].u.empty();
        lattice.inner = (*rows)[inner[0].u.empty() ? 1 : 0];
        lattice.axis_v = both ? 0.5 * ((*rows)[0].at0 + (*rows)[1].at0) : inner[0].u.empty() ? (*rows)[1].at0 - to_axis : (*rows)[0].at0 + to_axis;
    }
    return lattice;
}

Perforations describe_lattice(const Lattice& lattice, bool trusted) {
    // Defined: the holes' height over the pitch, for either kind; it needs no scale and film shrinks in both alike.
    constexpr double kLongRatio = kLongHoleMm / kLongPitchMm, kShortRatio = kShortHoleMm / kShortPitchMm;
    Perforations out;
    const double ratio = lattice.hole_height / lattice.pitch, middle = 0.5 * (kLongRatio + kShortRatio);
    // Half-way points of light hold to a few hundredths of a millimetre whatever the scanner's flare: kHeightStd on top of the scatter.
    constexpr double kHeightStd = 0.02, kLeastSure = 0.9;
    const double std = std::hypot(lattice.hole_height_std, kHeightStd) / lattice.pitch, z = std::abs(ratio - middle) / std;
    const double sure = 0.5 * (1 + std::erf(z / std::numbers::sqrt2));
    const auto n = static_cast<std::int64_t>(lattice.holes);
    out.holes = lattice.holes;
    out.pitch = {Millimetres(lattice.pitch), Millimetres(lattice.pitch_std), n, trusted ? MeasureFlag::none : MeasureFlag::assumed};
    out.hole_height = {Millimetres(lattice.hole_height), Millimetres(lattice.hole_height_std), n, trusted ? MeasureFlag::none : MeasureFlag::assumed};
    if (sure < kLeastSure) return out;
    out.kind = ratio > middle ? PerforationKind::long_pitch : PerforationKind::short_pitch;
    out.kind_confidence = sure;
    const double nominal = out.kind == PerforationKind::long_pitch ? kLongPitchMm : kShortPitchMm;
    out.shrinkage = {1 - lattice.pitch / nominal, lattice.pitch_std / nominal, n, trusted ? MeasureFlag::none : MeasureFlag::assumed};
    return out;
}

}  // namespace basefog::frames
