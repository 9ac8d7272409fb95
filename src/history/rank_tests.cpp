// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/rank_tests.h"

#include "basefog/core/assert.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace basefog::history_room {
namespace {

// Chosen: beyond these the normal distribution differs from the exact one by less than a tenth of a small p value.
constexpr int kMostExactLine = 40, kMostExactRanks = 60;
/// Chosen: pairs kept in memory at once (512 KiB); beyond it they are counted, not kept, which is also faster then.
constexpr std::size_t kMostPairs = std::size_t{1} << 16;

int sign(double d) { return d > 0 ? 1 : d < 0 ? -1 : 0; }

/// The sum of `term(t)` over groups of t equal values.
template <class Term>
double over_ties(std::vector<double> values, Term term) {
    std::sort(values.begin(), values.end());
    double sum = 0;
    for (std::size_t i = 0; i < values.size();) {
        std::size_t j = i;
        while (j < values.size() && values[j] == values[i]) ++j;
        sum += term(static_cast<double>(j - i));
        i = j;
    }
    return sum;
}

double tie_term(double t) { return t * (t - 1) * (2 * t + 5); }
double pairs_tied(double t) { return t * (t - 1); }
double triples_tied(double t) { return t * (t - 1) * (t - 2); }

/// What one stratum adds: slopes of its pairs, S, the variance of S when order is chance, and whether x or y hold ties.
struct Kendall {
    std::vector<double> slopes;
    double s = 0, variance = 0, variance_x_ties = 0;
    double pairs = 0;  // with different x
    bool ties = false;
};

Kendall kendall(const std::vector<Point>& points) {
    Kendall k;
    const double n = static_cast<double>(points.size());
    std::vector<double> x, y;
    for (const Point& p : points) {
        x.push_back(p.x);
        y.push_back(p.y);
    }
    k.slopes.reserve(points.size() * (points.size() - std::min<std::size_t>(points.size(), 1)) / 2);
    for (std::size_t i = 0; i < points.size(); ++i)
        for (std::size_t j = i + 1; j < points.size(); ++j) {
            k.s += sign(x[j] - x[i]) * sign(y[j] - y[i]);
            if (x[j] != x[i]) k.slopes.push_back((y[j] - y[i]) / (x[j] - x[i]));
        }
    k.pairs = static_cast<double>(k.slopes.size());
    const double tx = over_ties(x, tie_term), ty = over_ties(y, tie_term), all = n * (n - 1) * (2 * n + 5);
    k.ties = tx > 0 || ty > 0;
    k.variance_x_ties = (all - tx) / 18;
    // Variance of S under chance with ties in both [Kendall1970, from memory]; scipy's kendalltau uses the same.
    k.variance = (all - tx - ty) / 18;
    if (n > 2) k.variance += over_ties(x, triples_tied) * over_ties(y, triples_tied) / (9 * n * (n - 1) * (n - 2));
    if (n > 1) k.variance += over_ties(x, pairs_tied) * over_ties(y, pairs_tied) / (2 * n * (n - 1));
    return k;
}

std::vector<double> convolved(const std::vector<double>& a, const std::vector<double>& b) {
    std::vector<double> sum(a.size() + b.size() - 1, 0.0);
    for (std::size_t i = 0; i < a.size(); ++i)
        for (std::size_t j = 0; j < b.size(); ++j) sum[i + j] += a[i] * b[j];
    return sum;
}

/// P(count <= most) of a symmetric distribution's lower tail.
double lower_tail(const std::vector<double>& probabilities, double most) {
    double sum = 0;
    for (std::size_t i = 0; i < probabilities.size() && static_cast<double>(i) <= most; ++i) sum += probabilities[i];
    return sum;
}

/// The rank (from 1) of the lower limit among sorted values: the largest M for which chance puts fewer than M of them below the truth
/// with at most (1 - level) / 2. 0: there is none.
std::size_t limit_rank(const std::vector<double>& probabilities, double level) {
    double sum = 0;
    std::size_t rank = 0;
    for (const double p : probabilities) {
        sum += p;
        if (sum > (1 - level) / 2) break;
        ++rank;
    }
    return rank;
}

std::optional<Interval> between(std::vector<double>& values, std::size_t rank) {
    if (rank == 0 || 2 * rank > values.size()) return std::nullopt;
    const auto low = values.begin() + static_cast<std::ptrdiff_t>(rank - 1), high = values.end() - static_cast<std::ptrdiff_t>(rank);
    std::nth_element(values.begin(), low, values.end());
    const double lowest = *low;
    std::nth_element(values.begin(), high, values.end());
    return Interval{lowest, *high};
}

double normal_two_sided(double s, double variance, double continuity) {
    if (!(variance > 0)) return 1;
    const double z = std::max(0.0, std::abs(s) - continuity) / std::sqrt(variance);
    return std::min(1.0, std::erfc(z / std::sqrt(2.0)));
}

}  // namespace

