// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/lights.h"

#include "film/balance.h"
#include "film/constants.h"
#include "film/light_sources.h"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace basefog::film {
namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;

constexpr double kPi = 3.14159265358979323846;
/// Kelvin. Chosen: lamps at home are 2700 to 3200 K (common practice, no source); daylight as stocks are balanced for it.
constexpr double kLampLight = 2900, kDaylight = 5500, kDaylightFrom = 3900;
/// What a lamp's temperature, or the day's, leaves open of the shift: along it, as a share, and across it, log10 H. Chosen: 2600 to 3300 K.
constexpr double kAlongShare = 0.2, kAcrossStd = 0.03;
/// The same where the light is told. Chosen: as a roll's own light, but for what stock and scanner share.
constexpr double kToldShiftStd = 0.03;
/// And where the roll's own light is not: as far as from daylight to a lamp, either way.
constexpr double kOpenShiftStd = 0.3;
/// Share of pictures whose subject may have any colour, and how thinly these are spread, per squared log10 H. Chosen: of 83 free photographs the casts of 4 %
/// lie within a lamp's reach, where Student's law leaves half a per cent.
constexpr double kAnyColour = 0.1, kAnyColourDensity = 0.8;
/// Tails of votes about the other light. Chosen: a frame belongs there for being near, not for being far from everything.
constexpr double kOtherTails = 4;
/// A chain along the roll: how often the other light begins, and ends; and how often a roll begins in it. Chosen: a roll in ten has some, six frames long.
constexpr double kBegins = 0.08, kEnds = 0.16, kAtFirst = 0.1;
/// A group is one with this much evidence: scenes, mean probability and natural logarithm of the odds. Chosen on simulated rolls (docs/stages/film.md).
struct Rule {
    double scenes, probability, log_odds;
};
constexpr std::array<Rule, 2> kRules{{{3, 0.8, 4}, {2, 0.9, 4}}};
/// Where the roll's light is not told, what it gains to have two of them must be more than choosing among four ways of it.
constexpr double kUntoldGain = 3;
constexpr std::size_t kLeastPictures = 4;

struct Seen {
    std::size_t frame = 0;
    Vector2d off;      ///< from where the roll's neutral is
    Matrix2d spread;   ///< of the vote and of that neutral
    double share = 1;  ///< of its scene
};

/// A way the roll may be lit.
struct Way {
    Vector2d own = Vector2d::Zero(), other = Vector2d::Zero();  ///< where votes lie in either light
    double log_prior = 0;
};

Vector2d shift_between(const RollFacts& facts, double from, double to) {
    const Kelvin stock = facts.stock_balance.value_or(Kelvin(kDaylight));
    const Rgb<LogExposure> a = layer_offsets(stock, Kelvin(from), facts.filter_mired), b = layer_offsets(stock, Kelvin(to), facts.filter_mired);
    return {(b.r - b.g - (a.r - a.g)).value(), (b.b - b.g - (a.b - a.g)).value()};
}

Matrix2d spread_of_shift(const Vector2d& shift) {
    const Vector2d along = shift.normalized(), across(-along.y(), along.x());
    return kAlongShare * kAlongShare * shift.squaredNorm() * along * along.transpose() + kAcrossStd * kAcrossStd * across * across.transpose();
}

std::vector<Way> ways_of(const RollFacts& facts) {
    if (facts.light) {
        const double own = facts.light->value();
        return {{Vector2d::Zero(), shift_between(facts, own, own >= kDaylightFrom ? kLampLight : kDaylight), 0}};
    }
    // The roll's neutral is where most of its pictures have it, or half-way when they are as many of either light.
    const Vector2d lamp = shift_between(facts, kDaylight, kLampLight);
    const double each = std::log(0.25);
    return {{Vector2d::Zero(), lamp, each}, {Vector2d::Zero(), -lamp, each}, {-lamp / 2, lamp / 2, each}, {lamp / 2, -lamp / 2, each}};
}

/// log of Student's density in the plane, mixed with subjects of any colour.
double log_density(const Vector2d& off, const Matrix2d& spread, double tails) {
    const double chi2 = off.dot(spread.inverse() * off);
    const double student = std::pow(1 + chi2 / tails, -(tails + 2) / 2) / (2 * kPi * std::sqrt(spread.determinant()));
    return std::log((1 - kAnyColour) * student + kAnyColour * kAnyColourDensity);
}

double log_sum(double a, double b) {
    const double most = std::max(a, b);
    return most + std::log(std::exp(a - most) + std::exp(b - most));
}

struct Reading {
    std::vector<double> probability;  ///< of the other light, picture by picture
    std::vector<double> log_odds;     ///< what each picture alone says
    double gain = 0;                  ///< over one light for all, natural logarithm
};

/// Forwards and backwards along the roll [Rabiner1989].
Reading read_chain(const std::vector<Seen>& seen, const Way& way) {
    using Two = std::array<double, 2>;
    const Matrix2d open = spread_of_shift(way.other - way.own);
    const std::array<Two, 2> step{{{std::log(1 - kBegins), std::log(kBegins)}, {std::log(kEnds), std::log(1 - kEnds)}}};
    std::vector<Two> said, forward(seen.size()), backward(seen.size(), Two{});
    Reading out;
    double alone = 0;
    for (const Seen& s : seen) {
        said.push_back({s.share * log_density(s.off - way.own, s.spread, kVoteTails), s.share * log_density(s.off - way.other, s.spread + open, kOtherTails)});
        out.log_odds.push_back(said.back()[1] - said.back()[0]);
        alone += s.share * log_density(s.off, s.spread, kVoteTails);
    }
    forward[0] = {std::log(1 - kAtFirst) + said[0][0], std::log(kAtFirst) + said[0][1]};
    for (std::size_t i = 1; i < seen.size(); ++i)
        for (std::size_t k = 0; k < 2; ++k) forward[i][k] = said[i][k] + log_sum(forward[i - 1][0] + step[0][k], forward[i - 1][1] + step[1][k]);
    for (std::size_t i = seen.size() - 1; i-- > 0;)
        for (std::size_t k = 0; k < 2; ++k)
            backward[i][k] = log_sum(step[k][0] + said[i + 1][0] + backward[i + 1][0], step[k][1] + said[i + 1][1] + backward[i + 1][1]);
    const double all = log_sum(forward.back()[0], forward.back()[1]);
    for (std::size_t i = 0; i < seen.size(); ++i) out.probability.push_back(std::exp(forward[i][1] + backward[i][1] - all));
    out.gain = all + way.log_prior - alone;
    return out;
}

