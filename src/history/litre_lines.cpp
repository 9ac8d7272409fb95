// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/litre_lines.h"
#include "history/rank_tests.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace basefog::history_room {
namespace {

/// Chosen: a roll this many standard deviations off is set aside; of normal noise about 1 in 16,000 is.
constexpr double kFarOff = 4;
/// Chosen: fewest rolls of a session whose middle one can tell which of them is off.
constexpr std::size_t kEnoughToJudge = 3;
/// Chosen: fewest sessions that hold a line against one that is off; Theil's line bears 29 % of such points.
constexpr std::size_t kEnoughForLine = 5;

/// One session's sums over its rolls: all that the fit needs, whatever the variances.
struct Session {
    Eigen::VectorXd design_sum, cross;  // sum of z, sum of z y
    Eigen::MatrixXd square;             // sum of z z'
    double n = 0, y = 0, yy = 0;
};

/// z of a roll is 1 at its stratum, and x after the strata where a slope can be told.
struct Bath {
    std::vector<std::size_t> points;  // kept ones
    std::map<int, int> strata;        // name -> column
    std::vector<Session> sessions;
    std::map<int, std::size_t> session_index;
    bool sloped = false;
    int components = 0;  // groups of sessions that share no stratum with others
    double shift = 0;    // taken off y, against cancellation
    [[nodiscard]] Eigen::Index columns() const { return static_cast<Eigen::Index>(strata.size()) + (sloped ? 1 : 0); }
    [[nodiscard]] double spare_sessions() const { return static_cast<double>(sessions.size()) - components - (sloped ? 1 : 0); }
};

/// Does x vary within any stratum?
bool slope_can_be_told(const std::vector<RollPoint>& all, const Bath& bath) {
    std::map<int, double> first;
    for (const std::size_t i : bath.points)
        if (const auto [at, fresh] = first.emplace(all[i].stratum, all[i].x); !fresh && at->second != all[i].x) return true;
    return false;
}

/// Sessions are joined by strata they share; counts the groups.
int count_components(const std::vector<RollPoint>& all, const Bath& bath) {
    std::map<int, int> parent;  // strata >= 0, sessions < 0
    const auto root = [&](int node) {
        while (parent.at(node) != node) node = parent.at(node);
        return node;
    };
    int groups = 0;
    for (const std::size_t i : bath.points) {
        const int stratum = bath.strata.at(all[i].stratum), session = -1 - static_cast<int>(bath.session_index.at(all[i].session));
        for (const int node : {stratum, session})
            if (parent.emplace(node, node).second) ++groups;
        const int a = root(stratum), b = root(session);
        if (a != b) {
            parent[a] = b;
            --groups;
        }
    }
    return groups;
}

void sum_sessions(const std::vector<RollPoint>& all, Bath& bath) {
    double sum = 0;
    for (const std::size_t i : bath.points) {
        bath.strata.emplace(all[i].stratum, static_cast<int>(bath.strata.size()));
        bath.session_index.emplace(all[i].session, bath.session_index.size());
        sum += all[i].y;
    }
    bath.shift = bath.points.empty() ? 0 : sum / static_cast<double>(bath.points.size());
    bath.sloped = slope_can_be_told(all, bath);
    bath.components = count_components(all, bath);
    const Eigen::Index p = bath.columns();
    bath.sessions.resize(bath.session_index.size(), {Eigen::VectorXd::Zero(p), Eigen::VectorXd::Zero(p), Eigen::MatrixXd::Zero(p, p), 0, 0, 0});
    for (const std::size_t i : bath.points) {
        Session& session = bath.sessions[bath.session_index.at(all[i].session)];
        Eigen::VectorXd z = Eigen::VectorXd::Zero(p);
        z[bath.strata.at(all[i].stratum)] = 1;
        if (bath.sloped) z[p - 1] = all[i].x;
        const double y = all[i].y - bath.shift;
        session.design_sum += z;
        session.cross += z * y;
        session.square += z * z.transpose();
        session.n += 1;
        session.y += y;
        session.yy += y * y;
    }
}

/// Generalised least squares of one bath when a session's variance is `ratio` times a roll's.
struct BathFit {
    Eigen::VectorXd coefficients;
    Eigen::MatrixXd covariance;  // in units of a roll's variance
    double squares = 0;          // weighted residual sum
    double log_volume = 0;       // log |V| + log |X' V^-1 X|
};

BathFit fit_bath(const Bath& bath, double ratio, bool with_covariance) {
    const Eigen::Index p = bath.columns();
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(p, p);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(p);
    BathFit fit;
    double yy = 0;
    for (const Session& s : bath.sessions) {
        const double f = ratio / (1 + ratio * s.n);  // V^-1 of a session is I - f 1 1'
        normal += s.square;
        normal.noalias() -= (f * s.design_sum) * s.design_sum.transpose();
        right += s.cross;
        right.noalias() -= (f * s.y) * s.design_sum;
        yy += s.yy - f * s.y * s.y;
        fit.log_volume += std::log1p(ratio * s.n);
    }
    const Eigen::LDLT<Eigen::MatrixXd> solver(normal);
    fit.coefficients = solver.solve(right);
    if (with_covariance) fit.covariance = solver.solve(Eigen::MatrixXd::Identity(p, p));
    fit.squares = std::max(0.0, yy - right.dot(fit.coefficients));
    fit.log_volume += solver.vectorD().array().abs().log().sum();
    return fit;
}

struct Pooled {
    double squares = 0, minus_twice_log_likelihood = 0;
};

Pooled pool(const std::vector<Bath>& baths, double ratio, double freedom) {
    Pooled sum;
    double volume = 0;
    for (const Bath& bath : baths) {
        if (bath.points.empty()) continue;
        const BathFit fit = fit_bath(bath, ratio, false);
        sum.squares += fit.squares;
        volume += fit.log_volume;
    }
    sum.minus_twice_log_likelihood = freedom * std::log(std::max(sum.squares, 1e-300)) + volume;
    return sum;
}

/// Variance of sessions over that of rolls, by restricted maximum likelihood; 0 where sessions add nothing.
double best_ratio(const std::vector<Bath>& baths, double freedom) {
    constexpr double kLow = -9, kHigh = 7;  // Chosen: log ratio; beyond, one of the two parts is as good as absent
    constexpr int kCoarse = 12, kFine = 20;
    const auto cost = [&](double log_ratio) { return pool(baths, std::exp(log_ratio), freedom).minus_twice_log_likelihood; };
    double best = kLow, least = cost(kLow);
    const double step = (kHigh - kLow) / kCoarse;
    for (int i = 1; i <= kCoarse; ++i)
        if (const double c = cost(kLow + i * step); c < least) {
            least = c;
            best = kLow + i * step;
        }
    double low = best - step, high = best + step;
    constexpr double kGolden = 0.6180339887498949;  // Defined: (sqrt 5 - 1) / 2
    double a = high - kGolden * (high - low), b = low + kGolden * (high - low), at_a = cost(a), at_b = cost(b);
    for (int i = 0; i < kFine; ++i) {
        if (at_a < at_b) {
            high = b;
            b = a;
            at_b = at_a;
            a = high - kGolden * (high - low);
            at_a = cost(a);
        } else {
            low = a;
            a = b;
            at_a = at_b;
            b = low + kGolden * (high - low);
            at_b = cost(b);
        }
    }
    const double found = (low + high) / 2;
    return pool(baths, 0, freedom).minus_twice_log_likelihood <= cost(found) ? 0 : std::exp(found);
}

/// Medians of sessions and of strata, taken off in turn [Tukey1977]. Strata are taken over all baths: what a stock adds is nearly the same
/// in each, and few rolls of it are in one. A session's median takes the bath's line with it.
struct Polished {
    std::map<std::pair<int, int>, std::vector<std::size_t>> sessions;  // of baths
    std::vector<double> without_strata, residual;
};

Polished polish(const std::vector<RollPoint>& points) {
    constexpr int kRounds = 6;  // Chosen: changes die out after three or four
    Polished polished;
    std::map<int, std::vector<std::size_t>> strata;
    for (std::size_t i = 0; i < points.size(); ++i) {
        polished.sessions[{points[i].bath, points[i].session}].push_back(i);
        strata[points[i].stratum].push_back(i);
        polished.residual.push_back(points[i].y);
        polished.without_strata.push_back(points[i].y);
    }
    const auto take_off = [&](const std::vector<std::size_t>& members) {
        std::vector<double> values;
        for (const std::size_t i : members) values.push_back(polished.residual[i]);
        const double middle = median(std::move(values));
        for (const std::size_t i : members) polished.residual[i] -= middle;
        return middle;
    };
    for (int round = 0; round < kRounds; ++round) {
        for (const auto& [name, members] : polished.sessions) (void)take_off(members);
        for (const auto& [name, members] : strata) {
            const double middle = take_off(members);
            for (const std::size_t i : members) polished.without_strata[i] -= middle;
        }
    }
    for (const auto& [name, members] : polished.sessions) (void)take_off(members);
    return polished;
}

/// Standard deviation between rolls, from the differences within sessions: medians there would hide a part of it.
double std_within(const std::vector<RollPoint>& points, const Polished& polished) {
    std::vector<double> differences;
    for (const auto& [name, members] : polished.sessions)
        for (std::size_t a = 0; a < members.size(); ++a)
            for (std::size_t b = a + 1; b < members.size(); ++b)
                differences.push_back(std::abs(polished.without_strata[members[a]] - polished.without_strata[members[b]]));
    if (differences.empty() || points.empty()) return 0;
    constexpr double kOfDifferences = 1.482602218505602 / 1.4142135623730951;  // Defined: median |N(0, 2)| to sigma
    return kOfDifferences * median(std::move(differences));
}

/// Distance of each roll from Theil's line through its bath's sessions, strata taken off; from their middle where they are few.
std::vector<double> from_theil_lines(const std::vector<RollPoint>& points, const Polished& polished) {
    std::map<int, std::pair<std::vector<double>, std::vector<double>>> baths;
    for (const auto& [name, members] : polished.sessions) {
        std::vector<double> values;
        for (const std::size_t i : members) values.push_back(polished.without_strata[i]);
        baths[name.first].first.push_back(points[members.front()].x);
        baths[name.first].second.push_back(median(std::move(values)));
    }
    constexpr double kAnyLevel = 0.5;  // its interval is not used
    std::map<int, RankLine> lines;
    for (const auto& [bath, sessions] : baths) {
        std::optional<RankLine> line;
        if (sessions.first.size() >= kEnoughForLine) line = theil_sen(sessions.first, sessions.second, kAnyLevel);
        lines[bath] = line.value_or(RankLine{0, median(sessions.second), std::nullopt, 1, 0});
    }
    std::vector<double> distances;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const RankLine& line = lines[points[i].bath];
        distances.push_back(polished.without_strata[i] - line.intercept - line.slope * points[i].x);
    }
    return distances;
}

