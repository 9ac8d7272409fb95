// SPDX-License-Identifier: GPL-3.0-or-later
#include "chain.h"

#include "constants.h"
#include "line_steps.h"
#include "robust.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

constexpr double kMostDensity = 3;
constexpr int kTableSteps = 8, kTableBelow = 64, kTableSize = 384;  // 8 noise deviations under base to 40 above it
constexpr double kNotPicture = -3;                                  // Chosen: a cell of bare light inside a picture is as good as impossible

using Profiles = std::array<std::vector<double>, kShares>;

int cell_index(double mm, double first, double side) { return static_cast<int>(std::lround((mm - first) / side)); }

/// Sums of evidence per column, cumulated: entry i holds columns before i.
Profiles column_sums(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty) {
    constexpr int kBlock = 3;
    const Evidence evidence(block_noise(cells, 1, kBlock), dirty);
    Profiles sums;
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

/// Share of the rows that step from base to something denser at each column.
Steps straight_steps(const StripCells& cells, const Rows& rows, int block, double tolerance) {
    const double noise = block_noise(cells, 2, block);
    Steps steps{std::vector<double>(static_cast<std::size_t>(cells.nu) + 1, 0.0), std::vector<double>(static_cast<std::size_t>(cells.nu) + 1, 0.0)};
    for (int iu = 3; iu + 3 <= cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        const int first = std::max(0, cell_index(top + rows.from, cells.v_first, cells.side)),
                  last = std::min(cells.nv, cell_index(top + rows.to, cells.v_first, cells.side));
        int blocks = 0, left = 0, right = 0;
        for (int iv = first; iv + block <= last; iv += block) {
            double before = 0, after = 0;
            bool whole = true;
            for (int k = 0; k < block && whole; ++k) {
                // The cells next to the edge are blurred: one is left out on each side.
                for (const int off : {-3, -2, 1, 2}) {
                    const std::size_t i = cells.index(iu + off, iv + k);
                    whole = whole && cells.kind[i] == Cell::film;
                    (off < 0 ? before : after) += cells.above[i] / (2 * block);
                }
            }
            ++blocks;
            if (!whole) continue;
            left += std::abs(before) < 3 * noise + tolerance && after > before + 5 * noise + tolerance ? 1 : 0;
            right += std::abs(after) < 3 * noise + tolerance && before > after + 5 * noise + tolerance ? 1 : 0;
        }
        if (blocks == 0) continue;
        steps.left[static_cast<std::size_t>(iu)] = static_cast<double>(left) / blocks;
        steps.right[static_cast<std::size_t>(iu)] = static_cast<double>(right) / blocks;
    }
    return steps;
}

/// Short blocks find strong edges past dust, tall ones and whole columns fainter ones.
Steps straight_steps(const StripCells& cells, const Rows& rows) {
    Steps steps = line_steps(column_levels(cells, rows), 2, kNearMm);
    const Steps tall = straight_steps(cells, rows, 10, 0.003), brief = straight_steps(cells, rows, 3, 0.005);
    for (std::size_t i = 0; i < steps.left.size(); ++i) {
        steps.left[i] = 0.5 * steps.left[i] + 0.3 * tall.left[i] + 0.2 * brief.left[i];
        steps.right[i] = 0.5 * steps.right[i] + 0.3 * tall.right[i] + 0.2 * brief.right[i];
    }
    return steps;
}

Slot slot_at(const Profiles& sums, const Steps& steps, const StripCells& cells, int i, int width) {
    Slot slot;
    slot.u = cells.u_first + i * cells.side;
    slot.evidence = -1e9;
    for (int a = 0; a < kShares; ++a) {
        const double e = sums[a][static_cast<std::size_t>(i + width)] - sums[a][static_cast<std::size_t>(i)] - 2.0 * a;
        if (e > slot.evidence) {
            slot.evidence = e;
            slot.share = a;
        }
    }
    // Gates differ by a cell or so.
    double right = 0;
    for (int k = std::max(0, i + width - 1); k <= std::min(cells.nu, i + width + 1); ++k) right = std::max(right, steps.right[static_cast<std::size_t>(k)]);
    slot.evidence += kStepEvidence * (steps.left[static_cast<std::size_t>(i)] + right);
    return slot;
}

std::vector<Slot> all_slots(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const FindOptions& options) {
    const Profiles sums = column_sums(cells, place, rows, dirty);
    const Steps edges = straight_steps(cells, rows);
    const int width = static_cast<int>(std::lround(options.frame_width.value() / cells.side));
    std::vector<Slot> at;
    for (int i = 0; i + width <= cells.nu; ++i) at.push_back(slot_at(sums, edges, cells, i, width));
    return at;
}

struct Step {
    int back = 0;     ///< columns
    int skipped = 0;  ///< slots in between without a picture
    double cost = 0;
};

/// Advances from one picture to the next, over skipped slots too.
std::vector<Step> possible_steps(double side, const FindOptions& options) {
    std::vector<Step> steps;
    const double pitch = options.frame_pitch.value(), least = options.frame_width.value() + 0.3;
    for (int k = 1; k < options.max_frames_per_strip; ++k) {
        const double room = std::sqrt(static_cast<double>(k));
        const int from = static_cast<int>(std::lround(std::max(least, k * pitch - kAdvanceLessMm * room) / side));
        const int to = static_cast<int>(std::lround((k * pitch + kAdvanceMoreMm * room) / side));
        for (int back = from; back <= to; ++back) {
            const double off = (back * side - k * pitch) / (kAdvanceStdMm * room);
            steps.push_back({back, k - 1, std::min(0.5 * off * off, kAdvanceCostMost) + 1.5 * (k - 1)});
        }
    }
    return steps;
}

Chain best_chain(const std::vector<Slot>& at, const std::vector<Step>& steps, const FindOptions& options) {
    const int n = static_cast<int>(at.size());
    std::vector<double> score(at.size());
    std::vector<int> from(at.size(), -1), skipped(at.size(), 0);
    int best = -1;
    for (int i = 0; i < n; ++i) {
        const auto here = static_cast<std::size_t>(i);
        score[here] = at[here].evidence;
        if (at[here].evidence < kLeastEvidence) {
            score[here] = -1e9;
            continue;
        }
        double before = 0;
        for (const Step& step : steps) {
            if (step.back > i) continue;
            const double s = score[static_cast<std::size_t>(i - step.back)] - step.cost;
            if (s > before) {
                before = s;
                from[here] = i - step.back;
                skipped[here] = step.skipped;
            }
        }
        score[here] += before;
        if (best < 0 || score[here] > score[static_cast<std::size_t>(best)]) best = i;
    }
    Chain chain;
    if (best < 0 || score[static_cast<std::size_t>(best)] < kLeastEvidence) return chain;
    chain.score = score[static_cast<std::size_t>(best)];
    std::vector<double> advances;
    for (int i = best; i >= 0; i = from[static_cast<std::size_t>(i)]) {
        const auto here = static_cast<std::size_t>(i);
        chain.slots.push_back(at[here]);
        if (from[here] < 0) break;
        const int gaps = skipped[here] + 1;
        const double advance = (at[here].u - at[static_cast<std::size_t>(from[here])].u) / gaps;
        for (int k = 1; k < gaps; ++k) chain.slots.push_back({at[here].u - k * advance, 0, kShares - 1, false});
        for (int k = 0; k < gaps; ++k) advances.push_back(advance);
    }
    std::reverse(chain.slots.begin(), chain.slots.end());
    chain.advance = advances.size() >= 2 ? median(advances) : options.frame_pitch.value();
    if (std::abs(chain.advance - options.frame_pitch.value()) > 1) chain.advance = options.frame_pitch.value();
    return chain;
}

/// Straight edges along the strip, from the middle level of each row over a third of a frame.
struct RowSteps {
    double u = 0;
    Steps steps;
    [[nodiscard]] double at(double top, double height, const StripCells& cells) const {
        const int upper = cell_index(top, cells.v_first, cells.side), lower = cell_index(top + height, cells.v_first, cells.side);
        double sum = 0;
        if (upper >= 0 && upper <= cells.nv) sum += steps.left[static_cast<std::size_t>(upper)];
        if (lower >= 0 && lower <= cells.nv) sum += steps.right[static_cast<std::size_t>(lower)];
        return sum;
    }
};
std::vector<RowSteps> steps_of_rows(const StripCells& cells, const Chain& chain, const FindOptions& options) {
    std::vector<RowSteps> out;
    const double third = (options.frame_width.value() - 2) / 3;
    for (const Slot& slot : chain.slots) {
        for (int k = 0; k < 3 && slot.seen; ++k) {
            const double from = slot.u + 1 + k * third;
            // One cell only outside: the rebate between picture and holder or holes is narrow.
            out.push_back({from + third / 2, line_steps(row_levels(cells, from, from + third), 1, kNearMm)});
        }
    }
    return out;
}

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
    const double share = kBaseShares[base_share];
    return std::log((share * at_base + (1 - share) * denser) / ((1 - dirty_) * at_base + dirty_ * denser));
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

Chain find_chain(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const FindOptions& options) {
    const std::vector<Slot> at = all_slots(cells, place, rows, dirty, options);
    if (at.empty()) return {};
    return best_chain(at, possible_steps(cells.side, options), options);
}

Slot slot_near(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, double u, double reach, const FindOptions& options) {
    Slot best{u, -1e9, kShares - 1, false};
    for (const Slot& slot : all_slots(cells, place, rows, dirty, options)) {
        const double off = slot.u - u;
        if (std::abs(off) > reach) continue;
        const double evidence = slot.evidence - 0.5 * off * off / (kAdvanceStdMm * kAdvanceStdMm);
        if (evidence <= best.evidence) continue;
        best = slot;
        best.evidence = evidence;
    }
    return best;
}

ClearFilm look_at_clear_film(const StripCells& cells, const Rows& rows, const FindOptions& options) {
    constexpr double kNear = 0.3, kFar = 0.9;  // mm outside the pictures' long edges
    const double noise = block_noise(cells, 3, 1), height = options.frame_height.value();
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

TopLine find_top(const StripCells& cells, const StripPlace& place, const Chain& chain, double dirty, const FindOptions& options) {
    constexpr double kChunkMm = 3;
    constexpr int kBlock = 3;
    const Evidence evidence(block_noise(cells, kBlock, 1), dirty);
    const double width = options.frame_width.value(), height = options.frame_height.value();
    std::vector<double> chunk_u;
    std::vector<std::vector<double>> chunk_sums;  // cumulated down the rows
    for (const Slot& slot : chain.slots) {
        if (!slot.seen) continue;
        for (double u = slot.u + 1.5; u + kChunkMm <= slot.u + width - 1.5 + 1e-9; u += kChunkMm) {
            const int first = std::max(0, cell_index(u, cells.u_first, cells.side)),
                      last = std::min(cells.nu, cell_index(u + kChunkMm, cells.u_first, cells.side));
            std::vector<double> sums(static_cast<std::size_t>(cells.nv) + 1, 0.0);
            for (int iv = 0; iv < cells.nv; ++iv) {
                double total = 0;
                int blocks = 0;
                for (int iu = first; iu + kBlock <= last; iu += kBlock) {
                    double sum = 0;
                    int n = 0, bare = 0;
                    for (int k = 0; k < kBlock; ++k) {
                        const std::size_t i = cells.index(iu + k, iv);
                        n += cells.kind[i] == Cell::film ? 1 : 0;
                        bare += cells.kind[i] == Cell::bare ? 1 : 0;
                        sum += cells.kind[i] == Cell::film ? cells.above[i] : 0;
                    }
                    if (n == 0 && bare == 0) continue;
                    ++blocks;
                    total += n > 0 ? evidence.of(sum / n, slot.share) : kNotPicture;
                }
                sums[static_cast<std::size_t>(iv) + 1] =
                    sums[static_cast<std::size_t>(iv)] + (blocks > 0 ? kLooksPerMm * cells.side * total / blocks * kChunkMm / 18 : 0);
            }
            chunk_u.push_back(u + kChunkMm / 2);
            chunk_sums.push_back(std::move(sums));
        }
    }
    const std::vector<RowSteps> row_steps = steps_of_rows(cells, chain, options);
    TopLine best;
    const double centre = 0.5 * (place.v0 + place.v1);
    best.at0 = centre - height / 2;
    best.evidence = -1e9;
    const double reach = place.whole_width_seen() ? 1.2 : std::max(1.5, 0.5 * (place.width() - height) + 1.5);
    const double most_slope = std::tan((place.whole_width_seen() ? 0.3 : 1.5) * std::numbers::pi / 180);
    const double centre_std = place.whole_width_seen() ? 0.4 : 1.5, slope_std = most_slope / 4;
    const double slope_step = kCellMm / std::max(40.0, place.length());
    const int slopes = static_cast<int>(most_slope / slope_step);
    for (int k = -slopes; k <= slopes; ++k) {
        const double slope = k * slope_step;
        for (double off = -reach; off <= reach; off += kCellMm / 2) {
            const double at0 = centre - height / 2 + off;
            double total = -0.5 * std::pow(off / centre_std, 2) - 0.5 * std::pow(slope / slope_std, 2);
            for (std::size_t c = 0; c < chunk_u.size(); ++c) {
                const auto sum_at = [&](double v) {
                    const double x = std::clamp((v - cells.v_first) / cells.side, 0.0, static_cast<double>(cells.nv));
                    const auto i = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(cells.nv) - 1);
                    return chunk_sums[c][i] + (x - static_cast<double>(i)) * (chunk_sums[c][i + 1] - chunk_sums[c][i]);
                };
                const double v = at0 + slope * chunk_u[c];
                total += sum_at(v + height) - sum_at(v);
            }
            for (const RowSteps& r : row_steps) total += kStepEvidence / 3 * r.at(at0 + slope * r.u, height, cells);
            if (total > best.evidence) best = {at0, slope, total};
        }
    }
    return best;
}

}  // namespace basefog::frames
