// SPDX-License-Identifier: GPL-3.0-or-later
#include "strip_cells.h"

#include "constants.h"
#include "robust.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

constexpr double kHundredMm = 100;

std::array<double, 4> base_terms(double u, double v) { return {1, u / kHundredMm, u * u / (kHundredMm * kHundredMm), v / kHundredMm}; }

/// Mean light of one cell: nearest pixels on a grid fine enough to touch each.
bool cell_light(const Overview& overview, const Pose& pose, double u, double v, double side, int looks, std::array<float, 3>& out) {
    out = {};
    const std::int64_t w = overview.pixels.width(), h = overview.pixels.height();
    for (int j = 0; j < looks; ++j) {
        for (int i = 0; i < looks; ++i) {
            const PointPx p = pose.px_from_mm(u + ((i + 0.5) / looks - 0.5) * side, v + ((j + 0.5) / looks - 0.5) * side);
            const auto x = static_cast<std::int64_t>(std::floor(p.x)), y = static_cast<std::int64_t>(std::floor(p.y));
            if (x < 0 || y < 0 || x >= w || y >= h) return false;
            const std::array<float, 3> light = clean_light(overview.pixels(x, y));
            for (int c = 0; c < 3; ++c) out[c] += light[c];
        }
    }
    for (float& v1 : out) v1 /= static_cast<float>(looks * looks);
    return true;
}

/// How far the scanner's spread reaches at an edge, mm.
double edge_keep(const Pose& pose) { return std::max(kEdgeKeepMm, kEdgeKeepPx / pose.px_per_mm()); }

/// Cells next to bare light hold part of it.
void keep_clear_of_bare(StripCells& cells) {
    const int reach = static_cast<int>(std::ceil(edge_keep(cells.pose) / cells.side));
    const std::vector<Cell> before = cells.kind;
    for (int iv = 0; iv < cells.nv; ++iv) {
        for (int iu = 0; iu < cells.nu; ++iu) {
            if (before[cells.index(iu, iv)] != Cell::bare) continue;
            for (int y = std::max(0, iv - reach); y <= std::min(cells.nv - 1, iv + reach); ++y) {
                for (int x = std::max(0, iu - reach); x <= std::min(cells.nu - 1, iu + reach); ++x) {
                    Cell& kind = cells.kind[cells.index(x, y)];
                    if (kind == Cell::film) kind = Cell::unseen;
                }
            }
        }
    }
}

/// The lowest density at which many cells agree: the first peak of a smoothed histogram that is one, not its highest.
double clearest_level(const std::vector<float>& densities) {
    // Chosen: a cell's noise is 0.003 to 0.02; rims of holes reach far below base but thinly; base fills at least a fiftieth.
    constexpr double kBin = 0.004, kWindow = 0.8, kPeakShare = 0.015;
    constexpr int kSmooth = 3;
    std::vector<float> sorted = densities;
    const auto low = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 200);
    std::nth_element(sorted.begin(), low, sorted.end());
    const double from = *low - 10 * kBin;
    const int n = static_cast<int>(kWindow / kBin) + 10;
    std::vector<double> counts(static_cast<std::size_t>(n), 0.0), smooth(counts);
    for (const float d : densities) {
        const int bin = static_cast<int>(std::floor((d - from) / kBin));
        if (bin >= 0 && bin < n) ++counts[static_cast<std::size_t>(bin)];
    }
    for (int i = 0; i < n; ++i) {
        for (int k = -kSmooth; k <= kSmooth; ++k) {
            if (i + k >= 0 && i + k < n) smooth[static_cast<std::size_t>(i)] += counts[static_cast<std::size_t>(i + k)] * (1 - std::abs(k) / (kSmooth + 1.0));
        }
    }
    const double enough = kPeakShare * static_cast<double>(densities.size());
    for (int i = 1; i + 1 < n; ++i) {
        const auto k = static_cast<std::size_t>(i);
        if (smooth[k] > enough && smooth[k] >= smooth[k - 1] && smooth[k] > smooth[k + 1]) return from + (i + 0.5) * kBin;
    }
    return from + kBin * (0.5 + static_cast<double>(std::max_element(smooth.begin(), smooth.end()) - smooth.begin()));
}

void fill_above(StripCells& cells) {
    const BaseLevel& base = cells.base;
    for (int iu = 0; iu < cells.nu; ++iu) {
        const double damping = cells.damping(iu), u = cells.u_of(iu);
        for (int iv = 0; iv < cells.nv; ++iv) {
            const std::size_t i = cells.index(iu, iv);
            double y = 0;
            for (int c = 0; c < 3; ++c) y += base.weight[c] * (cells.density[i][c] - base.at(c, u, cells.v_of(iv)));
            cells.above[i] = static_cast<float>(damping * y);
        }
    }
}

}  // namespace

double BaseLevel::at(int channel, double u, double v) const {
    const std::array<double, 4> t = base_terms(u, v);
    const auto& k = terms[static_cast<std::size_t>(channel)];
    return k[0] * t[0] + k[1] * t[1] + k[2] * t[2] + k[3] * t[3] + fog.at(channel, u);
}

double BaseLevel::fog_at(double u) const { return weight[0] * fog.at(0, u) + weight[1] * fog.at(1, u) + weight[2] * fog.at(2, u); }

double Fog::at(int channel, double u) const {
    if (density.empty()) return 0;
    const double x = std::clamp((u - u_first) / side - 0.5, 0.0, static_cast<double>(density.size() - 1));
    const auto i = static_cast<std::size_t>(x), next = std::min(i + 1, density.size() - 1);
    return density[i][channel] + (x - static_cast<double>(i)) * (density[next][channel] - density[i][channel]);
}

