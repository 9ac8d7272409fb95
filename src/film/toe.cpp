// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/toe.h"

#include "film/constants.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace basefog::film {
namespace {

constexpr std::int64_t kCell = 6;  // reduced spots, 1.2 mm. Chosen: a hand-held pair still matches
/// Exposures within a cell may scatter this much, log10 H: the curve's bend would pass for a softer toe otherwise. Chosen.
constexpr double kEven = 0.12;
/// The brighter picture lies this high above the toe, the darker within these heights. Chosen: where widths of 0.05 to 0.3 differ.
/// And is this near to neutral, log10 H: in strong colours a layer's foot would show what is wrong with the unmixing. Chosen.
constexpr double kNeutral = 0.15;
constexpr double kBrightLeast = 0.45, kDarkLeast = -0.35, kDarkMost = 0.45;
constexpr std::size_t kLeastPoints = 12;
/// One sigma of what is believed of a width before, relative (published toes agree to a tenth, age softens them by another); and of a point beside its noise:
/// relative to its dye, and density. Chosen.
constexpr double kPriorStd = 0.2, kSlopeErrorStd = 0.02, kLeastStd = 0.0015;
/// What the heights of a pair's points, or a wedge's, may be off together: the curve is not quite straight over the step. log10 H. Chosen.
constexpr double kHeightStd = 0.04;
/// Points come in clumps, of one scene or one part of it: this many are worth one. Chosen.
constexpr double kClump = 6;

/// Mean over a cell and its scatter; false when it is not whole.
bool cell_mean(const LayerPicture& p, std::int64_t x0, std::int64_t y0, Triple& mean, double& scatter) {
    Triple sum{};
    double squares = 0;
    for (std::int64_t y = y0; y < y0 + kCell; ++y)
        for (std::int64_t x = x0; x < x0 + kCell; ++x) {
            const auto i = static_cast<std::size_t>(y * p.width + x);
            if (!p.usable[i]) return false;
            for (std::size_t k = 0; k < 3; ++k) sum[k] += p.exposure[i][k];
            squares += p.exposure[i][1] * p.exposure[i][1];
        }
    constexpr double n = kCell * kCell;
    for (std::size_t k = 0; k < 3; ++k) mean[k] = sum[k] / n;
    scatter = std::sqrt(std::max(squares / n - mean[1] * mean[1], 0.0));
    return true;
}

bool cell_dye(const Picture& p, const Matrix3& dye_from_channel, std::int64_t x0, std::int64_t y0, Triple& dye) {
    Triple sum{};
    for (std::int64_t y = y0; y < y0 + kCell; ++y)
        for (std::int64_t x = x0; x < x0 + kCell; ++x) {
            if (!p.usable[p.at(x, y)]) return false;
            for (std::size_t k = 0; k < 3; ++k) sum[k] += p.density[p.at(x, y)][k] / (kCell * kCell);
        }
    for (std::size_t l = 0; l < 3; ++l) dye[l] = dye_from_channel[l][0] * sum[0] + dye_from_channel[l][1] * sum[1] + dye_from_channel[l][2] * sum[2];
    return true;
}

bool near_neutral(const Triple& h, const Rgb<LogExposure>& balance) {
    const double green = h[1] - balance.g.value();
    return std::abs(h[0] - balance.r.value() - green) < kNeutral && std::abs(h[2] - balance.b.value() - green) < kNeutral;
}

void add_pair(std::vector<ToePoint>& out, const LayerPicture& bright, const Picture& dark, std::span<const FilmModel> models, const Triple& step, int pair) {
    const Matrix3& dye_from_channel = models[dark.roll].dye_from_channel;
    if (bright.width != dark.width || bright.height != dark.height) return;
    for (std::int64_t y = 0; y + kCell <= dark.height; y += kCell)
        for (std::int64_t x = 0; x + kCell <= dark.width; x += kCell) {
            Triple mean{}, dye{};
            double scatter = 0;
            if (!cell_mean(bright, x, y, mean, scatter) || scatter > kEven || !near_neutral(mean, models[bright.roll].balance) ||
                !cell_dye(dark, dye_from_channel, x, y, dye))
                continue;
            for (int l = 0; l < 3; ++l) {
                const auto k = static_cast<std::size_t>(l);
                const double above = mean[k] - kToe, below = above - step[k];
                if (above > kBrightLeast && below > kDarkLeast && below < kDarkMost) out.push_back({dark.roll, l, below, dye[k], 3 * pair + l});
            }
        }
}

/// A wedge's low steps, placed by its higher ones.
void add_wedge(std::vector<ToePoint>& out, const WedgeReading& wedge, const FilmModel& model, int group) {
    const auto curves = tabulate(model.curves);
    for (int l = 0; l < 3; ++l) {
        const auto k = static_cast<std::size_t>(l);
        double n = 0, x = 0, y = 0, xx = 0, xy = 0;
        std::vector<std::pair<double, double>> steps;  // exposure, dye
        for (const WedgeStep& s : wedge.steps) {
            const auto& row = model.dye_from_channel[k];
            const double dye = row[0] * s.density.r + row[1] * s.density.g + row[2] * s.density.b, h = curves[k].exposure(dye) - kToe;
            steps.emplace_back(s.exposure.value(), dye);
            if (h < kBrightLeast || h > kLatitude / 2) continue;
            n += 1, x += s.exposure.value(), y += h, xx += s.exposure.value() * s.exposure.value(), xy += s.exposure.value() * h;
        }
        const double spread = n * xx - x * x;
        if (n < 3 || !(spread > 0)) continue;
        const double slope = (n * xy - x * y) / spread, from = (y - slope * x) / n;
        for (const auto& [exposure, dye] : steps)
            if (const double h = from + slope * exposure; h > kDarkLeast && h < kDarkMost)
                for (int copy = 0; copy < static_cast<int>(kClump); ++copy) out.push_back({wedge.roll, l, h, dye, 3 * group + l});  // no clump
    }
}

/// Sum of squared deviations of points under a width, each group's heights moved together as fits it best.
double misfit(const std::vector<ToePoint>& points, double width, std::span<const FilmModel> models, std::span<const RollSamples> rolls) {
    struct Group {
        double squares = 0, lever = 0, pull = 0;
    };
    std::map<int, Group> groups;
    for (const ToePoint& p : points) {
        LayerCurve curve = models[p.roll].curves[p.layer];
        curve.toe_width = width;
        constexpr double kStep = 0.01;
        const double expected = curve.at(LogExposure(p.height + kToe)).value();
        const double steep = (curve.at(LogExposure(p.height + kToe + kStep)).value() - expected) / kStep;
        const double base = rolls[p.roll].base[p.layer].std_uncertainty.value();
        const double sigma = std::hypot(std::max(kLeastStd, std::isfinite(base) ? base : 0.0), kSlopeErrorStd * expected);
        const double off = (p.dye - expected) / sigma;
        Group& g = groups[p.group];
        g.squares += off * off / kClump, g.lever += steep * steep / (sigma * sigma) / kClump, g.pull += steep * off / sigma / kClump;
    }
    double sum = 0;
    for (const auto& [id, g] : groups) sum += g.squares - g.pull * g.pull / (g.lever + 1 / (kHeightStd * kHeightStd));
    return sum;
}

}  // namespace

