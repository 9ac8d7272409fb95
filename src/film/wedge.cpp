// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/wedge.h"

#include "film/constants.h"
#include "film/unmix.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace basefog::film {
namespace {

/// Columns of this share of the frame's height about its middle are read. Chosen: frames' edges and a wedge's own borders stay out.
constexpr double kBand = 0.5;
/// Cost of one more step, in squared sigmas of the profile. Chosen: chance makes 20 in a profile of 400; safe range 40 to 150.
constexpr double kStepCost = 60;
constexpr double kLeastSigma = 0.0015;  // density; what vignetting changes within a step
constexpr std::size_t kLeastColumns = 4, kLeastSteps = 5;
/// A piece this much wider than the pitch is steps that could not be told apart, or what lies around the wedge; one this narrow is an
/// edge. Chosen.
constexpr double kWidest = 1.35, kNarrowest = 0.5;
/// A step's middle may lie this far off the grid of steps, in pitches. Chosen.
constexpr double kOffGrid = 0.2;
/// Columns from step to step, at least: on narrower ones the blur between steps passes for steps. Chosen.
constexpr double kLeastPitch = 10;
constexpr double kInner = 0.6;  // of a step's width is averaged
/// One sigma of what all steps of a wedge, or a card, share as neutrals: the target's own colour, the light's. log10 H. Chosen.
constexpr double kWedgeStd = 0.006, kCardStd = 0.012, kChartStd = 0.003;
constexpr double kInside = 0.25;  // log10 H within the straight line

struct Profile {
    std::vector<Triple> value;
    std::vector<char> known;
    double sigma = kLeastSigma;
};

double median_of(std::vector<double>& v) {
    const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), middle, v.end());
    return *middle;
}

/// Median over a band's columns (or rows); noise from neighbours' differences of differences.
Profile profile_of(const FrameSamples& f, bool along_x) {
    const std::int64_t length = along_x ? f.above_base.width() : f.above_base.height(), across = along_x ? f.above_base.height() : f.above_base.width();
    const auto from = static_cast<std::int64_t>(static_cast<double>(across) * (0.5 - kBand / 2)), to = across - from;
    Profile p;
    for (std::int64_t i = 0; i < length; ++i) {
        std::array<std::vector<double>, 3> v;
        for (std::int64_t j = from; j < to; ++j) {
            const std::int64_t x = along_x ? i : j, y = along_x ? j : i;
            if (!is_usable(f, x, y)) continue;
            const DensityRgbi& d = f.above_base(x, y);
            v[0].push_back(static_cast<double>(d.r)), v[1].push_back(static_cast<double>(d.g)), v[2].push_back(static_cast<double>(d.b));
        }
        const bool known = static_cast<double>(v[0].size()) > 0.3 * static_cast<double>(to - from);
        p.known.push_back(known);
        p.value.push_back(known ? Triple{median_of(v[0]), median_of(v[1]), median_of(v[2])} : Triple{});
    }
    std::vector<double> bends;
    for (std::size_t i = 2; i < p.value.size(); ++i)
        if (p.known[i] && p.known[i - 1] && p.known[i - 2])
            for (std::size_t k = 0; k < 3; ++k) bends.push_back(std::abs(p.value[i][k] - 2 * p.value[i - 1][k] + p.value[i - 2][k]));
    // Median of |normal| is 0.674 sigma; a second difference of independent values has sqrt 6 of their sigma.
    if (!bends.empty()) p.sigma = std::max(kLeastSigma, median_of(bends) / 0.674 / std::sqrt(6.0));
    return p;
}

struct Piece {
    std::size_t from = 0, to = 0;  // columns, half-open
    [[nodiscard]] double middle() const { return 0.5 * static_cast<double>(from + to); }
    [[nodiscard]] double width() const { return static_cast<double>(to - from); }
};

