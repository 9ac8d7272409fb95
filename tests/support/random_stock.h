// SPDX-License-Identifier: GPL-3.0-or-later
// Stocks and scanners that nobody has seen: the invented ones, varied at random as makers, ages and baths vary. Nothing here comes from the library
// under test.
#pragma once

#include "support/synthetic_stock.h"

#include <cstdint>

namespace synthetic {

/// One of the colour stocks, cross-processed or not, fresh or aged, with slopes, toes, dyes, masks and sensitivities of its own. As steep, in Status M,
/// as published films are, give or take what stocks and baths differ by.
struct RandomStock {
    FilmStock stock;
    bool crossed = false, expired = false;
};
[[nodiscard]] RandomStock random_stock(std::uint64_t seed);
/// Density of a stock at a wavelength for dye amounts, fog included: support, unused couplers and dyes.
[[nodiscard]] double film_density(const FilmStock& stock, const Triple& dye, double nm);
/// Density per log10 H of a grey in the stock's own light, Status M, mean of the three, about mid-grey.
[[nodiscard]] double status_m_slope(const FilmStock& stock);
/// A flatbed's or camera's channels, moved and widened.
[[nodiscard]] Scanner random_scanner(std::uint64_t seed);

}  // namespace synthetic
