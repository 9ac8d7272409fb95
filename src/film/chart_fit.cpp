// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/chart_fit.h"

#include "film/curves.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/LU>
#include <unsupported/Eigen/LevenbergMarquardt>
#include <unsupported/Eigen/NumericalDiff>

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

/// One sigma of a patch's colour, in CIE94 units: the print's edition, gloss, the light's own colour over the chart; lightness is less sure. Chosen.
constexpr double kColourStd = 1.5, kLightnessStd = 2.0;
/// Beyond this many sigma a patch pulls no harder. Chosen: a fingerprint or a reflection may lie on one.
constexpr double kHuber = 2.5;
/// One sigma of the off-diagonal shares: of the natural logarithm where a share is worth naming, else of the share. Chosen.
constexpr double kShareLogStd = 0.5, kLeastShareStd = 0.04, kNamedShare = 0.05;
/// One sigma of the layers' overlap about what is assumed. Chosen: half of the assumed overlap's own size and what interlayer effects add.
constexpr double kOverlapStd = 0.08;
/// Of a chart: common slope; red's and blue's speed beside green's; unevenness of its light from edge to edge, log10 H; veil over it, as a share of white.
/// Chosen.
constexpr double kStretchPrior = 0.20, kSpeedPrior = 0.15, kUnevenPrior = 0.04, kVeilPrior = 0.004;
constexpr int kPerChart = 7;  // stretch, level, red, blue, uneven across, uneven down, veil
constexpr int kCommon = 12;
constexpr std::size_t kLeastPatches = 16;

struct Patch {
    std::size_t chart = 0, index = 0;
    std::array<double, 3> density{};
};

