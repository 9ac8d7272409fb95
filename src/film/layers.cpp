// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/layers.h"

#include "film/constants.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace basefog::film {
namespace {

// Chosen: cells of about 1.5 mm, so that a hand-held bracket still matches.
constexpr std::int64_t kCellsAcross = 24, kCellsDown = 16;
/// Chosen: different scenes of one place reach 0.8; one scene at other exposures stays above 0.97 on the straight line.
constexpr double kSameScene = 0.95;
/// The same of cells against their neighbours: different scenes stay under 0.5; a hand's shake takes some of one scene's 0.95 to 1.
constexpr double kSameDetail = 0.7;
/// A cell takes part where its exposures lie this far inside the straight line. Chosen.
constexpr double kInside = 0.35;
constexpr std::size_t kLeastCells = 20;
/// One scene at two exposures differs by the same amount everywhere on the straight line, but for the curves' slopes, grain and a
/// hand's shake: the spread of the differences over the cells (sigma, log10 H) stays under this. Chosen: two scenes of one kind, both lit by
/// a lamp in one corner say, are alike too, but spread by 0.1 and more; safe range 0.03 to 0.07.
constexpr double kSameStep = 0.05;
constexpr double kLeastDetail = 0.01;    // log10 H; less is grain
constexpr double kLeastContrast = 0.08;  // log10 H; a plain wall matches any other plain wall

struct Cells {
    std::vector<std::optional<Triple>> mean;  // kCellsAcross x kCellsDown
};

Cells to_cells(const LayerPicture& p) {
    Cells cells;
    for (std::int64_t cy = 0; cy < kCellsDown; ++cy)
        for (std::int64_t cx = 0; cx < kCellsAcross; ++cx) {
            const std::int64_t x0 = cx * p.width / kCellsAcross, x1 = (cx + 1) * p.width / kCellsAcross;
            const std::int64_t y0 = cy * p.height / kCellsDown, y1 = (cy + 1) * p.height / kCellsDown;
            Triple sum{};
            std::int64_t n = 0;
            for (std::int64_t y = y0; y < y1; ++y)
                for (std::int64_t x = x0; x < x1; ++x) {
                    const auto i = static_cast<std::size_t>(y * p.width + x);
                    if (!p.usable[i]) continue;
                    for (std::size_t k = 0; k < 3; ++k) sum[k] += p.exposure[i][k];
                    ++n;
                }
            if (2 * n < (x1 - x0) * (y1 - y0) || n == 0) {
                cells.mean.emplace_back(std::nullopt);
                continue;
            }
            for (double& v : sum) v /= static_cast<double>(n);
            cells.mean.emplace_back(sum);
        }
    return cells;
}

bool on_straight_line(const Triple& h) {
    return std::all_of(h.begin(), h.end(), [](double v) { return v > kToe + kInside && v < kToe + kLatitude - kInside; });
}

struct Pairs {
    double n = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
    void add(double x, double y) { n += 1, sa += x, sb += y, saa += x * x, sbb += y * y, sab += x * y; }
    /// Correlation; none when there are few, or either hardly varies.
    [[nodiscard]] std::optional<double> correlation(double least_std) const {
        if (n < static_cast<double>(kLeastCells)) return std::nullopt;
        const double va = saa / n - sa * sa / n / n, vb = sbb / n - sb * sb / n / n;
        if (va < least_std * least_std || vb < least_std * least_std) return std::nullopt;
        return (sab / n - sa * sb / n / n) / std::sqrt(va * vb);
    }
};

/// A cell against the mean of its neighbours to the left and right, and above and below; nothing at a picture's edge.
std::optional<double> detail(const Cells& cells, const std::vector<char>& common, std::int64_t cx, std::int64_t cy) {
    if (cx < 1 || cy < 1 || cx + 1 >= kCellsAcross || cy + 1 >= kCellsDown) return std::nullopt;
    const auto at = [](std::int64_t x, std::int64_t y) { return static_cast<std::size_t>(y * kCellsAcross + x); };
    double around = 0;
    for (const std::size_t i : {at(cx - 1, cy), at(cx + 1, cy), at(cx, cy - 1), at(cx, cy + 1)}) {
        if (!common[i]) return std::nullopt;
        around += (*cells.mean[i])[1] / 4;
    }
    return common[at(cx, cy)] ? std::optional((*cells.mean[at(cx, cy)])[1] - around) : std::nullopt;
}

bool between_the_ends(const Triple& h) { return h[1] > kToe && h[1] < kToe + kLatitude - kInside / 2; }

/// Do two pictures show one scene? Their exposures (green) must go together broadly, and in detail where both have any: two rooms lit from one corner, or
/// two skies over two hills, are alike broadly only.
bool same_scene(const Cells& a, const Cells& b) {
    Pairs broad, fine;
    std::vector<char> common(a.mean.size(), 0);
    for (std::size_t i = 0; i < a.mean.size(); ++i) {
        if (!a.mean[i] || !b.mean[i]) continue;
        common[i] = between_the_ends(*a.mean[i]) && between_the_ends(*b.mean[i]) ? 1 : 0;
        broad.add((*a.mean[i])[1], (*b.mean[i])[1]);
    }
    const auto in_broad = broad.correlation(kLeastContrast);
    if (!in_broad || *in_broad < kSameScene) return false;
    for (std::int64_t y = 0; y < kCellsDown; ++y)
        for (std::int64_t x = 0; x < kCellsAcross; ++x) {
            const auto da = detail(a, common, x, y), db = detail(b, common, x, y);
            if (da && db) fine.add(*da, *db);
        }
    const auto in_detail = fine.correlation(kLeastDetail);
    return !in_detail || *in_detail >= kSameDetail;
}

std::optional<Bracket> compare(const Cells& a, const Cells& b, std::size_t i_first, std::size_t i_second) {
    std::array<std::vector<double>, 3> difference;
    double first = 0, second = 0;
    for (std::size_t i = 0; i < a.mean.size(); ++i) {
        if (!a.mean[i] || !b.mean[i] || !on_straight_line(*a.mean[i]) || !on_straight_line(*b.mean[i])) continue;
        first += (*a.mean[i])[1] - kToe, second += (*b.mean[i])[1] - kToe;
        for (std::size_t k = 0; k < 3; ++k) difference[k].push_back((*b.mean[i])[k] - (*a.mean[i])[k]);
    }
    if (difference[0].size() < kLeastCells) return std::nullopt;
    const double n = static_cast<double>(difference[0].size());
    Bracket bracket{.first = i_first, .second = i_second, .difference = {}, .std_error = {}, .first_height = first / n, .second_height = second / n};
    for (std::size_t k = 0; k < 3; ++k) {
        auto& d = difference[k];
        std::sort(d.begin(), d.end());
        bracket.difference[k] = d[d.size() / 2];
        // Spread between quartiles as a sigma; the median of n values has 1.25 sigma / sqrt n.
        const double sigma = (d[3 * d.size() / 4] - d[d.size() / 4]) / 1.349;
        if (sigma > kSameStep) return std::nullopt;
        bracket.std_error[k] = 1.25 * sigma / std::sqrt(static_cast<double>(d.size()));
    }
    return bracket;
}

}  // namespace