/// The profile as even pieces: least sum of squares with a price on each piece, by dynamic programming.
std::vector<Piece> even_pieces(const Profile& p) {
    const std::size_t n = p.value.size();
    std::vector<std::array<double, 7>> sums(n + 1, std::array<double, 7>{});  // of columns known, values, squares
    for (std::size_t i = 0; i < n; ++i) {
        sums[i + 1] = sums[i];
        if (!p.known[i]) continue;
        sums[i + 1][0] += 1;
        for (std::size_t k = 0; k < 3; ++k) sums[i + 1][1 + k] += p.value[i][k], sums[i + 1][4 + k] += p.value[i][k] * p.value[i][k];
    }
    const auto misfit = [&](std::size_t a, std::size_t b) {
        const double count = sums[b][0] - sums[a][0];
        if (count < 1) return 0.0;
        double sum = 0;
        for (std::size_t k = 0; k < 3; ++k) {
            const double s = sums[b][1 + k] - sums[a][1 + k];
            sum += sums[b][4 + k] - sums[a][4 + k] - s * s / count;
        }
        return sum / (p.sigma * p.sigma);
    };
    std::vector<double> best(n + 1, std::numeric_limits<double>::infinity());
    std::vector<std::size_t> before(n + 1, 0);
    best[0] = 0;
    for (std::size_t b = kLeastColumns; b <= n; ++b)
        for (std::size_t a = 0; a + kLeastColumns <= b; ++a) {
            const double cost = best[a] + kStepCost + misfit(a, b);
            if (cost < best[b]) best[b] = cost, before[b] = a;
        }
    std::vector<Piece> pieces;
    if (!std::isfinite(best[n])) return pieces;
    for (std::size_t b = n; b > 0; b = before[b]) pieces.push_back({before[b], b});
    std::reverse(pieces.begin(), pieces.end());
    return pieces;
}

Triple mean_inside(const Profile& p, const Piece& piece) {
    const double margin = 0.5 * (1 - kInner) * piece.width();
    Triple sum{};
    double n = 0;
    for (auto i = static_cast<std::size_t>(static_cast<double>(piece.from) + margin); static_cast<double>(i) < static_cast<double>(piece.to) - margin; ++i) {
        if (!p.known[i]) continue;
        for (std::size_t k = 0; k < 3; ++k) sum[k] += p.value[i][k];
        n += 1;
    }
    for (double& v : sum) v /= std::max(n, 1.0);
    return sum;
}

/// Distance between neighbouring steps: of pieces that are no mere edges, by the width that half of the frame lies in or under.
double pitch_of(const std::vector<Piece>& pieces) {
    std::vector<double> widths;
    double all = 0, so_far = 0, usual = 0;
    for (const Piece& p : pieces) widths.push_back(p.width()), all += p.width();
    std::sort(widths.begin(), widths.end());
    for (const double w : widths) {
        so_far += w, usual = w;
        if (so_far >= all / 2) break;
    }
    std::vector<double> apart;
    const Piece* last = nullptr;
    for (const Piece& p : pieces) {
        if (!(p.width() > kNarrowest * usual)) continue;
        if (last != nullptr) apart.push_back(p.middle() - last->middle());
        last = &p;
    }
    return apart.empty() ? 0 : median_of(apart);
}

struct Rung {
    double place;
    Triple density;
    [[nodiscard]] double sum() const { return density[0] + density[1] + density[2]; }
};

/// The longest run of rungs that climbs one way; `sign` 1 for rising along the frame.
std::vector<Rung> longest_climb(const std::vector<Rung>& rungs, double sign) {
    std::vector<Rung> best, run;
    for (const Rung& r : rungs) {
        if (!run.empty() && !(sign * (r.sum() - run.back().sum()) > 0)) run.clear();
        run.push_back(r);
        if (run.size() > best.size()) best = run;
    }
    return best;
}