std::vector<bool> far_off_rolls(const std::vector<RollPoint>& points) {
    std::vector<bool> off(points.size(), false);
    if (points.empty()) return off;
    const Polished polished = polish(points);
    const double of_roll = std_within(points, polished);
    const std::vector<double> from_bath = from_theil_lines(points, polished);
    const double of_bath = robust_std(from_bath);
    constexpr double kHalfPi = 1.5707963267948966;  // Defined: variance of a median of normal values, times n
    for (const auto& [name, members] : polished.sessions) {
        const double scale = of_roll * std::sqrt(1 + kHalfPi / static_cast<double>(members.size()));
        // Of two that agree, none is off alone; of two that do not, it is the one further from the bath's line. One alone has only that line.
        const bool agree = members.size() == 2 && std::abs(polished.residual[members[0]] - polished.residual[members[1]]) <= kFarOff * std::sqrt(2.0) * of_roll;
        if (agree) continue;
        for (const std::size_t i : members) {
            if (members.size() >= kEnoughToJudge)
                off[i] = of_roll > 0 && std::abs(polished.residual[i]) > kFarOff * scale;
            else
                off[i] = of_bath > 0 && std::abs(from_bath[i]) > kFarOff * of_bath;
        }
    }
    return off;
}

LitreLine line_of(const std::vector<RollPoint>& points, const Bath& bath, const BathFit& fit, double roll_variance, double df, double quantile) {
    LitreLine line;
    line.n = static_cast<int>(bath.points.size());
    line.sessions = static_cast<int>(bath.sessions.size());
    line.df = df;
    double heights = 0;
    for (const std::size_t i : bath.points) {
        line.x_middle += points[i].x / line.n;
        heights += fit.coefficients[bath.strata.at(points[i].stratum)] / line.n;
    }
    line.y_middle = heights + bath.shift;
    if (!bath.sloped) return line;
    const Eigen::Index last = bath.columns() - 1;
    line.slope = fit.coefficients[last];
    line.y_middle += *line.slope * line.x_middle;
    line.std_error = std::sqrt(std::max(0.0, roll_variance * fit.covariance(last, last)));
    if (!(df >= 1)) return line;
    const double reach = quantile * line.std_error;
    line.interval = Interval{*line.slope - reach, *line.slope + reach};
    line.p_value = line.std_error > 0 ? student_two_sided(*line.slope / line.std_error, df) : 1;
    return line;
}

}  // namespace

