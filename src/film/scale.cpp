// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/scale.h"

#include "film/constants.h"

#include <fmt/format.h>
#include <Eigen/Cholesky>

#include <algorithm>
#include <cmath>
#include <map>

namespace basefog::film {
namespace {

using Eigen::Index;

/// Heights read off a frame's upper points, and differences read off two frames' common parts: one sigma, log10 H. Chosen / as `Bracket` states.
constexpr double kPointStd = 0.05, kLeastDifferenceStd = 0.006;
/// One sigma of one exposure, log10 H. Chosen: a quarter of a stop when metered anew; a tenth where a bracket is noted or counted off a dial.
constexpr double kMeteredStd = 0.08, kNotedStd = 0.03;
/// A bracket that nobody noted, and the exposure of a roll whose rating is not told: this open. Chosen, a stop and more.
constexpr double kUntoldExposureStd = 0.35;
/// What differs in a photographer's way of metering from roll to roll; the way itself is part of the grey's height. Chosen: a twentieth of a stop, as
/// camera and meter stay the same.
constexpr double kHabitStd = 0.015;
/// Height of a metered grey above the toe, and how open that is. Chosen: see constants.h, kToe; wide, as it is also what speed is found by.
constexpr double kGreyHeight = -kToe, kGreyHeightStd = 0.5;
/// Speed differences between rolls by cause, log10 H: a stock (or its age), a bath, a roll. Chosen: age costs up to a stop or two (common
/// practice, no source); baths a seventh of a stop; rolls of one stock out of one bath a fiftieth.
constexpr double kStockLoss = 0.20, kSessionLoss = 0.04, kRollLoss = 0.006;
/// What is open of the common slope, by cause. Chosen: kind of film, process and scanner are most of it; a stock of its own age may differ by 7 %.
constexpr VarianceParts kStretchParts{0.64, 0.30, 0.045, 0.015};
/// A frame lower than this above the toe says little of exposure, nor does one up at the shoulder. Chosen.
constexpr double kLeastHeight = 0.15, kMostHeight = kLatitude - kShoulderMargin;
bool tells_exposure(double height) { return height > kLeastHeight && height < kMostHeight; }
constexpr double kDiffers = 0.04;  // log10 H: less is the same exposure twice
constexpr double kTails = 4;       // degrees of freedom of an exposure's error
constexpr double kWedgeStretchStd = 0.006;
constexpr int kRounds = 4;

/// Steps of a camera's exposure: unit in stops, and how usual it is. Chosen.
struct Dial {
    double stops, usual;
};
constexpr std::array<Dial, 3> kDials{{{1.0, 0.65}, {0.5, 0.15}, {1.0 / 3, 0.20}}};
constexpr int kMostUnits = 12;

/// Heights of pictures of one scene set against each other by what their common parts differ by.
std::vector<double> reconcile(const std::vector<PlacedPicture>& pictures, const Scenes& scenes) {
    const auto n = static_cast<Index>(pictures.size());
    Eigen::MatrixXd precision = Eigen::MatrixXd::Zero(n, n);
    Eigen::VectorXd moment(n);
    for (Index i = 0; i < n; ++i) {
        precision(i, i) = 1 / (kPointStd * kPointStd);
        moment(i) = precision(i, i) * pictures[static_cast<std::size_t>(i)].height;
    }
    for (const Bracket& b : scenes.brackets) {
        double difference = 0, variance = 0;
        for (std::size_t k = 0; k < 3; ++k) {
            difference += kLayerWeights[k] * b.difference[k];
            variance += kLayerWeights[k] * b.std_error[k] * b.std_error[k];
        }
        const double w = 1 / (variance + kLeastDifferenceStd * kLeastDifferenceStd);
        const auto i = static_cast<Index>(b.first), j = static_cast<Index>(b.second);
        precision(i, i) += w, precision(j, j) += w, precision(i, j) -= w, precision(j, i) -= w;
        moment(i) -= w * difference, moment(j) += w * difference;
    }
    std::vector<double> out(pictures.size());
    if (n == 0) return out;
    const Eigen::VectorXd heights = precision.ldlt().solve(moment);
    for (Index i = 0; i < n; ++i) out[static_cast<std::size_t>(i)] = heights(i);
    return out;
}

using Reading = StretchReading;

/// A wedge's heights against its steps: the straight line's slope under the assumed one.
std::vector<Reading> read_wedges(const Targets& targets, std::span<const FilmModel> models) {
    constexpr double kInside = 0.3;
    constexpr std::size_t kLeast = 4;
    std::vector<Reading> out;
    for (const WedgeReading& w : targets.wedges) {
        const FilmModel& model = models[w.roll];
        const auto curves = tabulate(model.curves);
        std::vector<std::pair<double, double>> points;
        for (const WedgeStep& s : w.steps) {
            const Triple h = layer_exposures({s.density.r, s.density.g, s.density.b}, model.dye_from_channel, curves);
            const double mean = kLayerWeights[0] * h[0] + kLayerWeights[1] * h[1] + kLayerWeights[2] * h[2];
            if (std::min({h[0], h[1], h[2]}) > kToe + kInside && std::max({h[0], h[1], h[2]}) < kToe + kLatitude - kInside)
                points.emplace_back(s.exposure.value(), mean);
        }
        if (points.size() < kLeast) continue;
        double n = static_cast<double>(points.size()), x = 0, y = 0, xx = 0, xy = 0;
        for (const auto& [a, b] : points) x += a / n, y += b / n;
        for (const auto& [a, b] : points) xx += (a - x) * (a - x), xy += (a - x) * (b - y);
        if (!(xx > 0 && xy > 0)) continue;
        const double slope = xy / xx;
        double rest = 0;
        for (const auto& [a, b] : points) rest += (b - y - slope * (a - x)) * (b - y - slope * (a - x));
        out.push_back({w.roll, 1 / slope - 1, std::hypot(kWedgeStretchStd, std::sqrt(rest / (n - 2) / xx) / slope)});
    }
    return out;
}

/// Steps between pictures of one scene on one roll that nobody noted.
using Ladder = std::vector<double>;
std::vector<Ladder> find_ladders(std::size_t roll, const std::vector<PlacedPicture>& pictures, const std::vector<double>& height) {
    std::map<int, std::vector<double>> of_scene;
    for (std::size_t i = 0; i < pictures.size(); ++i)
        if (pictures[i].roll == roll && pictures[i].scene != kNoScene && !pictures[i].extra && tells_exposure(height[i]))
            of_scene[pictures[i].scene].push_back(height[i]);
    std::vector<Ladder> out;
    for (auto& [scene, heights] : of_scene) {
        std::sort(heights.begin(), heights.end());
        Ladder ladder;
        double last = heights.front();
        for (const double h : heights)
            if (h - last > kDiffers) ladder.push_back(h - last), last = h;
        if (!ladder.empty()) out.push_back(std::move(ladder));
    }
    return out;
}

/// ln of how likely a ladder's steps are, true exposure being (1 + stretch) times them, if they are whole units of some dial.
double ladder_log_likelihood(const Ladder& ladder, double stretch) {
    constexpr double kSigma = 1.4142135623730951 * kNotedStd;
    double sum = 0;
    for (const Dial& dial : kDials) {
        double product = dial.usual;
        for (const double step : ladder) {
            double likely = 1e-6, weights = 0;  // a step off every dial is possible
            for (int m = 1; m <= kMostUnits; ++m) {
                const double off = (step * (1 + stretch) - m * dial.stops * kLog10Of2) / kSigma;
                likely += std::exp(-0.5 * off * off) / m;
                weights += 1.0 / m;
            }
            product *= (1 + stretch) * likely / weights;
        }
        sum += product;
    }
    return std::log(std::max(sum, 1e-300));
}

/// Stretch by a roll's ladders, as a normal reading beside the prior N(0, prior_std): moments over a grid.
std::optional<Reading> read_ladders(std::size_t roll, const std::vector<Ladder>& ladders, double prior_std) {
    if (ladders.empty()) return std::nullopt;
    constexpr int kSteps = 240;
    constexpr double kReach = 4, kLeastStretch = -0.6;
    double total = 0, mean = 0, square = 0, most = -1e300;
    std::vector<std::pair<double, double>> nodes;
    for (int i = -kSteps; i <= kSteps; ++i) {
        const double b = kReach * prior_std * i / kSteps;
        if (b < kLeastStretch) continue;
        double log_density = -0.5 * b * b / (prior_std * prior_std);
        for (const Ladder& l : ladders) log_density += ladder_log_likelihood(l, b);
        nodes.emplace_back(b, log_density);
        most = std::max(most, log_density);
    }
    for (const auto& [b, l] : nodes) {
        const double w = std::exp(l - most);
        total += w, mean += w * b, square += w * b * b;
    }
    mean /= total;
    const double variance = std::max(square / total - mean * mean, 1e-8), gain = 1 / variance - 1 / (prior_std * prior_std);
    constexpr double kLeastGain = 0.2;  // of the prior's precision; less is no news
    if (!(gain > kLeastGain / (prior_std * prior_std))) return std::nullopt;
    return Reading{roll, mean / variance / gain, 1 / std::sqrt(gain)};
}

/// What each picture's exposure is told to be, log10 H beyond a metered one at box speed, and how well.
struct Told {
    double exposure = 0, sigma = kMeteredStd;
    bool noted = false;
};

bool rating_is_told(const RollFacts& f) {
    return f.box_speed && f.rating && *f.box_speed > 0 && *f.rating > 0 && std::isfinite(std::log(*f.box_speed / *f.rating));
}

std::vector<Told> told_exposures(std::span<const RollSamples> rolls, const std::vector<PlacedPicture>& pictures, const std::vector<double>& height) {
    std::map<std::pair<std::size_t, int>, std::pair<double, double>> span;  // of heights, by roll and scene
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        if (!tells_exposure(height[i])) continue;
        const auto [place, is_new] = span.try_emplace({pictures[i].roll, pictures[i].scene}, height[i], height[i]);
        if (!is_new) place->second = {std::min(place->second.first, height[i]), std::max(place->second.second, height[i])};
    }
    std::vector<Told> out;
    for (const PlacedPicture& p : pictures) {
        const RollFacts& facts = rolls[p.roll].facts;
        Told told;
        if (rating_is_told(facts)) told.exposure = std::log10(*facts.box_speed / *facts.rating);
        const auto of_scene = span.find({p.roll, p.scene});
        if (p.extra) {
            told = {told.exposure + *p.extra, kNotedStd, true};
        } else if (p.scene != kNoScene && of_scene != span.end() && of_scene->second.second - of_scene->second.first > kDiffers) {
            told.sigma = kUntoldExposureStd;  // one of a bracket
        }
        out.push_back(told);
    }
    return out;
}

/// The linear model of all exposures. Unknowns: stretch and loss of each roll, the grey's height, the photographer's habit with each roll, and each scene's
/// own level.
class Balance {
public:
    Balance(std::span<const RollSamples> rolls, const std::vector<double>& common_std, int scenes)
        : n_rolls_(static_cast<Index>(rolls.size())), size_(3 * n_rolls_ + 1 + scenes), mean_(Eigen::VectorXd::Zero(size_)) {
        Eigen::MatrixXd prior = Eigen::MatrixXd::Zero(size_, size_);
        for (Index a = 0; a < n_rolls_; ++a)
            for (Index b = 0; b < n_rolls_; ++b) {
                const auto i = static_cast<std::size_t>(a), j = static_cast<std::size_t>(b);
                const Kinship kin = kinship(rolls, i, j);
                const double common = std::min(common_std[i], common_std[j]);
                prior(stretch(i), stretch(j)) = common * common * kStretchParts.common(kin);
                prior(loss(i), loss(j)) = common_loss(kin);
            }
        prior(grey(), grey()) = kGreyHeightStd * kGreyHeightStd;
        for (std::size_t r = 0; r < rolls.size(); ++r)
            prior(habit(r), habit(r)) = rating_is_told(rolls[r].facts) ? kHabitStd * kHabitStd : kUntoldExposureStd * kUntoldExposureStd;
        const double scene_std = kSceneStops * kLog10Of2;
        for (int k = 0; k < scenes; ++k) prior(scene(k), scene(k)) = scene_std * scene_std;
        mean_(grey()) = kGreyHeight;
        prior_precision_ = prior.ldlt().solve(Eigen::MatrixXd::Identity(size_, size_));
    }
    [[nodiscard]] Index stretch(std::size_t r) const { return static_cast<Index>(r); }
    [[nodiscard]] Index loss(std::size_t r) const { return n_rolls_ + static_cast<Index>(r); }
    [[nodiscard]] Index habit(std::size_t r) const { return 2 * n_rolls_ + static_cast<Index>(r); }
    [[nodiscard]] Index grey() const { return 3 * n_rolls_; }
    [[nodiscard]] Index scene(int k) const { return 3 * n_rolls_ + 1 + k; }

