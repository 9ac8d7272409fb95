// SPDX-License-Identifier: GPL-3.0-or-later
#include "evidence.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

constexpr double kMostDensity = 3;
constexpr int kTableSteps = 8, kTableBelow = 64, kTableSize = 384;  // 8 noise deviations under base to 40 above it

}  // namespace

Evidence::Evidence(double noise, double dirty) : noise_(noise), dirty_(dirty) {
    for (int a = 0; a < kShares; ++a) {
        for (int i = 0; i < kTableSize; ++i) table_[a].push_back(exact((i - kTableBelow) * noise_ / kTableSteps, a));
    }
}

double Evidence::of(double above, int base_share) const {
    const double at = std::clamp(above / noise_ * kTableSteps + kTableBelow + 0.5, 0.0, kTableSize - 1.0);
    return at < kTableSize - 1 ? table_[base_share][static_cast<std::size_t>(at)] : exact(above, base_share);
}

double Evidence::exact(double above, int base_share) const {
    // Base: normal noise with a wider foot, and now and then dirt. Picture: the same for its share at base level, else density above it.
    const auto normal = [&](double s) { return std::exp(-0.5 * above * above / (s * s)) / (s * std::sqrt(2 * std::numbers::pi)); };
    const double at_base = 0.9 * normal(noise_) + 0.1 * normal(3 * noise_) + 1e-9;
    const double denser = above > 0 ? 0.7 * std::exp(-above / kPictureDensity) / kPictureDensity + (above < kMostDensity ? 0.3 / kMostDensity : 1e-9) : 1e-9;
    // Dirt lies on a picture's blacks as it does on clear film; so clear film, however dirty, never speaks for a picture.
    const double share = kBaseShares[base_share], clear = (1 - dirty_) * at_base + dirty_ * denser;
    return std::log(share + (1 - share) * denser / clear);
}

double block_noise(const StripCells& cells, int block_u, int block_v) {
    std::vector<double> under;
    for (int iv = 0; iv + block_v <= cells.nv; iv += block_v) {
        for (int iu = 0; iu + block_u <= cells.nu; iu += block_u) {
            double sum = 0;
            bool whole = true;
            for (int j = 0; j < block_v && whole; ++j) {
                for (int i = 0; i < block_u && whole; ++i) {
                    const std::size_t k = cells.index(iu + i, iv + j);
                    whole = cells.kind[k] == Cell::film;
                    sum += cells.above[k];
                }
            }
            // Nothing is clearer than base: what lies under it is noise, and its mirror image is too.
            if (whole && sum < 0) under.push_back(-sum / (block_u * block_v));
        }
    }
    return std::clamp(1.4826 * median(std::move(under)), 0.0015, 0.05);
}

/// Sums of evidence per column, cumulated: entry i holds columns before i.
ColumnSums column_sums(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty) {
    constexpr int kBlock = 3;
    const Evidence evidence(block_noise(cells, 1, kBlock), dirty);
    ColumnSums sums;
    for (auto& s : sums) s.assign(static_cast<std::size_t>(cells.nu) + 1, 0.0);
    for (int iu = 0; iu < cells.nu; ++iu) {
        const double u = cells.u_of(iu), top = rows.at0 + rows.slope * u;
        const int first = std::max(0, cell_index(top + rows.from, cells.v_first, cells.side));
        const int last = std::min(cells.nv, cell_index(top + rows.to, cells.v_first, cells.side));
        double total[kShares] = {};
        int blocks = 0, bare = 0;
        for (int iv = first; iv + kBlock <= last; iv += kBlock) {
            double sum = 0;
            int n = 0, holes = 0;
            for (int k = 0; k < kBlock; ++k) {
                const std::size_t i = cells.index(iu, iv + k);
                if (cells.kind[i] == Cell::film) {
                    sum += cells.above[i];
                    ++n;
                } else if (cells.kind[i] == Cell::bare) {
                    ++holes;
                }
            }
            bare += holes == kBlock ? 1 : 0;
            if (n < 2) continue;
            ++blocks;
            for (int a = 0; a < kShares; ++a) total[a] += evidence.of(sum / n, a);
        }
        const bool in_film = u > place.u0 && u < place.u1;
        for (int a = 0; a < kShares; ++a) {
            double mean = blocks + bare > 0 ? (total[a] + kNotPicture * bare) / (blocks + bare) : 0;
            if (!in_film) mean = kNotPicture;
            sums[a][static_cast<std::size_t>(iu) + 1] = sums[a][static_cast<std::size_t>(iu)] + kLooksPerMm * cells.side * mean;
        }
    }
    return sums;
}

ClearFilm look_at_clear_film(const StripCells& cells, const Rows& rows, double height) {
    constexpr double kNear = 0.3, kFar = 0.9;  // mm outside the pictures' long edges
    const double noise = block_noise(cells, 3, 1);
    std::vector<double> levels;
    int dirty = 0;
    for (int iv = 0; iv < cells.nv; ++iv) {
        for (int iu = 0; iu + 3 <= cells.nu; iu += 3) {
            const double below = cells.v_of(iv) - rows.at0 - rows.slope * cells.u_of(iu), out = std::max(-below, below - height);
            if (out < kNear || out > kFar) continue;
            double sum = 0;
            bool whole = true;
            for (int k = 0; k < 3; ++k) {
                whole = whole && cells.kind[cells.index(iu + k, iv)] == Cell::film;
                sum += cells.above[cells.index(iu + k, iv)] / 3;
            }
            if (!whole) continue;
            levels.push_back(sum);
            dirty += sum > 5 * noise + 0.005 ? 1 : 0;
        }
    }
    if (levels.size() < 50) return {kDirtyShare, 0};
    const double share = static_cast<double>(dirty) / static_cast<double>(levels.size());
    return {std::clamp(1.5 * share, kLeastDirtyShare, kMostDirtyShare), median(levels)};
}

}  // namespace basefog::frames
