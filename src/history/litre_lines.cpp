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

/// Chosen: a roll this many standard deviations off is set aside; of normal noise 1 in 16,000 is.
constexpr double kFarOff = 4;
/// Chosen: fewest rolls of a session whose middle one can tell which of them is off.
constexpr std::size_t kEnoughToJudge = 3;

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

BathFit fit_bath(const Bath& bath, double ratio) {
    const Eigen::Index p = bath.columns();
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(p, p);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(p);
    BathFit fit;
    double yy = 0;
    for (const Session& s : bath.sessions) {
        const double f = ratio / (1 + ratio * s.n);  // V^-1 of a session is I - f 1 1'
        normal += s.square - f * s.design_sum * s.design_sum.transpose();
        right += s.cross - f * s.design_sum * s.y;
        yy += s.yy - f * s.y * s.y;
        fit.log_volume += std::log1p(ratio * s.n);
    }
    const Eigen::LDLT<Eigen::MatrixXd> solver(normal);
    fit.coefficients = solver.solve(right);
    fit.covariance = solver.solve(Eigen::MatrixXd::Identity(p, p));
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
        const BathFit fit = fit_bath(bath, ratio);
        sum.squares += fit.squares;
        volume += fit.log_volume;
    }
    sum.minus_twice_log_likelihood = freedom * std::log(std::max(sum.squares, 1e-300)) + volume;
    return sum;
}

/// Variance of sessions over that of rolls, by restricted maximum likelihood; 0 where sessions add nothing.
double best_ratio(const std::vector<Bath>& baths, double freedom) {
    constexpr double kLow = -9, kHigh = 7;  // Chosen: log ratio; beyond, one of the two parts is as good as absent
    constexpr int kCoarse = 16, kFine = 30;
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

/// Distances from Theil's line of each bath, every stratum at the height of its middle roll.
std::vector<double> first_residuals(const std::vector<RollPoint>& points, int baths, double level) {
    std::vector<double> residuals(points.size(), 0.0);
    std::vector<std::map<int, std::vector<std::size_t>>> strata(static_cast<std::size_t>(baths));
    for (std::size_t i = 0; i < points.size(); ++i) strata[static_cast<std::size_t>(points[i].bath)][points[i].stratum].push_back(i);
    for (const auto& of_bath : strata) {
        std::vector<std::vector<Point>> groups;
        for (const auto& [name, members] : of_bath) {
            auto& group = groups.emplace_back();
            for (const std::size_t i : members) group.push_back({points[i].x, points[i].y});
        }
        const auto line = theil_sen_within(groups, level);
        const double slope = line ? line->slope : 0;
        for (const auto& [name, members] : of_bath) {
            std::vector<double> rest;
            for (const std::size_t i : members) rest.push_back(points[i].y - slope * points[i].x);
            const double height = median(rest);
            for (std::size_t k = 0; k < members.size(); ++k) residuals[members[k]] = rest[k] - height;
        }
    }
    return residuals;
}

std::vector<bool> far_off_rolls(const std::vector<RollPoint>& points, const std::vector<double>& residuals) {
    std::map<std::pair<int, int>, std::vector<std::size_t>> sessions;
    for (std::size_t i = 0; i < points.size(); ++i) sessions[{points[i].bath, points[i].session}].push_back(i);
    std::vector<double> inner;
    std::vector<double> distance = residuals;
    for (const auto& [name, members] : sessions) {
        if (members.size() < kEnoughToJudge) continue;
        std::vector<double> values;
        for (const std::size_t i : members) values.push_back(residuals[i]);
        const double middle = median(values);
        for (const std::size_t i : members) {
            distance[i] = residuals[i] - middle;
            inner.push_back(distance[i]);
        }
    }
    std::vector<bool> off(points.size(), false);
    if (points.empty()) return off;
    const double of_session = inner.empty() ? 0 : robust_std(inner), of_line = robust_std(residuals);
    for (const auto& [name, members] : sessions) {
        const double scale = members.size() < kEnoughToJudge ? of_line : of_session;
        for (const std::size_t i : members) off[i] = scale > 0 && std::abs(distance[i]) > kFarOff * scale;
    }
    return off;
}

LitreLine line_of(const std::vector<RollPoint>& points, const Bath& bath, const BathFit& fit, double roll_variance, double df, double level) {
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
    const double reach = student_quantile(0.5 + level / 2, df) * line.std_error;
    line.interval = Interval{*line.slope - reach, *line.slope + reach};
    line.p_value = line.std_error > 0 ? student_two_sided(*line.slope / line.std_error, df) : 1;
    return line;
}

}  // namespace

LitreLines fit_litre_lines(const std::vector<RollPoint>& points, int bath_count, double level) {
    LitreLines result;
    result.lines.resize(static_cast<std::size_t>(bath_count));
    result.set_aside = far_off_rolls(points, first_residuals(points, bath_count, level));
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
    std::vector<Eigen::VectorXd> coefficients(baths.size());
    for (std::size_t b = 0; b < baths.size(); ++b) {
        if (baths[b].points.empty()) continue;
        const BathFit fit = fit_bath(baths[b], ratio);
        result.lines[b] = line_of(points, baths[b], fit, roll_variance, result.df, level);
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
