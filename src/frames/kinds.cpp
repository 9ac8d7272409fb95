// SPDX-License-Identifier: GPL-3.0-or-later
#include "kinds.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <numeric>

namespace basefog::frames {

namespace {

/// Mean density above base of the square millimetres inside a frame, row by row; `across` of them to a row.
std::vector<double> millimetres_inside(const StripCells& cells, const FrameFit& f, int& across) {
    std::vector<double> out;
    const int by = static_cast<int>(std::lround(1 / cells.side));
    const int u0 = static_cast<int>(std::ceil((f.u + 1 - cells.u_first) / cells.side)),
              v0 = static_cast<int>(std::ceil((f.top + 1 - cells.v_first) / cells.side));
    across = static_cast<int>(f.width) - 2;
    for (int j = 0; j < static_cast<int>(f.height) - 2; ++j) {
        for (int i = 0; i < across; ++i) {
            double sum = 0;
            int n = 0;
            for (int y = v0 + j * by; y < v0 + (j + 1) * by; ++y) {
                for (int x = u0 + i * by; x < u0 + (i + 1) * by; ++x) {
                    if (x < 0 || y < 0 || x >= cells.nu || y >= cells.nv || cells.kind[cells.index(x, y)] != Cell::film) continue;
                    sum += cells.above[cells.index(x, y)];
                    ++n;
                }
            }
            out.push_back(2 * n > by * by ? sum / n : -1);
        }
    }
    return out;
}

struct Detail {
    double most = 0, middle = 0;  ///< the four fifths' and the middle value
};
/// How far places `kBy` millimetres apart stand off a smooth course: noise and gradients of fog leave nearly nothing.
template <int kBy>
Detail detail_of(const std::vector<double>& mm, int across) {
    const int rows = static_cast<int>(mm.size()) / across, nu = across / kBy, nv = rows / kBy;
    std::vector<double> mean, bends;
    for (int j = 0; j < nv; ++j) {
        for (int i = 0; i < nu; ++i) {
            std::vector<double> part;
            for (int k = 0; k < kBy * kBy; ++k) part.push_back(mm[static_cast<std::size_t>((j * kBy + k / kBy) * across + i * kBy + k % kBy)]);
            mean.push_back(std::accumulate(part.begin(), part.end(), 0.0) / (kBy * kBy));
        }
    }
    for (int j = 0; j < nv; ++j) {
        for (int i = 0; i < nu; ++i) {
            const auto at = [&](int x, int y) { return mean[static_cast<std::size_t>(y * nu + x)]; };
            if (i > 0 && i + 1 < nu) bends.push_back(std::abs(at(i - 1, j) - 2 * at(i, j) + at(i + 1, j)));
            if (j > 0 && j + 1 < nv) bends.push_back(std::abs(at(i, j - 1) - 2 * at(i, j) + at(i, j + 1)));
        }
    }
    return {at_share(bends, 0.8), median(bends)};
}

}  // namespace

namespace {

/// Density above clear film along a stretch of the strip, fog counted in: of the rebate above and below the pictures, and of what lies between.
struct Densities {
    std::array<std::vector<double>, 2> beside;
    std::vector<double> within;
};
Densities densities_along(const StripCells& cells, const FrameFit& f, double from, double to) {
    constexpr double kNear = 0.3, kFar = 0.9;  // mm outside the pictures' long edges
    Densities out;
    for (int iv = 0; iv < cells.nv; ++iv) {
        const double below = cells.v_of(iv) - f.top, away = std::max(-below, below - f.height);
        const bool rebate = away > kNear && away < kFar;
        if (!rebate && away > -1) continue;
        std::vector<double>& part = rebate ? out.beside[below < 0 ? 0 : 1] : out.within;
        for (int iu = 0; iu < cells.nu; ++iu) {
            if (cells.u_of(iu) < from || cells.u_of(iu) > to || cells.kind[cells.index(iu, iv)] != Cell::film) continue;
            part.push_back(cells.above[cells.index(iu, iv)] / cells.damping(iu) + cells.base.fog_at(cells.u_of(iu)));
        }
    }
    return out;
}

/// Light got to nearly all of the rebate on both sides of a frame past the gate, and made it denser than a picture can be told from.
bool fogged_through(const StripCells& cells, const FrameFit& f) {
    constexpr double kNearlyAll = 0.2;  // Chosen: share of the rebate that may be clearer: a picture half under a leader is one
    constexpr double kHalf = 0.5;       // Chosen: of the frame's length has to show on either side
    const Densities seen = densities_along(cells, f, f.u + 1, f.u + f.width - 1);
    const auto least = static_cast<std::size_t>(kHalf * f.width / cells.side);
    return std::all_of(seen.beside.begin(), seen.beside.end(),
                       [&](const std::vector<double>& side) { return side.size() > least && at_share(side, kNearlyAll) > kFoggedDensity; });
}

}  // namespace

void tell_kind(const StripCells& cells, FrameFit& f) {
    int across = 0;
    std::vector<double> mm = millimetres_inside(cells, f, across), seen;
    std::copy_if(mm.begin(), mm.end(), std::back_inserter(seen), [](double d) { return d > -0.5; });
    if (seen.size() < 200 || f.kind != FrameKind::picture) return;
    f.level = median(seen);
    f.spread = spread(seen, f.level);
    std::replace_if(
        mm.begin(), mm.end(), [](double d) { return d <= -0.5; }, f.level);
    const Detail detail = detail_of<3>(mm, across), fine = detail_of<1>(mm, across);
    // Or it is even but for smears.
    const bool empty = (detail.most < kFoggedDetail && f.spread < kFoggedSpread) || (detail.middle < 1.5 * kFoggedDetail && f.spread < kEvenSpread);
    // Noise falls with the spots' size; what does not is a picture, however thin or dense.
    const bool beyond_noise = detail.most > kLeastFoggedDetail && 3 * detail.middle > kDetailOverNoise * fine.middle;
    if ((f.level > kFoggedDensity && empty && !beyond_noise) || fogged_through(cells, f)) f.kind = FrameKind::fogged;
}

bool fogged_across(const StripCells& cells, const FrameFit& f, double from, double to) {
    constexpr double kLeast = 0.15, kShare = 0.5;  // Chosen: density above base, and share of the picture band's, that is no flare
    constexpr std::size_t kLeastBeside = 20;       // Chosen: cells
    Densities seen = densities_along(cells, f, from, to);
    std::vector<double> beside = std::move(seen.beside[0]);
    beside.insert(beside.end(), seen.beside[1].begin(), seen.beside[1].end());
    if (beside.size() < kLeastBeside || seen.within.empty()) return false;
    const double level = median(std::move(beside));
    return level > kLeast && level > kShare * median(std::move(seen.within));
}

bool holds_picture(const StripCells& cells, const FrameFit& f, const ClearFilm& clear, bool only_detail) {
    int across = 0;
    std::vector<double> seen;
    for (const double d : millimetres_inside(cells, f, across)) {
        if (d > -0.5) seen.push_back(d);
    }
    if (seen.size() < 200) return false;
    const double noise = block_noise(cells, 3, 1);
    int detail = 0, n = 0;
    for (int iv = 0; iv < cells.nv; ++iv) {
        if (cells.v_of(iv) < f.top + 1 || cells.v_of(iv) > f.top + f.height - 1) continue;
        for (int iu = 0; iu + 3 <= cells.nu; iu += 3) {
            if (cells.u_of(iu) < f.u + 1 || cells.u_of(iu) > f.u + f.width - 1.5 || cells.kind[cells.index(iu + 1, iv)] != Cell::film) continue;
            double sum = 0;
            for (int k = 0; k < 3; ++k) sum += cells.above[cells.index(iu + k, iv)] / 3;
            ++n;
            detail += sum > 5 * noise + 0.005 ? 1 : 0;
        }
    }
    const bool black_stands_off = !only_detail && median(seen) - clear.level > kBlackAboveBase;
    return black_stands_off || detail > n * std::max(kLeastDetail, kDetailOverDirt * clear.dirty);
}

}  // namespace basefog::frames