    void start() { precision_ = prior_precision_, moment_ = prior_precision_ * mean_; }
    void add(const std::vector<std::pair<Index, double>>& row, double value, double sigma) {
        const double w = 1 / (sigma * sigma);
        for (const auto& [i, a] : row) {
            for (const auto& [j, b] : row) precision_(i, j) += w * a * b;
            moment_(i) += w * a * value;
        }
    }
    void solve() {
        const auto factor = precision_.ldlt();
        now_ = factor.solve(moment_);
        covariance_ = factor.solve(Eigen::MatrixXd::Identity(size_, size_));
    }
    [[nodiscard]] const Eigen::VectorXd& now() const { return now_; }
    [[nodiscard]] double variance(const std::vector<std::pair<Index, double>>& row) const {
        double sum = 0;
        for (const auto& [i, a] : row)
            for (const auto& [j, b] : row) sum += a * b * covariance_(i, j);
        return std::max(sum, 0.0);
    }

private:
    static double common_loss(Kinship kin) {
        const double stock = kStockLoss * kStockLoss, session = kSessionLoss * kSessionLoss, roll = kRollLoss * kRollLoss;
        switch (kin) {
            case Kinship::same_roll:
                return stock + session + roll;
            case Kinship::same_session:
                return stock + session;
            case Kinship::same_stock:
                return stock;
            case Kinship::alike:
                break;
        }
        return 0;
    }
    Index n_rolls_, size_;
    Eigen::VectorXd mean_, moment_, now_;
    Eigen::MatrixXd prior_precision_, precision_, covariance_;
};

struct Evidence {
    const std::vector<PlacedPicture>& pictures;
    const std::vector<double>& height;
    const std::vector<Told>& told;
    const std::vector<Reading>& readings;
    const std::vector<int>& in_scene;  ///< pictures of each scene that tell of its exposure
};

/// z (1 + stretch) + loss = grey + told + habit + scene + error. Solved for z, whose error it is: the stretch multiplies what the other
/// unknowns make of z, not z itself, else errors of exposure would pass for a flatter film.
void fit(Balance& balance, const Evidence& e) {
    std::vector<double> predicted = e.height, weight(e.height.size(), 1.0);
    double metered = kMeteredStd;
    for (int round = 0; round < kRounds; ++round) {
        balance.start();
        for (const Reading& r : e.readings) balance.add({{balance.stretch(r.roll), 1.0}}, r.value, r.sigma);
        const auto sigma_of = [&](std::size_t i) { return e.told[i].sigma == kMeteredStd ? metered : e.told[i].sigma; };
        for (std::size_t i = 0; i < e.pictures.size(); ++i) {
            if (!tells_exposure(e.height[i])) continue;
            const PlacedPicture& p = e.pictures[i];
            std::vector<std::pair<Index, double>> row{
                {balance.stretch(p.roll), -predicted[i]}, {balance.loss(p.roll), -1.0}, {balance.habit(p.roll), 1.0}, {balance.grey(), 1.0}};
            if (p.scene != kNoScene) row.emplace_back(balance.scene(p.scene), 1.0);
            balance.add(row, e.height[i] - e.told[i].exposure, sigma_of(i) / std::sqrt(weight[i]));
        }
        balance.solve();
        const Eigen::VectorXd& now = balance.now();
        constexpr double kPriorWorth = 4;  // exposures that the assumed spread is worth
        double squares = kPriorWorth * kMeteredStd * kMeteredStd, n = kPriorWorth;
        for (std::size_t i = 0; i < e.pictures.size(); ++i) {
            const PlacedPicture& p = e.pictures[i];
            const double own = p.scene == kNoScene ? 0.0 : now(balance.scene(p.scene));
            const double exposure = now(balance.grey()) + e.told[i].exposure + now(balance.habit(p.roll)) + own - now(balance.loss(p.roll));
            const double error = e.height[i] * (1 + now(balance.stretch(p.roll))) - exposure;
            predicted[i] = exposure / (1 + now(balance.stretch(p.roll)));
            const double s = sigma_of(i);
            weight[i] = (kTails + 1) / (kTails + error * error / (s * s));
            const double in_scene = p.scene == kNoScene ? 1 : e.in_scene[static_cast<std::size_t>(p.scene)];
            if (in_scene < 2 || e.told[i].sigma != kMeteredStd || !tells_exposure(e.height[i])) continue;
            squares += weight[i] * error * error, n += (in_scene - 1) / in_scene;
        }
        metered = std::max(kLeastDifferenceStd, std::sqrt(squares / n));
    }
}

/// What pinned a roll's slope, and by how many exposures.
void explain(RollScale& scale, std::size_t roll, const Evidence& e, double prior_std, std::size_t wedges, std::size_t charts, bool ladders) {
    constexpr double kPinned = 0.75;  // of the prior's sigma; above it the slope still rests on the assumption
    if (scale.stretch_std > kPinned * prior_std) return;
    std::map<int, std::pair<double, double>> span;  // told exposures of scenes this roll has a part in
    int noted = 0;
    for (std::size_t i = 0; i < e.pictures.size(); ++i) {
        if (e.told[i].sigma > kMeteredStd || e.pictures[i].scene == kNoScene || !tells_exposure(e.height[i])) continue;
        const auto [place, is_new] = span.try_emplace(e.pictures[i].scene, e.told[i].exposure, e.told[i].exposure);
        if (!is_new) place->second = {std::min(place->second.first, e.told[i].exposure), std::max(place->second.second, e.told[i].exposure)};
        noted += e.told[i].noted && e.pictures[i].roll == roll ? 1 : 0;
    }
    int recurring = 0;
    for (const auto& [scene, told] : span) recurring += told.second - told.first > kDiffers ? 1 : 0;
    std::vector<std::string> parts;
    if (wedges > 0) parts.push_back("a step wedge");
    if (charts > 0) parts.push_back("a colour chart");
    if (noted > 1) parts.push_back(fmt::format("{} noted exposures", noted));
    if (ladders) parts.push_back("bracketed pictures, their steps taken for those of a camera's dial");
    if (recurring > 0 && noted < 2) parts.push_back(fmt::format("{} scene{} taken at different ratings", recurring, recurring == 1 ? "" : "s"));
    scale.basis = parts.empty() ? "other rolls of the stock" : parts[0];
    for (std::size_t i = 1; i < parts.size(); ++i) scale.basis += (i + 1 == parts.size() ? " and " : ", ") + parts[i];
    scale.n = static_cast<int>(wedges + charts) + noted + recurring + (ladders ? 1 : 0);
}

}  // namespace