std::vector<double> inversion_probabilities(int n) {
    BASEFOG_ASSERT(n >= 0);
    std::vector<double> probabilities{1.0};
    for (int k = 2; k <= n; ++k) probabilities = convolved(probabilities, std::vector<double>(static_cast<std::size_t>(k), 1.0 / k));
    return probabilities;
}

std::optional<RankLine> theil_sen_within(const std::vector<std::vector<Point>>& strata, double level) {
    RankLine line;
    std::vector<double> slopes, exact{1.0};
    double s = 0, variance = 0, variance_x_ties = 0, pairs = 0;
    bool ties = false;
    for (const std::vector<Point>& points : strata) {
        line.n += static_cast<int>(points.size());
        if (points.size() < 2) continue;
        Kendall k = kendall(points);
        if (slopes.empty())
            slopes = std::move(k.slopes);
        else
            slopes.insert(slopes.end(), k.slopes.begin(), k.slopes.end());
        s += k.s;
        variance += k.variance;
        variance_x_ties += k.variance_x_ties;
        pairs += k.pairs;
        ties = ties || k.ties;
    }
    if (slopes.empty()) return std::nullopt;
    line.slope = median(slopes);
    if (!ties && line.n <= kMostExactLine) {
        for (const std::vector<Point>& points : strata) exact = convolved(exact, inversion_probabilities(static_cast<int>(points.size())));
        const double inversions = (pairs - std::abs(s)) / 2;
        line.p_value = std::min(1.0, 2 * lower_tail(exact, inversions));
        line.interval = between(slopes, limit_rank(exact, level));
    } else {
        line.p_value = normal_two_sided(s, variance, 1);
        const double c = normal_quantile(0.5 + level / 2) * std::sqrt(variance_x_ties);
        line.interval = between(slopes, static_cast<std::size_t>(std::max(0.0, std::floor((pairs + 1 - c) / 2))));
    }
    return line;
}

std::optional<RankLine> theil_sen(const std::vector<double>& x, const std::vector<double>& y, double level) {
    BASEFOG_ASSERT(x.size() == y.size());
    std::vector<Point> points;
    for (std::size_t i = 0; i < x.size(); ++i) points.push_back({x[i], y[i]});
    auto line = theil_sen_within({points}, level);
    if (!line) return std::nullopt;
    std::vector<double> rest;
    for (const Point& p : points) rest.push_back(p.y - line->slope * p.x);
    line->intercept = median(std::move(rest));
    return line;
}