std::vector<ToePoint> toe_points(const std::vector<Picture>& pictures, const std::vector<LayerPicture>& layers, const Scenes& scenes, const Targets& targets,
                                 std::span<const FilmModel> models, std::span<const RollSamples> rolls) {
    std::vector<ToePoint> out;
    int group = 0;
    for (const Bracket& b : scenes.brackets) {
        if (kinship(rolls, pictures[b.first].roll, pictures[b.second].roll) == Kinship::alike) continue;
        const bool second_brighter = b.difference[1] > 0;
        const std::size_t bright = second_brighter ? b.second : b.first, dark = second_brighter ? b.first : b.second;
        Triple step;
        for (std::size_t k = 0; k < 3; ++k) step[k] = second_brighter ? b.difference[k] : -b.difference[k];
        add_pair(out, layers[bright], pictures[dark], models, step, group++);
    }
    for (const WedgeReading& w : targets.wedges) add_wedge(out, w, models[w.roll], group++);
    return out;
}

ToeFit fit_toe(const std::vector<ToePoint>& points, const std::vector<char>& of_stock, double assumed, std::span<const FilmModel> models,
               std::span<const RollSamples> rolls) {
    ToeFit out{assumed, kPriorStd, 0};
    std::vector<ToePoint> mine;
    for (const ToePoint& p : points)
        if (of_stock[p.roll]) mine.push_back(p);
    if (mine.size() < kLeastPoints) return out;
    constexpr int kSteps = 40;
    constexpr double kReach = 2.5;  // sigmas of the prior
    double total = 0, mean = 0, square = 0, least = 1e300;
    std::vector<std::pair<double, double>> nodes;
    for (int i = -kSteps; i <= kSteps; ++i) {
        const double t = kReach * kPriorStd * i / kSteps;
        nodes.emplace_back(t, t * t / (kPriorStd * kPriorStd) + misfit(mine, assumed * std::exp(t), models, rolls));
        least = std::min(least, nodes.back().second);
    }
    for (const auto& [t, chi2] : nodes) {
        const double w = std::exp(-0.5 * (chi2 - least));
        total += w, mean += w * t, square += w * t * t;
    }
    mean /= total;
    out.width = assumed * std::exp(mean);
    out.std = std::sqrt(std::max(square / total - mean * mean, 0.0));
    out.n = static_cast<int>(mine.size());
    return out;
}

}  // namespace basefog::film