LitreLines fit_litre_lines(const std::vector<RollPoint>& points, int bath_count, double level) {
    LitreLines result;
    result.lines.resize(static_cast<std::size_t>(bath_count));
    result.set_aside = far_off_rolls(points);
    std::vector<Bath> baths(static_cast<std::size_t>(bath_count));
    for (std::size_t i = 0; i < points.size(); ++i)
        if (!result.set_aside[i]) baths[static_cast<std::size_t>(points[i].bath)].points.push_back(i);
    double freedom = 0;
    for (Bath& bath : baths) {
        sum_sessions(points, bath);
        freedom += static_cast<double>(bath.points.size()) - static_cast<double>(bath.columns());
        result.df += std::max(0.0, bath.spare_sessions());
    }
    const double ratio = freedom >= 1 ? best_ratio(baths, freedom) : 0;
    const double roll_variance = freedom >= 1 ? pool(baths, ratio, freedom).squares / freedom : 0;
    result.roll_std = std::sqrt(roll_variance);
    result.session_std = std::sqrt(ratio * roll_variance);
    const double quantile = result.df >= 1 ? student_quantile(0.5 + level / 2, result.df) : 0;
    std::vector<Eigen::VectorXd> coefficients(baths.size());
    for (std::size_t b = 0; b < baths.size(); ++b) {
        if (baths[b].points.empty()) continue;
        const BathFit fit = fit_bath(baths[b], ratio, true);
        result.lines[b] = line_of(points, baths[b], fit, roll_variance, result.df, quantile);
        coefficients[b] = fit.coefficients;
    }
    for (const RollPoint& point : points) {
        const Bath& bath = baths[static_cast<std::size_t>(point.bath)];
        const LitreLine& line = result.lines[static_cast<std::size_t>(point.bath)];
        const auto column = bath.strata.find(point.stratum);
        const double own = column == bath.strata.end() ? point.y : coefficients[static_cast<std::size_t>(point.bath)][column->second] + bath.shift;
        result.levelled.push_back(column == bath.strata.end() ? point.y : point.y - own + line.y_middle - line.slope.value_or(0) * line.x_middle);
    }
    return result;
}

}  // namespace basefog::history_room