std::array<double, 3> lab_of(const Eigen::Vector3d& rgb) {
    // Linear sRGB to XYZ over the white D65 [IEC61966-2-1].
    static const Eigen::Matrix3d to_xyz = [] {
        Eigen::Matrix3d m;
        m << 0.4123908, 0.3575843, 0.1804808, 0.2126390, 0.7151687, 0.0721923, 0.0193308, 0.1191948, 0.9505322;
        const Eigen::Vector3d white = m.rowwise().sum();
        for (int i = 0; i < 3; ++i) m.row(i) /= white(i);
        return m;
    }();
    const Eigen::Vector3d xyz = to_xyz * rgb;
    const auto f = [](double t) { return t > 0.008856451679 ? std::cbrt(t) : t * 7.787037037 + 16.0 / 116; };  // [CIE15]
    const double x = f(xyz(0)), y = f(xyz(1)), z = f(xyz(2));
    return {116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

/// The problem in normed unknowns: each counts its own prior sigmas from the prior's mean.
class Charts {
public:
    using Scalar = double;
    using InputType = VectorXd;
    using ValueType = VectorXd;
    using JacobianType = Eigen::MatrixXd;
    using QRSolver = Eigen::ColPivHouseholderQR<JacobianType>;
    enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };

    Charts(std::span<const ChartReading> charts, std::span<const FilmModel> models, const ShareFit& prior, const Matrix3& scene_prior)
        : charts_(charts), models_(models), prior_(prior.share), scene_prior_(scene_prior) {
        for (std::size_t c = 0; c < charts.size(); ++c)
            for (std::size_t i = 0; i < kPatches; ++i)
                if (charts[c].density[i]) patches_.push_back({c, i, *charts[c].density[i]});
        for (std::size_t i = 0; i < kPatches; ++i) {
            const Triple& l = chart_light()[i];
            target_[i] = lab_of({l[0], l[1], l[2]});
        }
        for (const ChartReading& c : charts) curves_.push_back(tabulate(models[c.roll].curves));
    }
    [[nodiscard]] int inputs() const { return kCommon + kPerChart * static_cast<int>(charts_.size()); }
    [[nodiscard]] int values() const { return 3 * static_cast<int>(patches_.size()) + inputs(); }
    [[nodiscard]] std::size_t patches() const { return patches_.size(); }

    [[nodiscard]] Mix share(const VectorXd& x) const {
        Mix out = prior_;
        Index at = 0;
        for (std::size_t c = 0; c < 3; ++c) {
            double others = 0;
            for (std::size_t l = 0; l < 3; ++l) {
                if (l == c) continue;
                out[c][l] = prior_[c][l] > kNamedShare ? prior_[c][l] * std::exp(kShareLogStd * x(at)) : prior_[c][l] + kLeastShareStd * x(at);
                others += out[c][l];
                ++at;
            }
            out[c][c] = 1 - others;
        }
        return out;
    }
    [[nodiscard]] Matrix3 overlap(const VectorXd& x) const {
        Matrix3 out = scene_prior_;
        Index at = 6;
        for (std::size_t c = 0; c < 3; ++c) {
            double others = 0;
            for (std::size_t l = 0; l < 3; ++l)
                if (l != c) out[c][l] += kOverlapStd * x(at++), others += out[c][l];
            out[c][c] = 1 - others;
        }
        return out;
    }
    [[nodiscard]] double stretch(const VectorXd& x, std::size_t chart) const { return kStretchPrior * x(at(chart)); }
    [[nodiscard]] static Index at(std::size_t chart) { return kCommon + kPerChart * static_cast<Index>(chart); }

    int operator()(const VectorXd& x, VectorXd& out) const {
        const std::vector<std::array<double, 3>> seen = colours(x);
        Index k = 0;
        for (std::size_t p = 0; p < patches_.size(); ++p) {
            const auto& want = target_[patches_[p].index];
            const std::array<double, 3> off{(seen[p][0] - want[0]) / kLightnessStd, (seen[p][1] - want[1]) / (kColourStd * chroma_weight(want)),
                                            (seen[p][2] - want[2]) / (kColourStd * chroma_weight(want))};
            const double size = std::sqrt(off[0] * off[0] + off[1] * off[1] + off[2] * off[2]);
            // The square of what is handed over grows as Huber's law has it.
            const double pull = size > kHuber ? std::sqrt(2 * kHuber * size - kHuber * kHuber) / size : 1.0;
            for (const double v : off) out(k++) = v * pull;
        }
        for (Index i = 0; i < x.size(); ++i) out(k++) = is_level(i) ? 1e-3 * x(i) : x(i);
        return 0;
    }
    /// Mean colour difference of the patches, lightness left out; the middle four fifths.
    [[nodiscard]] double residual(const VectorXd& x) const {
        const auto seen = colours(x);
        std::vector<double> off;
        for (std::size_t p = 0; p < patches_.size(); ++p) {
            const auto& want = target_[patches_[p].index];
            off.push_back(std::hypot(seen[p][1] - want[1], seen[p][2] - want[2]) / chroma_weight(want));
        }
        std::sort(off.begin(), off.end());
        const std::size_t n = off.size() - off.size() / 10;
        double sum = 0;
        for (std::size_t i = 0; i < n; ++i) sum += off[i];
        return sum / static_cast<double>(n);
    }

private:
    static bool is_level(Index i) { return i >= kCommon && (i - kCommon) % kPerChart == 1; }
    static double chroma_weight(const std::array<double, 3>& lab) { return 1 + 0.045 * std::hypot(lab[1], lab[2]); }  // CIE94's S_C

    [[nodiscard]] std::vector<std::array<double, 3>> colours(const VectorXd& x) const {
        const Mix mix = share(x);
        const Matrix3 m = overlap(x);
        std::vector<Matrix3> dyes;
        for (const ChartReading& c : charts_) dyes.push_back(inverse(channel_from_dye(mix, models_[c.roll].curves)));
        std::vector<std::array<double, 3>> out;
        for (const Patch& p : patches_) {
            const FilmModel& model = models_[charts_[p.chart].roll];
            const Index a = at(p.chart);
            const double column = (static_cast<double>(p.index % kChartColumns) - 2.5) / 5, row = (static_cast<double>(p.index / kChartColumns) - 1.5) / 3;
            const double common = 0.5 * x(a + 1) + kUnevenPrior * (x(a + 4) * column + x(a + 5) * row);
            const std::array<double, 3> own{kSpeedPrior * x(a + 2), 0.0, kSpeedPrior * x(a + 3)};
            Eigen::Vector3d e;
            for (int l = 0; l < 3; ++l) {
                const auto k = static_cast<std::size_t>(l);
                const auto& d = dyes[p.chart][k];
                const double h = curves_[p.chart][k].exposure(d[0] * p.density[0] + d[1] * p.density[1] + d[2] * p.density[2]);
                const double true_h = (h - kToe) * (1 + stretch(x, p.chart)) + kToe;
                e(l) = 0.18 * std::pow(10.0, true_h - model.balance[l].value() + common + own[k]) - kVeilPrior * x(a + 6);
            }
            Eigen::Vector3d scene;
            for (int i = 0; i < 3; ++i) {
                const auto& r = m[static_cast<std::size_t>(i)];
                scene(i) = r[0] * e(0) + r[1] * e(1) + r[2] * e(2);
            }
            out.push_back(lab_of(scene));
        }
        return out;
    }

    std::span<const ChartReading> charts_;
    std::span<const FilmModel> models_;
    Mix prior_;
    Matrix3 scene_prior_;
    std::vector<std::array<CurveTable, 3>> curves_;
    std::vector<Patch> patches_;
    std::array<std::array<double, 3>, kPatches> target_{};
};

/// Where to start: the level and speeds at which the greys come out right under what is assumed.
void start_levels(VectorXd& x, std::span<const ChartReading> charts, std::span<const FilmModel> models) {
    for (std::size_t c = 0; c < charts.size(); ++c) {
        const FilmModel& model = models[charts[c].roll];
        const auto curves = tabulate(model.curves);
        std::array<std::vector<double>, 3> off;
        for (std::size_t i = kFirstGrey; i < kPatches; ++i) {
            if (!charts[c].density[i]) continue;
            const Triple& d = *charts[c].density[i];
            for (std::size_t l = 0; l < 3; ++l) {
                const auto& row = model.dye_from_channel[l];
                const double h = curves[l].exposure(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]) - model.balance[static_cast<int>(l)].value();
                off[l].push_back(std::log10(chart_light()[i][l] / 0.18) - h);
            }
        }
        if (off[0].empty()) continue;
        for (auto& v : off) std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
        const auto middle = [&](std::size_t l) { return off[l][off[l].size() / 2]; };
        const Index a = Charts::at(c);
        x(a + 1) = middle(1) / 0.5;
        x(a + 2) = (middle(0) - middle(1)) / kSpeedPrior;
        x(a + 3) = (middle(2) - middle(1)) / kSpeedPrior;
    }
}

}  // namespace

