// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/bad_pixels.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace basefog::scan {
namespace {

/// Chosen: thirty times the noise of a usual sensor at a hundredth of full scale; safe range a third to thrice of each.
constexpr double kLeastOfRange = 0.015, kLeastShare = 0.25;
/// Share of a point's light that the four pixels beside it get together, at the least, as a mean. Chosen: a sharp lens gives a seventh.
constexpr double kBesidePoint = 0.1;
constexpr std::int64_t kMargin = 3;
constexpr std::array<std::pair<int, int>, 8> kOfItsColour{{{-2, -2}, {0, -2}, {2, -2}, {-2, 0}, {2, 0}, {-2, 2}, {0, 2}, {2, 2}}};
constexpr std::array<std::pair<int, int>, 4> kBeside{{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}};

class Search {
public:
    explicit Search(const Mosaic& mosaic) : m_(mosaic) {}

    /// What a stuck pixel should have been; less than zero for a sound one.
    [[nodiscard]] double instead(std::int64_t x, std::int64_t y) const {
        std::array<double, 8> near{};
        for (std::size_t i = 0; i < near.size(); ++i) near[i] = at(x + kOfItsColour[i].first, y + kOfItsColour[i].second);
        const auto [low, high] = std::minmax_element(near.begin(), near.end());
        const double here = at(x, y), above = here - *high, below = *low - here;
        const bool stands_out =
            above > std::max(kLeastOfRange * m_.range, kLeastShare * *high) || below > std::max(kLeastOfRange * m_.range, kLeastShare * *low);
        if (!stands_out) return -1;
        std::sort(near.begin(), near.end());
        const double usual = 0.5 * (near[3] + near[4]);
        return seen_beside(x, y, (here - usual) / std::max(usual, kLeastOfRange * m_.range)) ? -1 : usual;
    }

private:
    [[nodiscard]] double at(std::int64_t x, std::int64_t y) const {
        return std::max(0.0, m_.first[y * m_.stride + x] - m_.black[static_cast<std::size_t>(y % 2 * 2 + x % 2)]);
    }
    /// Whether the pixels beside show what this one shows, less strongly.
    [[nodiscard]] bool seen_beside(std::int64_t x, std::int64_t y, double strength) const {
        double sum = 0;
        for (const auto& [dx, dy] : kBeside) {
            // Of the same colour, further out and to both sides of the way there.
            const double further = at(x + 3 * dx, y + 3 * dy), one = at(x + dx + 2 * dy, y + dy + 2 * dx), other = at(x + dx - 2 * dy, y + dy - 2 * dx);
            const double usual = (further + one + other) / 3;
            sum += (at(x + dx, y + dy) - usual) / std::max(usual, kLeastOfRange * m_.range) / 4;
        }
        return strength > 0 ? sum > kBesidePoint * strength : sum < kBesidePoint * strength;
    }

    const Mosaic& m_;
};

}  // namespace

std::int64_t mend_bad_pixels(const Mosaic& mosaic) {
    const Search search(mosaic);
    // All are judged before the first is changed, so that their order does not matter.
    std::vector<std::pair<std::uint16_t*, std::uint16_t>> found;
    for (std::int64_t y = kMargin; y < mosaic.height - kMargin; ++y)
        for (std::int64_t x = kMargin; x < mosaic.width - kMargin; ++x)
            if (const double usual = search.instead(x, y); usual >= 0)
                found.emplace_back(mosaic.first + y * mosaic.stride + x,
                                   static_cast<std::uint16_t>(std::lround(usual + mosaic.black[static_cast<std::size_t>(y % 2 * 2 + x % 2)])));
    for (const auto& [pixel, value] : found) *pixel = value;
    return static_cast<std::int64_t>(found.size());
}

}  // namespace basefog::scan
