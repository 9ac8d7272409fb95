// SPDX-License-Identifier: GPL-3.0-or-later
#include "shot_falloff.h"

#include "robust.h"

#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::frames {
namespace {

/// Logarithms of light. A hole's own scatter, by dust and blur; a place's, by registration and grain; what a lamp and a lens do, before anything was seen.
/// Chosen.
constexpr double kHoleStd = 0.01, kPlaceStd = 0.03, kOverlapStd = 0.1, kUsualTilt = 0.05, kUsualSquare = 0.5, kUsualFourth = 0.3, kUsualLevel = 1.0;
constexpr double kHeld = 3;  // residuals beyond so many deviations are held back
constexpr std::size_t kLeastHoles = 10, kLeastPlaces = 100;
constexpr int kRounds = 12;
constexpr Eigen::Index kTerms = 4;

using Terms = Eigen::Matrix<double, kTerms, 1>;

Terms terms_at(PointPx p, std::int64_t width, std::int64_t height) {
    const std::array<double, 4> t = ShotFalloff::terms(p, width, height);
    return {t[0], t[1], t[2], t[3]};
}

bool is_told(const Rgb<double>& light) { return light.r > 0 && light.g > 0 && light.b > 0; }

/// One equation: the terms' and the shots' share of it.
struct Row {
    Terms terms;
    Eigen::Index plus = 0, minus = -1;  ///< shots
    double value = 0, std = 1;
};

std::vector<Row> rows_of(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, int c, std::int64_t width, std::int64_t height) {
    std::vector<Row> rows;
    for (std::size_t i = 0; i < holes.size(); ++i)
        for (std::size_t k = 0; k < holes[i].light.size(); ++k)
            if (is_told(holes[i].light[k]))
                rows.push_back({terms_at(holes[i].at[k], width, height), static_cast<Eigen::Index>(i), -1, std::log(holes[i].light[k][c]), kHoleStd});
    for (std::size_t m = 0; m < matches.size(); ++m) {
        // Where nothing better ties the two: what they share, wherever it lies on them.
        rows.push_back({Terms::Zero(), static_cast<Eigen::Index>(m + 1), static_cast<Eigen::Index>(m), std::log(matches[m].level[c]), kOverlapStd});
        for (const ShotMatch::Place& place : matches[m].places)
            rows.push_back({terms_at(place.second, width, height) - terms_at(place.first, width, height), static_cast<Eigen::Index>(m + 1),
                            static_cast<Eigen::Index>(m), std::log(place.ratio[c]), kPlaceStd});
    }
    return rows;
}

struct Solved {
    Eigen::VectorXd x;
    Eigen::MatrixXd covariance;
};

/// Unknowns: the four terms and each shot's level, which is bare light's in its middle; of film only differences of levels are told.
Solved solve(const std::vector<Row>& rows, Eigen::Index shots) {
    const Eigen::Index size = kTerms + shots;
    Eigen::VectorXd x = Eigen::VectorXd::Zero(size);
    Eigen::MatrixXd normal;
    const std::array<double, kTerms> usual{kUsualTilt, kUsualTilt, kUsualSquare, kUsualFourth};
    for (int round = 0; round < kRounds; ++round) {
        normal = Eigen::MatrixXd::Zero(size, size);
        Eigen::VectorXd right = Eigen::VectorXd::Zero(size);
        for (Eigen::Index k = 0; k < kTerms; ++k) normal(k, k) += 1 / (usual[static_cast<std::size_t>(k)] * usual[static_cast<std::size_t>(k)]);
        for (Eigen::Index s = 0; s < shots; ++s) normal(kTerms + s, kTerms + s) += 1 / (kUsualLevel * kUsualLevel);
        for (const Row& row : rows) {
            Eigen::VectorXd a = Eigen::VectorXd::Zero(size);
            a.head<kTerms>() = row.terms;
            a[kTerms + row.plus] += 1;
            if (row.minus >= 0) a[kTerms + row.minus] -= 1;
            const double off = (row.value - a.dot(x)) / row.std, held = round == 0 ? 1 : 1 + off * off / (kHeld * kHeld),
                         w = 1 / (held * held * row.std * row.std);
            normal.selfadjointView<Eigen::Lower>().rankUpdate(a, w);
            right += w * row.value * a;
        }
        normal = normal.selfadjointView<Eigen::Lower>();
        x = normal.ldlt().solve(right);
    }
    return {std::move(x), normal.ldlt().solve(Eigen::MatrixXd::Identity(size, size))};
}

}  // namespace

std::optional<FittedFalloff> fit_falloff(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, std::int64_t width, std::int64_t height) {
    std::size_t bare = 0, places = 0;
    for (const ShotHoles& h : holes) bare += static_cast<std::size_t>(std::count_if(h.light.begin(), h.light.end(), is_told));
    for (const ShotMatch& m : matches) places += m.places.size();
    if (bare < kLeastHoles && places < kLeastPlaces) return std::nullopt;
    FittedFalloff out;
    out.levels.assign(holes.size(), Rgb<double>{1, 1, 1});
    const Terms corner = terms_at({0, 0}, width, height);
    for (int c = 0; c < 3; ++c) {
        const auto shots = static_cast<Eigen::Index>(holes.size());
        const Solved solved = solve(rows_of(holes, matches, c, width, height), shots);
        for (std::size_t k = 0; k < 4; ++k) out.falloff.factor[static_cast<std::size_t>(c)][k] = solved.x[static_cast<Eigen::Index>(k)];
        out.std_log10 = std::max(out.std_log10, std::sqrt(corner.dot(solved.covariance.topLeftCorner<kTerms, kTerms>() * corner)) / std::log(10.0));
        std::vector<double> levels(solved.x.data() + kTerms, solved.x.data() + solved.x.size());
        const double middle = median(levels);
        for (std::size_t i = 0; i < levels.size(); ++i) out.levels[i][c] = std::exp(levels[i] - middle);
    }
    return out;
}

}  // namespace basefog::frames
