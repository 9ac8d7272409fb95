// SPDX-License-Identifier: GPL-3.0-or-later
// A measurement is never a bare number: it carries its standard uncertainty, how many samples made it, and flags.
#pragma once

#include <cstdint>

namespace basefog {

enum class MeasureFlag : std::uint32_t {
    none = 0,
    clipped = 1u << 0,       ///< samples at the scan's black or white limit took part
    dusty = 1u << 1,         ///< dust or residue lay in the area
    extrapolated = 1u << 2,  ///< outside the range the samples cover
    assumed = 1u << 3,       ///< a prior or convention, not measured here
    relative = 1u << 4,      ///< relative to the film's base, as no bare light was in view
};
[[nodiscard]] constexpr MeasureFlag operator|(MeasureFlag a, MeasureFlag b) {
    return static_cast<MeasureFlag>(static_cast<std::uint32_t>(a) | static_cast<std::uint32_t>(b));
}
[[nodiscard]] constexpr bool has(MeasureFlag set, MeasureFlag one) { return (static_cast<std::uint32_t>(set) & static_cast<std::uint32_t>(one)) != 0; }

template <class T>
struct Measured {
    T value{};
    T std_uncertainty{};  ///< one sigma, same unit as the value
    std::int64_t n = 0;   ///< independent samples; 0 for a prior
    MeasureFlag flags = MeasureFlag::none;
    friend bool operator==(const Measured&, const Measured&) = default;
};

}  // namespace basefog