std::optional<std::vector<WedgeStep>> read_along(const FrameSamples& frame, double step, bool along_x) {
    const Profile profile = profile_of(frame, along_x);
    std::vector<Piece> pieces = even_pieces(profile);
    if (pieces.size() < kLeastSteps) return std::nullopt;
    const double pitch = pitch_of(pieces);
    if (!(pitch >= kLeastPitch)) return std::nullopt;
    std::vector<Rung> rungs;
    for (const Piece& p : pieces)
        if (p.width() <= kWidest * pitch && p.width() >= kNarrowest * pitch) rungs.push_back({p.middle() / pitch, mean_inside(profile, p)});
    std::vector<Rung> up = longest_climb(rungs, 1), down = longest_climb(rungs, -1);
    std::vector<Rung>& climb = up.size() >= down.size() ? up : down;
    if (climb.size() < kLeastSteps) return std::nullopt;
    if (&climb == &down) {
        std::reverse(climb.begin(), climb.end());
        for (Rung& r : climb) r.place = -r.place;
    }
    std::vector<WedgeStep> steps;
    for (const Rung& r : climb) {
        const double at = r.place - climb.front().place, whole = std::round(at);
        if (std::abs(at - whole) > kOffGrid) continue;
        steps.push_back({LogExposure(whole * step), {r.density[0], r.density[1], r.density[2]}});
    }
    return steps.size() < kLeastSteps ? std::nullopt : std::optional(std::move(steps));
}

bool sizes_match(const FrameSamples& f) {
    return !f.above_base.empty() && (f.usable.empty() || (f.usable.width() == f.above_base.width() && f.usable.height() == f.above_base.height()));
}

bool on_straight_line(const Triple& h) {
    return std::all_of(h.begin(), h.end(), [](double v) { return v > kToe + kInside && v < kToe + kLatitude - kInside; });
}

/// How far a chart's grey is from neutral, as each layer sees it against green's: log10 H.
Triple grey_colour(std::size_t patch, const Matrix3& layer_from_scene) {
    const Triple& light = chart_light()[patch];
    Triple h;
    for (std::size_t l = 0; l < 3; ++l) {
        const auto& row = layer_from_scene[l];
        h[l] = std::log10(row[0] * light[0] + row[1] * light[1] + row[2] * light[2]);
    }
    return {h[0] - h[1], 0.0, h[2] - h[1]};
}

}  // namespace

std::optional<std::vector<WedgeStep>> read_wedge(const FrameSamples& frame, double step) {
    if (!sizes_match(frame) || !(step > 0)) return std::nullopt;
    auto along = read_along(frame, step, true);
    return along ? along : read_along(frame, step, false);
}

std::optional<Triple> read_card(const FrameSamples& frame) {
    if (!sizes_match(frame)) return std::nullopt;
    constexpr double kMiddle = 1.0 / 6;  // of the frame to either side of its centre. Chosen: a card held in front of the subject fills this
    const auto w = static_cast<double>(frame.above_base.width()), h = static_cast<double>(frame.above_base.height());
    std::array<std::vector<double>, 3> v;
    for (auto y = static_cast<std::int64_t>(h * (0.5 - kMiddle)); static_cast<double>(y) < h * (0.5 + kMiddle); ++y)
        for (auto x = static_cast<std::int64_t>(w * (0.5 - kMiddle)); static_cast<double>(x) < w * (0.5 + kMiddle); ++x) {
            if (!is_usable(frame, x, y)) continue;
            const DensityRgbi& d = frame.above_base(x, y);
            v[0].push_back(static_cast<double>(d.r)), v[1].push_back(static_cast<double>(d.g)), v[2].push_back(static_cast<double>(d.b));
        }
    constexpr std::size_t kLeastSpots = 200;
    if (v[0].size() < kLeastSpots) return std::nullopt;
    return Triple{median_of(v[0]), median_of(v[1]), median_of(v[2])};
}

Targets read_targets(std::span<const RollSamples> rolls) {
    Targets out;
    for (std::size_t r = 0; r < rolls.size(); ++r)
        for (std::size_t f = 0; f < rolls[r].frames.size(); ++f) {
            const FrameSamples& frame = rolls[r].frames[f];
            if (frame.note.use == FrameUse::step_wedge) {
                if (auto steps = read_wedge(frame, frame.note.step)) out.wedges.push_back({r, f, std::move(*steps)});
            } else if (frame.note.use == FrameUse::grey_card) {
                if (const auto density = read_card(frame)) out.cards.push_back({r, f, *density});
            } else if (frame.note.use == FrameUse::colour_chart) {
                if (auto chart = read_chart(frame)) {
                    chart->roll = r, chart->frame = f;
                    out.charts.push_back(*chart);
                }
            }
        }
    return out;
}