std::array<CurveTable, 3> tabulate(const Rgb<LayerCurve>& curves) { return {CurveTable(curves.r), CurveTable(curves.g), CurveTable(curves.b)}; }

LayerPicture to_layers(const Picture& picture, const Matrix3& dye_from_channel, const std::array<CurveTable, 3>& curves) {
    LayerPicture out{.roll = picture.roll, .frame = picture.frame, .width = picture.width, .height = picture.height, .exposure = {}, .usable = picture.usable};
    out.exposure.resize(picture.density.size());
    for (std::size_t i = 0; i < picture.density.size(); ++i) {
        if (!picture.usable[i]) continue;
        const Triple& d = picture.density[i];
        for (std::size_t l = 0; l < 3; ++l) {
            const auto& row = dye_from_channel[l];
            out.exposure[i][l] = curves[l].exposure(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
        }
    }
    return out;
}

Scenes find_scenes(const std::vector<LayerPicture>& pictures) {
    std::vector<Cells> cells;
    for (const LayerPicture& p : pictures) cells.push_back(to_cells(p));
    Scenes scenes;
    scenes.scene_of.assign(pictures.size(), -1);
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (!same_scene(cells[j], cells[i])) continue;
            if (scenes.scene_of[i] < 0) scenes.scene_of[i] = scenes.scene_of[j];
            if (const auto bracket = compare(cells[j], cells[i], j, i)) scenes.brackets.push_back(*bracket);
        }
        if (scenes.scene_of[i] < 0) scenes.scene_of[i] = scenes.count++;
    }
    for (const int scene : scenes.scene_of)
        scenes.share.push_back(1.0 / static_cast<double>(std::count(scenes.scene_of.begin(), scenes.scene_of.end(), scene)));
    return scenes;
}

}  // namespace basefog::film