std::vector<Seen> seen_on_roll(const Lights& told, const LightEvidence& e, std::size_t roll) {
    std::vector<Seen> out;
    const Neutral& neutral = e.neutrals[roll];
    for (std::size_t i = 0; i < e.pictures.size(); ++i) {
        const LayerPicture& p = e.pictures[i];
        if (p.roll != roll || !e.casts[i] || e.rolls[roll].frames[p.frame].note.light || !told.is_own(roll, p.frame)) continue;
        const CastVote& vote = *e.casts[i];
        const Pair at = neutral.at(vote.height), std = neutral.std_at(vote.height);
        Seen seen;
        seen.frame = p.frame;
        for (std::size_t k = 0; k < 2; ++k) {
            const auto j = static_cast<Eigen::Index>(k);
            seen.off(j) = vote.cast[k] - kCastBias[k] - at[k];
            seen.spread.row(j).setZero();
            seen.spread(j, j) = kCastStd[k] * kCastStd[k] + std[k] * std[k];
        }
        seen.share = e.scenes.share[i];
        out.push_back(seen);
    }
    std::sort(out.begin(), out.end(), [](const Seen& a, const Seen& b) { return a.frame < b.frame; });
    return out;
}

LightGroup told_group(const RollFacts& facts, std::size_t roll, Kelvin light) {
    LightGroup group;
    group.roll = roll, group.told = light;
    if (facts.light) {
        const Vector2d shift = shift_between(facts, facts.light->value(), light.value());
        group.shift = {shift.x(), shift.y()};
        group.covariance = kToldShiftStd * kToldShiftStd * Matrix2d::Identity();
        return group;
    }
    group.covariance = kOpenShiftStd * kOpenShiftStd * Matrix2d::Identity();
    if (!facts.stock_balance) return group;
    const Rgb<LogExposure> offset = layer_offsets(*facts.stock_balance, light, facts.filter_mired);
    group.absolute = Pair{(offset.r - offset.g).value(), (offset.b - offset.g).value()};
    return group;
}

}  // namespace

Lights told_lights(std::span<const RollSamples> rolls) {
    Lights out;
    for (std::size_t r = 0; r < rolls.size(); ++r) {
        out.group_of.emplace_back(rolls[r].frames.size(), kOwnLight);
        const RollFacts& facts = rolls[r].facts;
        for (std::size_t f = 0; f < rolls[r].frames.size(); ++f) {
            const auto& light = rolls[r].frames[f].note.light;
            if (!light || light == facts.light) continue;
            auto group = std::find_if(out.groups.begin(), out.groups.end(), [&](const LightGroup& g) { return g.roll == r && g.told == light; });
            if (group == out.groups.end()) {
                out.groups.push_back(told_group(facts, r, *light));
                group = out.groups.end() - 1;
            }
            out.group_of[r][f] = static_cast<int>(group - out.groups.begin());
        }
    }
    return out;
}

Lights recognise_lights(const Lights& told, const LightEvidence& e) {
    Lights out = told;
    for (std::size_t r = 0; r < e.rolls.size(); ++r) {
        const std::vector<Seen> seen = seen_on_roll(told, e, r);
        if (seen.size() < kLeastPictures) continue;
        const std::vector<Way> ways = ways_of(e.rolls[r].facts);
        std::size_t best = 0;
        std::vector<Reading> readings;
        for (const Way& way : ways) readings.push_back(read_chain(seen, way));
        for (std::size_t w = 1; w < ways.size(); ++w)
            if (readings[w].gain > readings[best].gain) best = w;
        const Reading& reading = readings[best];
        if (ways.size() > 1 && reading.gain < kUntoldGain) continue;
        double scenes = 0, probability = 0, log_odds = 0;
        for (std::size_t i = 0; i < seen.size(); ++i)
            if (reading.probability[i] > 0.5) scenes += seen[i].share, probability += seen[i].share * reading.probability[i], log_odds += reading.log_odds[i];
        if (scenes <= 0) continue;
        probability /= scenes;
        constexpr double kRounding = 1e-9;  // shares of a scene's pictures sum to 1 but for rounding
        const bool sure = std::any_of(kRules.begin(), kRules.end(), [&](const Rule& rule) {
            return scenes > rule.scenes - kRounding && probability > rule.probability && log_odds > rule.log_odds;
        });
        if (!sure) continue;
        const Vector2d shift = ways[best].other - ways[best].own;
        for (std::size_t i = 0; i < seen.size(); ++i)
            if (reading.probability[i] > 0.5) out.group_of[r][seen[i].frame] = static_cast<int>(out.groups.size());
        out.groups.push_back({r, std::nullopt, {shift.x(), shift.y()}, {}, spread_of_shift(shift), probability});
    }
    return out;
}

}  // namespace basefog::film