double StripCells::damping(int iu) const { return base.fog.density.empty() ? 1 : std::pow(10, -0.5 * base.fog_at(u_of(iu))); }

StripCells sample_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const Pose& pose) {
    constexpr double kAroundMm = 2;
    StripCells cells;
    cells.pose = pose;
    cells.side = kCellMm;
    cells.u_first = place.u0 - kAroundMm;
    cells.v_first = place.v0 - kAroundMm;
    cells.nu = static_cast<int>(std::ceil((place.length() + 2 * kAroundMm) / cells.side));
    cells.nv = static_cast<int>(std::ceil((place.width() + 2 * kAroundMm) / cells.side));
    const std::size_t n = cells.index(0, cells.nv);
    cells.kind.assign(n, Cell::unseen);
    cells.density.assign(n, {});
    const int looks = std::max(1, static_cast<int>(std::ceil(pose.px_per_mm() * cells.side)));
    const double keep = edge_keep(pose);
    std::array<float, 3> mean{};
    for (int iv = 0; iv < cells.nv; ++iv) {
        for (int iu = 0; iu < cells.nu; ++iu) {
            const double u = cells.u_of(iu), v = cells.v_of(iv);
            const PointPx px = pose.px_from_mm(u, v), mm = place.pose.mm_from_px(px);
            if (!cell_light(overview, pose, u, v, cells.side, looks, mean)) continue;
            const std::size_t i = cells.index(iu, iv);
            cells.density[i] = light.density(mean, px.x, px.y);
            const Shade shade = light.shade(cells.density[i]);
            if (shade == Shade::bare) cells.kind[i] = Cell::bare;
            const bool inside = mm.x > place.u0 + keep && mm.x < place.u1 - keep && mm.y > place.v0 + keep && mm.y < place.v1 - keep;
            if (inside && shade != Shade::bare) cells.kind[i] = Cell::film;
        }
    }
    keep_clear_of_bare(cells);
    return cells;
}

void measure_base(StripCells& cells) {
    std::vector<float> sums;
    for (std::size_t i = 0; i < cells.kind.size(); ++i) {
        if (cells.kind[i] == Cell::film) sums.push_back((cells.density[i][0] + cells.density[i][1] + cells.density[i][2]) / 3);
    }
    BaseLevel& base = cells.base;
    base = {};
    base.weight = {1.0 / 3, 1.0 / 3, 1.0 / 3};
    cells.above.assign(cells.kind.size(), 0.0F);
    if (sums.size() < 500) return;
    const double level = clearest_level(sums);

    // First look: the mean density near the level. Then per channel, tighter each time, with less room above
    // than below: blacks of a picture lie just above base, nothing lies under it.
    bool first = true;
    double low = 0.03, high = 0.02;
    for (int pass = 0; pass < 4; ++pass) {
        Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
        std::array<Eigen::Vector4d, 3> right{Eigen::Vector4d::Zero(), Eigen::Vector4d::Zero(), Eigen::Vector4d::Zero()};
        std::array<std::vector<double>, 3> off;
        std::size_t used = 0;
        for (int iv = 0; iv < cells.nv; ++iv) {
            for (int iu = 0; iu < cells.nu; ++iu) {
                const std::size_t i = cells.index(iu, iv);
                if (cells.kind[i] != Cell::film) continue;
                const auto& d = cells.density[i];
                const double u = cells.u_of(iu), v = cells.v_of(iv);
                double r = (d[0] + d[1] + d[2]) / 3 - level;
                if (!first) r = (d[0] - base.at(0, u, v) + d[1] - base.at(1, u, v) + d[2] - base.at(2, u, v)) / 3;
                if (r < -low || r > high) continue;
                ++used;
                const std::array<double, 4> t = base_terms(u, v);
                const Eigen::Map<const Eigen::Vector4d> tv(t.data());
                normal += tv * tv.transpose();
                for (int c = 0; c < 3; ++c) {
                    right[c] += tv * static_cast<double>(d[c]);
                    if (!first) off[c].push_back(d[c] - base.at(c, u, v));
                }
            }
        }
        if (used < 100) break;
        for (int k = 1; k < 4; ++k) normal(k, k) += 0.02 * static_cast<double>(used);  // a pull towards an even base
        for (int c = 0; c < 3; ++c) {
            const Eigen::Vector4d solved = normal.ldlt().solve(right[c]);
            for (int k = 0; k < 4; ++k) base.terms[c][static_cast<std::size_t>(k)] = solved(k);
            if (!first) base.noise[c] = std::max(0.002, spread(off[c], median(off[c])));
        }
        base.share = static_cast<double>(used) / static_cast<double>(sums.size());
        if (!first) {
            const double mean_noise = (base.noise[0] + base.noise[1] + base.noise[2]) / 3;
            low = std::max(0.015, 3 * mean_noise);
            high = std::max(0.008, 1.5 * mean_noise);
        }
        first = false;
    }
    double sum = 0;
    for (int c = 0; c < 3; ++c) sum += base.weight[c] = 1 / std::pow(std::max(0.002, base.noise[c]), 2);
    for (double& w : base.weight) w /= sum;
    fill_above(cells);
}

void set_fog(StripCells& cells, std::vector<std::array<float, 3>> fog) {
    cells.base.fog = {cells.u_first, cells.side, std::move(fog)};
    fill_above(cells);
}

}  // namespace basefog::frames