Scale fit_scale(std::span<const RollSamples> rolls, const std::vector<double>& common_std, const std::vector<PlacedPicture>& pictures, const Scenes& scenes,
                const Targets& targets, std::span<const FilmModel> models, std::span<const StretchReading> charts) {
    Scale out;
    out.height = reconcile(pictures, scenes);
    std::vector<Reading> readings = read_wedges(targets, models);
    std::vector<std::size_t> wedges(rolls.size(), 0);
    for (const Reading& r : readings) ++wedges[r.roll];
    std::vector<std::size_t> charted(rolls.size(), 0);
    for (const StretchReading& r : charts) readings.push_back(r), ++charted[r.roll];
    std::vector<char> laddered(rolls.size(), 0);
    for (std::size_t r = 0; r < rolls.size(); ++r)
        if (const auto reading = read_ladders(r, find_ladders(r, pictures, out.height), common_std[r])) readings.push_back(*reading), laddered[r] = 1;
    std::vector<int> in_scene(static_cast<std::size_t>(scenes.count), 0);
    for (std::size_t i = 0; i < pictures.size(); ++i)
        if (pictures[i].scene != kNoScene && tells_exposure(out.height[i])) ++in_scene[static_cast<std::size_t>(pictures[i].scene)];
    const std::vector<Told> told = told_exposures(rolls, pictures, out.height);
    const Evidence evidence{pictures, out.height, told, readings, in_scene};
    Balance balance(rolls, common_std, scenes.count);
    fit(balance, evidence);

    const Eigen::VectorXd& now = balance.now();
    double mean_loss = 0;
    for (std::size_t r = 0; r < rolls.size(); ++r) mean_loss += now(balance.loss(r)) / static_cast<double>(rolls.size());
    for (std::size_t r = 0; r < rolls.size(); ++r) {
        RollScale s;
        s.stretch = now(balance.stretch(r));
        s.stretch_std = std::sqrt(balance.variance({{balance.stretch(r), 1.0}}));
        s.loss = now(balance.loss(r)) - mean_loss;
        std::vector<std::pair<Index, double>> against_mean{{balance.loss(r), 1.0}};
        for (std::size_t q = 0; q < rolls.size(); ++q) against_mean.emplace_back(balance.loss(q), -1.0 / static_cast<double>(rolls.size()));
        s.loss_std = std::sqrt(balance.variance(against_mean));
        const bool has_pictures = std::any_of(pictures.begin(), pictures.end(), [r](const PlacedPicture& p) { return p.roll == r; });
        if (rating_is_told(rolls[r].facts) && has_pictures) {
            s.grey_height = now(balance.grey()) + now(balance.habit(r)) - now(balance.loss(r));
            s.grey_height_std = std::sqrt(balance.variance({{balance.grey(), 1.0}, {balance.habit(r), 1.0}, {balance.loss(r), -1.0}}));
        }
        explain(s, r, evidence, common_std[r], wedges[r], charted[r], laddered[r] != 0);
        out.rolls.push_back(std::move(s));
    }
    return out;
}

}  // namespace basefog::film
