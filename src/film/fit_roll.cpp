// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/fit_roll.h"

#include "basefog/film/fit_stock.h"

namespace basefog {

Result<void> validate(const FilmOptions& options) {
    constexpr double kMostStops = 10, kMostSteps = 100;
    const double range = options.what_if_range.value(), step = options.what_if_step.value();
    if (!(options.shadow_sigma > 0 && options.shadow_sigma < 100)) return fail(ErrorCode::usage, "the shadow limit must be a positive number of sigmas");
    if (!(range >= 0 && range <= kMostStops)) return fail(ErrorCode::usage, "the range of what-ifs must be 0 to 10 stops");
    if (!(step > 0 && range / step <= kMostSteps)) return fail(ErrorCode::usage, "the step of what-ifs must be positive and not tiny");
    return {};
}

Result<RollFilm> fit_roll(const RollSamples& roll, const FilmOptions& options) {
    auto stock = fit_stock({&roll, 1}, options);
    if (!stock) return Failure(std::move(stock.error()));
    return std::move(stock->rolls.front());
}

}  // namespace basefog