namespace {

/// Twice the mean rank of each value in the joint sample: whole numbers, ties or not.
std::vector<int> doubled_ranks(const std::vector<double>& all) {
    std::map<double, std::pair<int, int>> places;  // value -> first rank, count
    std::vector<double> sorted = all;
    std::sort(sorted.begin(), sorted.end());
    for (std::size_t i = 0; i < sorted.size(); ++i) {
        const auto [at, fresh] = places.emplace(sorted[i], std::pair(static_cast<int>(i) + 1, 0));
        ++at->second.second;
    }
    std::vector<int> ranks;
    for (const double v : all) ranks.push_back(2 * places.at(v).first + places.at(v).second - 1);
    return ranks;
}

/// Number of ways (as probability) in which `take` of the ranks sum to each value, ties included: a shift algorithm over all values.
std::vector<double> sum_probabilities(const std::vector<int>& ranks, std::size_t take) {
    int most = 0;
    for (const int r : ranks) most += r;
    std::vector<std::vector<double>> ways(take + 1, std::vector<double>(static_cast<std::size_t>(most) + 1, 0.0));
    ways[0][0] = 1;
    for (const int rank : ranks)
        for (std::size_t k = take; k-- > 0;)
            for (int sum = most - rank; sum >= 0; --sum) ways[k + 1][static_cast<std::size_t>(sum + rank)] += ways[k][static_cast<std::size_t>(sum)];
    std::vector<double>& last = ways[take];
    double total = 0;
    for (const double w : last) total += w;
    for (double& w : last) w /= total;
    return std::move(last);
}

double rank_sum_p(const std::vector<double>& a, const std::vector<double>& b) {
    std::vector<double> all = a;
    all.insert(all.end(), b.begin(), b.end());
    const std::vector<int> ranks = doubled_ranks(all);
    const double n = static_cast<double>(all.size()), m = static_cast<double>(a.size()), k = static_cast<double>(b.size());
    double sum = 0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += ranks[i];
    const double expected = m * (n + 1);  // of the doubled sum
    if (n <= kMostExactRanks) {
        const std::vector<double> probabilities = sum_probabilities(ranks, a.size());
        double p = 0;
        for (std::size_t i = 0; i < probabilities.size(); ++i)
            if (std::abs(static_cast<double>(i) - expected) >= std::abs(sum - expected) - 1e-9) p += probabilities[i];
        return std::min(1.0, p);
    }
    double ties = 0;
    std::map<int, double> counts;
    for (const int r : ranks) ++counts[r];
    for (const auto& [rank, t] : counts) ties += t * t * t - t;
    const double variance = m * k / 12 * (n + 1 - ties / (n * (n - 1)));  // of the plain sum
    return normal_two_sided((sum - expected) / 2, variance, 0.5);
}

/// Number of b - a at or below `at`; both sorted.
std::size_t differences_up_to(const std::vector<double>& a, const std::vector<double>& b, double at) {
    std::size_t count = 0, j = 0;
    for (const double low : a) {
        while (j < b.size() && b[j] - low <= at) ++j;
        count += j;
    }
    return count;
}

/// The k-th smallest b - a, k from 1; both sorted.
double difference_of_rank(const std::vector<double>& a, const std::vector<double>& b, std::size_t k) {
    if (a.size() * b.size() <= kMostPairs) {
        std::vector<double> all;
        all.reserve(a.size() * b.size());
        for (const double low : a)
            for (const double high : b) all.push_back(high - low);
        std::nth_element(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(k - 1), all.end());
        return all[k - 1];
    }
    double low = b.front() - a.back(), high = b.back() - a.front();
    for (int i = 0; i < 100 && low < high; ++i) {
        const double middle = low + (high - low) / 2;
        if (middle <= low || middle >= high) break;
        (differences_up_to(a, b, middle) >= k ? high : low) = middle;
    }
    return high;
}

}  // namespace

Shift rank_sum_shift(const std::vector<double>& a, const std::vector<double>& b, double level) {
    BASEFOG_ASSERT(!a.empty() && !b.empty());
    Shift shift;
    shift.p_value = rank_sum_p(a, b);
    std::vector<double> low = a, high = b;
    std::sort(low.begin(), low.end());
    std::sort(high.begin(), high.end());
    const std::size_t pairs = a.size() * b.size();
    shift.value = (difference_of_rank(low, high, (pairs + 1) / 2) + difference_of_rank(low, high, pairs / 2 + 1)) / 2;
    std::size_t rank = 0;
    const double m = static_cast<double>(a.size()), n = static_cast<double>(b.size());
    if (m + n <= kMostExactRanks) {
        std::vector<int> ranks;  // 1, 2, 3 ...: the count of pairs is the rank sum less its least value
        for (std::size_t i = 1; i <= a.size() + b.size(); ++i) ranks.push_back(static_cast<int>(i));
        std::vector<double> sums = sum_probabilities(ranks, a.size());
        sums.erase(sums.begin(), sums.begin() + static_cast<std::ptrdiff_t>(a.size() * (a.size() + 1) / 2));
        rank = limit_rank(sums, level);
    } else {
        rank = static_cast<std::size_t>(std::max(0.0, std::floor((m * n + 1) / 2 - normal_quantile(0.5 + level / 2) * std::sqrt(m * n * (m + n + 1) / 12))));
    }
    if (rank > 0) shift.interval = Interval{difference_of_rank(low, high, rank), difference_of_rank(low, high, pairs + 1 - rank)};
    return shift;
}

int groups_needed(double p) {
    double choose = 1;  // of 2 k things, k
    for (int k = 1; k < 1000; ++k) {
        choose *= static_cast<double>(2 * k) * (2 * k - 1) / (static_cast<double>(k) * k);
        if (2 / choose < p) return k;
    }
    return 1000;
}

}  // namespace basefog::history_room