std::optional<ChartFit> fit_charts(std::span<const ChartReading> charts, std::span<const FilmModel> models, const ShareFit& prior, const Matrix3& scene_prior) {
    if (charts.empty()) return std::nullopt;
    const Charts problem(charts, models, prior, scene_prior);
    if (problem.patches() < kLeastPatches) return std::nullopt;
    VectorXd x = VectorXd::Zero(problem.inputs());
    start_levels(x, charts, models);
    Eigen::NumericalDiff<Charts> with_slopes(problem);
    Eigen::LevenbergMarquardt<Eigen::NumericalDiff<Charts>> solver(with_slopes);
    solver.setMaxfev(200 * problem.inputs());
    solver.minimize(x);
    if (!x.allFinite()) return std::nullopt;
    ChartFit fit{.share = problem.share(x), .scene_from_layer = problem.overlap(x), .stretch = {}, .stretch_std = {}, .residual = problem.residual(x)};
    if (!each_sees_its_own(fit.share)) return std::nullopt;
    Eigen::MatrixXd jacobian(problem.values(), problem.inputs());
    with_slopes.df(x, jacobian);
    const Eigen::MatrixXd covariance = (jacobian.transpose() * jacobian).ldlt().solve(Eigen::MatrixXd::Identity(x.size(), x.size()));
    for (std::size_t c = 0; c < charts.size(); ++c) {
        fit.stretch.push_back(problem.stretch(x, c));
        fit.stretch_std.push_back(kStretchPrior * std::sqrt(std::max(covariance(Charts::at(c), Charts::at(c)), 0.0)));
    }
    return fit;
}

}  // namespace basefog::film
