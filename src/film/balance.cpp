// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/balance.h"

#include "film/constants.h"
#include "film/light_sources.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <optional>
#include <utility>

namespace basefog::film {
namespace {

using Eigen::Index;
using Matrix4 = Eigen::Matrix4d;  // of speed red, tilt red, speed blue, tilt blue

constexpr double kDaylight = 5500, kTungsten = 3200;  // Kelvin: daylight and tungsten stocks' balances, common practice, no source
/// Rounds of asking the pictures again about the neutral found so far.
constexpr int kRounds = 3;
constexpr int kReweightings = 30;
/// A vote from near the toe rests on the curve's foot: this much more sigma, divided by its height. Chosen.
constexpr double kLowHeightStd = 0.03;
/// A bracket's own sigma, relative, beside its statistics: the shoulder's and toe's ends. And the light's own change between two pictures of
/// a scene, log10 H. Chosen.
constexpr double kBracketStd = 0.012, kLightStd = 0.004;
/// Between rolls a bracket also shows how their curves' shapes differ, which no speed and no slope describes, log10 H: rolls of one stock, and
/// of stocks alike or of other ages. Chosen.
constexpr double kRollShapeStd = 0.01, kOtherShapeStd = 0.03;

/// Where a vote looks: at one height of one roll, or at the mean of several. In another light than the roll's, that light's shift comes on top.
struct Look {
    std::size_t roll = 0;
    double speed_part = 1, height = 0;
    int light = kOwnLight;
};
/// One scene's vote: the mean over its pictures, however many there are.
struct Vote {
    Pair value{}, sigma{};
    std::vector<Look> looks;
    double weight = 1;
};

/// Where the unknowns stand: four to a roll, then two to each other light.
struct Unknowns {
    std::size_t rolls = 0, lights = 0;
    [[nodiscard]] Index size() const { return static_cast<Index>(4 * rolls + 2 * lights); }
    [[nodiscard]] static Index speed(std::size_t roll, std::size_t axis) { return static_cast<Index>(4 * roll + 2 * axis); }
    [[nodiscard]] Index shift(int light, std::size_t axis) const { return static_cast<Index>(4 * rolls + 2 * static_cast<std::size_t>(light) + axis); }
};
/// One unknown's part in a measured number.
struct Part {
    Index at = 0;
    double factor = 0;
};
std::vector<Part> parts_of(const std::vector<Look>& looks, std::size_t axis, const Unknowns& unknowns) {
    std::vector<Part> out;
    for (const Look& l : looks) {
        out.push_back({Unknowns::speed(l.roll, axis), l.speed_part});
        out.push_back({Unknowns::speed(l.roll, axis) + 1, l.height});
        if (l.light != kOwnLight) out.push_back({unknowns.shift(l.light, axis), l.speed_part});
    }
    return out;
}

/// The normal equations of all rolls and lights together.
class Normal {
public:
    Normal(const Unknowns& unknowns, const Eigen::MatrixXd& prior_precision, const Eigen::VectorXd& prior_mean)
        : unknowns_(unknowns), precision_(prior_precision), moment_(prior_precision * prior_mean) {}
    /// Adds one measured number: sum over looks of speed_part * (speed + shift of the light) + height * tilt on an axis.
    void add(std::size_t axis, const std::vector<Look>& looks, double value, double sigma, double weight) {
        const double w = weight / (sigma * sigma);
        const std::vector<Part> parts = parts_of(looks, axis, unknowns_);
        for (const Part& a : parts) {
            for (const Part& b : parts) precision_(a.at, b.at) += w * a.factor * b.factor;
            moment_(a.at) += w * a.factor * value;
        }
    }
    [[nodiscard]] double expected(const std::vector<Look>& looks, std::size_t axis, const Eigen::VectorXd& now) const {
        double sum = 0;
        for (const Part& p : parts_of(looks, axis, unknowns_)) sum += p.factor * now(p.at);
        return sum;
    }
    [[nodiscard]] Eigen::MatrixXd covariance() const { return precision_.ldlt().solve(Eigen::MatrixXd::Identity(precision_.rows(), precision_.cols())); }
    [[nodiscard]] const Eigen::VectorXd& moment() const { return moment_; }

private:
    Unknowns unknowns_;
    Eigen::MatrixXd precision_;
    Eigen::VectorXd moment_;
};

/// Adds votes, two numbers each, under a heavy-tailed law.
void add_votes(Normal& normal, const std::vector<Vote>& votes, const Eigen::VectorXd& now) {
    for (const Vote& v : votes) {
        double chi2 = 0;
        for (std::size_t k = 0; k < 2; ++k) {
            const double residual = (v.value[k] - normal.expected(v.looks, k, now)) / v.sigma[k];
            chi2 += residual * residual;
        }
        const double tail = (kVoteTails + 2) / (kVoteTails + chi2);
        for (std::size_t k = 0; k < 2; ++k) normal.add(k, v.looks, v.value[k], v.sigma[k], v.weight * tail);
    }
}

/// Lowers the votes' weights for what a roll's subjects have in common: n votes are worth n / (1 + n together).
void share_subjects(std::vector<Vote>& votes, std::size_t rolls, double together) {
    std::vector<double> total(rolls, 0.0);
    for (const Vote& v : votes)
        for (const Look& l : v.looks) total[l.roll] += 1.0 / static_cast<double>(v.looks.size());
    for (Vote& v : votes) {
        double most = 0;
        for (const Look& l : v.looks) most = std::max(most, total[l.roll]);
        v.weight /= 1 + most * together;
    }
}

/// Joins single pictures' numbers into one vote for each scene.
class SceneVotes {
public:
    explicit SceneVotes(int scenes) : votes_(static_cast<std::size_t>(scenes)) {}
    void add(int scene, const Pair& value, const Pair& sigma, const Look& look) {
        Vote& v = votes_[static_cast<std::size_t>(scene)];
        for (std::size_t k = 0; k < 2; ++k) v.value[k] += value[k], v.sigma[k] += sigma[k];
        v.looks.push_back(look);
    }
    [[nodiscard]] std::vector<Vote> take() {
        std::vector<Vote> out;
        for (Vote& v : votes_) {
            if (v.looks.empty()) continue;
            const double n = static_cast<double>(v.looks.size());
            for (std::size_t k = 0; k < 2; ++k) v.value[k] /= n, v.sigma[k] /= n;
            for (Look& l : v.looks) l.speed_part /= n, l.height /= n;
            out.push_back(std::move(v));
        }
        return out;
    }

private:
    std::vector<Vote> votes_;
};

/// Where a picture's neutral is expected, in its own light.
NeutralLine expected_of(const NeutralEvidence& e, const LayerPicture& p, const NeutralFit& now) {
    NeutralLine out = now.rolls[p.roll].line();
    if (const int light = e.lights.of(p.roll, p.frame); light != kOwnLight) {
        const FoundShift& found = now.lights[static_cast<std::size_t>(light)];
        for (std::size_t k = 0; k < 2; ++k) out.speed[k] += found.shift[k], out.speed_variance[k] += found.sigma[k] * found.sigma[k];
    }
    return out;
}

std::vector<Vote> tilt_votes(const NeutralEvidence& e, const NeutralFit& now) {
    std::vector<std::optional<Pair>> tilts(e.pictures.size());
    e.each_picture(
        [&](std::size_t i) { tilts[i] = vote_tilt(e.pictures[i], e.first_look() ? std::nullopt : std::optional(expected_of(e, e.pictures[i], now))); });
    const Pair bias = e.first_look() ? kFirstTiltBias : kTiltBias, spread = e.first_look() ? kFirstTiltStd : kTiltStd;
    SceneVotes votes(e.scenes.count);
    for (std::size_t i = 0; i < e.pictures.size(); ++i)
        if (const auto& tilt = tilts[i])
            votes.add(e.scenes.scene_of[i], {(*tilt)[0] - bias[0], (*tilt)[1] - bias[1]}, spread, {e.pictures[i].roll, 0.0, 1.0, kOwnLight});
    std::vector<Vote> out = votes.take();
    share_subjects(out, e.rolls.size(), kTiltTogether);
    return out;
}

std::vector<SmoothPicture> smooth_all(const NeutralEvidence& e) {
    std::vector<SmoothPicture> out(e.pictures.size());
    e.each_picture([&](std::size_t i) { out[i] = smooth(e.pictures[i]); });
    return out;
}

/// Of pictures in any light: what recognising lights asks.
std::vector<std::optional<CastVote>> ask_casts(const NeutralEvidence& e, const std::vector<SmoothPicture>& smoothed, const NeutralFit& found) {
    std::vector<std::optional<CastVote>> out(e.pictures.size());
    e.each_picture([&](std::size_t i) { out[i] = vote_cast(smoothed[i], expected_of(e, e.pictures[i], found).at(-kToe)); });
    return out;
}

/// How sure a vote is, over what is usual: a picture whose light lies near neutral says it best, one without any such light hardly at all.
double unsureness(const CastVote& vote) {
    if (!vote.near) return 1;
    return std::clamp(std::pow(std::max(*vote.near, 1e-9) / kUsuallyNear, -kNearPower), kSurest, kLeastSure);
}

/// One kind of vote of every picture, its bias and its spread.
struct Ballot {
    std::vector<std::optional<CastVote>> votes;
    Pair bias{}, std{};
    double weight = 1;
};
/// Both ways of asking err mostly by subject, and not alike: once it is known roughly where neutral is, each counts half.
std::vector<Ballot> cast_ballots(const NeutralEvidence& e, const std::vector<SmoothPicture>& smoothed, const NeutralFit& now) {
    std::vector<Ballot> out{{ask_casts(e, smoothed, now), kCastBias, kCastStd, 1.0}};
    if (e.first_look()) return out;
    Ballot near{std::vector<std::optional<CastVote>>(e.pictures.size()), kNeutralBias, kNeutralStd, 0.5};
    e.each_picture([&](std::size_t i) { near.votes[i] = vote_neutral(smoothed[i], expected_of(e, e.pictures[i], now)); });
    out.front().weight = 0.5;
    out.push_back(std::move(near));
    return out;
}

std::vector<Vote> cast_votes(const NeutralEvidence& e, const std::vector<SmoothPicture>& smoothed, const NeutralFit& now) {
    std::vector<Vote> out;
    for (const Ballot& ballot : cast_ballots(e, smoothed, now)) {
        SceneVotes votes(e.scenes.count);
        for (std::size_t i = 0; i < e.pictures.size(); ++i) {
            const auto& vote = ballot.votes[i];
            if (!vote) continue;
            const std::size_t roll = e.pictures[i].roll;
            const double low = kLowHeightStd / std::max(vote->height, 0.1), unsure = unsureness(*vote);
            votes.add(e.scenes.scene_of[i], {vote->cast[0] - ballot.bias[0], vote->cast[1] - ballot.bias[1]},
                      {std::hypot(unsure * ballot.std[0], low), std::hypot(unsure * ballot.std[1], low)},
                      {roll, 1.0, vote->height, e.lights.of(roll, e.pictures[i].frame)});
        }
        std::vector<Vote> of_kind = votes.take();
        share_subjects(of_kind, e.rolls.size(), kCastTogether);
        for (Vote& v : of_kind) v.weight *= ballot.weight;
        std::move(of_kind.begin(), of_kind.end(), std::back_inserter(out));
    }
    return out;
}

/// Two pictures of one scene: its colour is the same, whatever it is. n pictures make n (n - 1) / 2 pairs but n - 1 differences.
void add_brackets(Normal& normal, const NeutralEvidence& e) {
    std::vector<double> pairs(e.pictures.size(), 0.0);
    std::map<std::pair<std::size_t, std::size_t>, double> across;  // pairs between two rolls: they share what the rolls' curves are off
    for (const Bracket& b : e.scenes.brackets) {
        pairs[b.first] += 1, pairs[b.second] += 1;
        across[{e.pictures[b.first].roll, e.pictures[b.second].roll}] += 1;
    }
    for (const Bracket& b : e.scenes.brackets) {
        const double step = b.second_height - b.first_height;
        const std::size_t first = e.pictures[b.first].roll, second = e.pictures[b.second].roll;
        if (first == second && std::abs(step) < kLog10Of2 / 2) continue;
        const Kinship kin = kinship(e.rolls, first, second);
        const double weight = first == second ? 2.0 / (1 + std::max(pairs[b.first], pairs[b.second])) : 1.0 / across[{first, second}];
        const double shape = kin == Kinship::same_roll ? 0.0 : kin == Kinship::alike ? kOtherShapeStd : kRollShapeStd;
        for (std::size_t k = 0; k < 2; ++k) {
            const std::size_t layer = k == 0 ? 0 : 2;
            const double sigma = std::hypot(std::hypot(kBracketStd * step, kLightStd, shape), std::hypot(b.std_error[layer], b.std_error[1]));
            normal.add(k,
                       {{second, 1.0, b.second_height, e.lights.of(second, e.pictures[b.second].frame)},
                        {first, -1.0, -b.first_height, e.lights.of(first, e.pictures[b.first].frame)}},
                       b.difference[layer] - b.difference[1], sigma, weight);
        }
    }
}

void add_neutrals(Normal& normal, const NeutralEvidence& e) {
    for (const KnownNeutral& n : e.neutrals)
        for (std::size_t k = 0; k < 2; ++k) normal.add(k, {{n.roll, 1.0, n.height, e.lights.of(n.roll, n.frame)}}, n.colour[k], n.sigma, 1.0);
}

/// Where a light is told but the roll's own is not, the neutral in that light is what is known.
void add_told_lights(Normal& normal, const Lights& lights) {
    for (std::size_t g = 0; g < lights.groups.size(); ++g)
        if (const LightGroup& group = lights.groups[g]; group.absolute)
            for (std::size_t k = 0; k < 2; ++k) normal.add(k, {{group.roll, 1.0, 0.0, static_cast<int>(g)}}, (*group.absolute)[k], kToldStd[k], 1.0);
}

Eigen::MatrixXd prior_covariance(const std::vector<NeutralPrior>& priors, std::span<const RollSamples> rolls) {
    const auto n = static_cast<Index>(priors.size());
    Eigen::MatrixXd out(4 * n, 4 * n);
    for (Index a = 0; a < n; ++a)
        for (Index b = 0; b < n; ++b) {
            const auto i = static_cast<std::size_t>(a), j = static_cast<std::size_t>(b);
            // Two rolls can have in common no more than the better known of them leaves open.
            const Matrix4 one = priors[i].parts.common(kinship(rolls, i, j)), other = priors[j].parts.common(kinship(rolls, i, j));
            out.block<4, 4>(4 * a, 4 * b) = one.trace() < other.trace() ? one : other;
        }
    return out;
}

/// What is assumed before the pictures are asked: rolls tied by kinship, each light on its own.
struct Assumed {
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};
Assumed assumed_of(const std::vector<NeutralPrior>& priors, const NeutralEvidence& e, const Unknowns& unknowns) {
    Assumed out{Eigen::VectorXd(unknowns.size()), Eigen::MatrixXd::Zero(unknowns.size(), unknowns.size())};
    for (std::size_t r = 0; r < priors.size(); ++r)
        out.mean.segment<4>(Unknowns::speed(r, 0)) << priors[r].speed[0], priors[r].tilt[0], priors[r].speed[1], priors[r].tilt[1];
    const Index rolls = static_cast<Index>(4 * priors.size());
    out.covariance.topLeftCorner(rolls, rolls) = prior_covariance(priors, e.rolls);
    for (std::size_t g = 0; g < unknowns.lights; ++g) {
        const Index at = unknowns.shift(static_cast<int>(g), 0);
        out.mean.segment<2>(at) << e.lights.groups[g].shift[0], e.lights.groups[g].shift[1];
        out.covariance.block<2, 2>(at, at) = e.lights.groups[g].covariance;
    }
    return out;
}

/// Where the search starts: with what was found so far, else with what is assumed.
Assumed begin_with(const Assumed& assumed, const NeutralEvidence& e) {
    Assumed out = assumed;
    for (std::size_t r = 0; r < e.so_far.size(); ++r) {
        const Index at = Unknowns::speed(r, 0);
        out.mean.segment<4>(at) << e.so_far[r].speed[0], 0, e.so_far[r].speed[1], 0;
        out.covariance.block<4, 4>(at, at) = e.so_far[r].covariance;
    }
    return out;
}

NeutralFit split(const Unknowns& unknowns, const Eigen::VectorXd& mean, const Eigen::MatrixXd& covariance) {
    NeutralFit out;
    for (std::size_t r = 0; r < unknowns.rolls; ++r) {
        const Index at = Unknowns::speed(r, 0);
        Neutral& n = out.rolls.emplace_back();
        n.speed = {mean(at), mean(at + 2)};
        n.tilt = {mean(at + 1), mean(at + 3)};
        n.covariance = covariance.block<4, 4>(at, at);
    }
    for (std::size_t g = 0; g < unknowns.lights; ++g) {
        FoundShift& found = out.lights.emplace_back();
        for (std::size_t k = 0; k < 2; ++k) {
            const Index at = unknowns.shift(static_cast<int>(g), k);
            found.shift[k] = mean(at), found.sigma[k] = std::sqrt(std::max(covariance(at, at), 0.0));
        }
    }
    return out;
}

/// By cause: what is open about scanner and kind, the stock, the bath, the roll. Of speeds and of tilts. Chosen: bands decide most of what is not known of
/// a neutral's slopes and much of its speeds; two rolls out of one bath agree to a few hundredths.
constexpr VarianceParts kSpeedParts{0.50, 0.35, 0.10, 0.05}, kTiltParts{0.80, 0.12, 0.06, 0.02};

bool light_is_told(const RollFacts& facts) { return facts.stock_balance.has_value() && facts.light.has_value(); }

}  // namespace

NeutralLine Neutral::line() const {
    NeutralLine out{speed, tilt, {}, {}, {}};
    for (std::size_t k = 0; k < 2; ++k) {
        const auto s = static_cast<Index>(2 * k), t = s + 1;
        out.speed_variance[k] = covariance(s, s), out.tilt_variance[k] = covariance(t, t), out.covariance[k] = covariance(s, t);
    }
    return out;
}

Pair Neutral::std_at(double height) const {
    const Pair variance = line().variance_at(height);
    return {std::sqrt(variance[0]), std::sqrt(variance[1])};
}

NeutralPrior assume_neutral(const RollFacts& facts, const std::array<std::array<double, 2>, 2>& tilt_covariance) {
    NeutralPrior prior;
    const Rgb<LogExposure> axis = layer_offsets(Kelvin(kTungsten), Kelvin(kDaylight), 0);
    if (light_is_told(facts)) {
        const Rgb<LogExposure> offset = layer_offsets(*facts.stock_balance, *facts.light, facts.filter_mired);
        prior.speed = {offset.r.value(), offset.b.value()};
    } else {
        prior.speed = {kUntoldCentre * axis.r.value(), kUntoldCentre * axis.b.value()};
        const double r = kUntoldStd * axis.r.value(), b = kUntoldStd * axis.b.value();
        // Where the stock's balance is not told it is the same for its rolls; a light that is not told is each roll's own.
        Matrix4& open = facts.stock_balance ? prior.parts.roll : prior.parts.stock;
        open(0, 0) += r * r, open(2, 2) += b * b, open(0, 2) += r * b, open(2, 0) += r * b;
    }
    const double decades = std::isfinite(facts.years_past_expiry.value_or(0)) ? std::clamp(facts.years_past_expiry.value_or(0) / 10, 0.0, 5.0) : 0.0;
    const auto spread = [&](Matrix4& part, double speed_share, double tilt_share) {
        for (std::size_t k = 0; k < 2; ++k) {
            const auto s = static_cast<Index>(2 * k);
            const double own = light_is_told(facts) ? kToldStd[k] : std::hypot(kToldStd[k], kUntoldAcrossStd);
            part(s, s) += speed_share * own * own;
            for (std::size_t j = 0; j < 2; ++j) part(s + 1, static_cast<Index>(2 * j + 1)) += tilt_share * tilt_covariance[k][j];
        }
    };
    spread(prior.parts.scanner_and_kind, kSpeedParts.scanner_and_kind, kTiltParts.scanner_and_kind);
    spread(prior.parts.stock, kSpeedParts.stock, kTiltParts.stock);
    spread(prior.parts.session, kSpeedParts.session, kTiltParts.session);
    spread(prior.parts.roll, kSpeedParts.roll, kTiltParts.roll);
    for (std::size_t k = 0; k < 2; ++k) {  // age: the stock's, as its rolls lay in one place
        const double aged = kAgedStdPerDecade[k] * decades;
        prior.parts.stock(static_cast<Index>(2 * k), static_cast<Index>(2 * k)) += aged * aged;
    }
    return prior;
}

std::string basis_of_assumed(const RollFacts& facts) {
    return light_is_told(facts) ? "the stock's balance and the light as told"
                                : "neither the stock's balance nor the light is told: daylight to tungsten left open";
}

NeutralFit fit_neutrals(const std::vector<NeutralPrior>& priors, const NeutralEvidence& e) {
    const Unknowns unknowns{priors.size(), e.lights.groups.size()};
    const Assumed assumed = assumed_of(priors, e, unknowns);
    const Eigen::MatrixXd precision = assumed.covariance.ldlt().solve(Eigen::MatrixXd::Identity(unknowns.size(), unknowns.size()));
    auto [now, covariance] = begin_with(assumed, e);
    const std::vector<SmoothPicture> smoothed = smooth_all(e);
    std::vector<Vote> tilts;
    for (int round = 0; round < kRounds; ++round) {
        const NeutralFit so_far = split(unknowns, now, covariance);
        const std::vector<Vote> casts = cast_votes(e, smoothed, so_far);
        if (round == 0 || !e.first_look()) tilts = tilt_votes(e, so_far);  // whole pictures say the same whatever was found
        for (int step = 0; step < kReweightings; ++step) {
            Normal normal(unknowns, precision, assumed.mean);
            add_votes(normal, casts, now);
            add_votes(normal, tilts, now);
            add_brackets(normal, e);
            add_neutrals(normal, e);
            add_told_lights(normal, e.lights);
            covariance = normal.covariance();
            now = covariance * normal.moment();
        }
    }
    NeutralFit found = split(unknowns, now, covariance);
    for (const LayerPicture& p : e.pictures) {
        ++found.rolls[p.roll].n_votes;
        if (const int light = e.lights.of(p.roll, p.frame); light != kOwnLight) ++found.lights[static_cast<std::size_t>(light)].n_votes;
    }
    for (const Bracket& b : e.scenes.brackets) ++found.rolls[e.pictures[b.first].roll].n_brackets;
    for (const KnownNeutral& n : e.neutrals) ++found.rolls[n.roll].n_neutrals;
    found.casts = ask_casts(e, smoothed, found);
    return found;
}

}  // namespace basefog::film