Triple layer_exposures(const Triple& d, const Matrix3& dye_from_channel, const std::array<CurveTable, 3>& curves) {
    Triple h;
    for (std::size_t l = 0; l < 3; ++l) {
        const auto& row = dye_from_channel[l];
        h[l] = curves[l].exposure(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
    }
    return h;
}

std::vector<SeenNeutral> seen_neutrals(const Targets& targets, const Lights& lights, std::size_t roll, const FilmModel& model) {
    constexpr double kOwnStd = 0.006;                  // log10 H: a printed grey's or a wedge's own colour, and the light over it. Chosen
    constexpr double kDensityStd = 0.0015;             // of a patch's mean: base, light field. Chosen
    constexpr double kStep = 0.05, kLeastRise = 0.15;  // log10 H; share of the straight line's slope under which a layer says nothing
    std::vector<SeenNeutral> out;
    if (targets.wedges.empty() && targets.charts.empty()) return out;  // most rolls: their curves need not be tabulated
    const auto curves = tabulate(model.curves);
    const auto add = [&](const Triple& density, const Triple& own) {
        SeenNeutral seen{layer_exposures(density, model.dye_from_channel, curves), own, {}};
        for (std::size_t l = 0; l < 3; ++l) {
            const double h = seen.exposure[l], slope = (curves[l].density(h + kStep) - curves[l].density(h - kStep)) / (2 * kStep);
            if (slope < kLeastRise * model.curves[static_cast<int>(l)].slope) return;
            seen.sigma[l] = std::hypot(kOwnStd, kDensityStd / slope);
            seen.exposure[l] -= own[l];
        }
        out.push_back(seen);
    };
    for (const WedgeReading& w : targets.wedges)
        for (const WedgeStep& s : w.steps)
            if (w.roll == roll && lights.is_own(roll, w.frame)) add({s.density.r, s.density.g, s.density.b}, {});
    const Matrix3 layer_from_scene = inverse(model.scene_from_layer);
    for (const ChartReading& c : targets.charts)
        for (std::size_t i = kFirstGrey; i < kPatches; ++i)
            if (c.roll == roll && lights.is_own(roll, c.frame) && c.density[i]) add(*c.density[i], grey_colour(i, layer_from_scene));
    std::sort(out.begin(), out.end(), [](const SeenNeutral& a, const SeenNeutral& b) { return a.exposure < b.exposure; });
    return out;
}

std::vector<KnownNeutral> known_neutrals(const Targets& targets, std::span<const FilmModel> models) {
    std::vector<KnownNeutral> out;
    const auto add = [&](const auto& target, const Triple& density, double sigma, const Triple& own_colour = {}) {
        const FilmModel& model = models[target.roll];
        Triple h = layer_exposures(density, model.dye_from_channel, tabulate(model.curves));
        if (!on_straight_line(h)) return;
        for (std::size_t l = 0; l < 3; ++l) h[l] -= own_colour[l];
        out.push_back({target.roll, target.frame, h[1] - kToe, {h[0] - h[1], h[2] - h[1]}, sigma});
    };
    // The steps of a target share its colour: together they are worth two, one for the level and one for the tilt.
    const auto share_colour = [&](std::size_t before) {
        const double n = static_cast<double>(out.size() - before);
        for (std::size_t i = before; i < out.size(); ++i) out[i].sigma *= std::sqrt(std::max(n / 2, 1.0));
    };
    for (const WedgeReading& w : targets.wedges) {
        const std::size_t before = out.size();
        for (const WedgeStep& s : w.steps) add(w, {s.density.r, s.density.g, s.density.b}, kWedgeStd);
        share_colour(before);
    }
    for (const ChartReading& c : targets.charts) {
        const std::size_t before = out.size();
        const Matrix3 layer_from_scene = inverse(models[c.roll].scene_from_layer);
        for (std::size_t i = kFirstGrey; i < kPatches; ++i)
            if (c.density[i]) add(c, *c.density[i], kChartStd, grey_colour(i, layer_from_scene));
        share_colour(before);
    }
    for (const CardReading& c : targets.cards) add(c, c.density, kCardStd);
    return out;
}

}  // namespace basefog::film
