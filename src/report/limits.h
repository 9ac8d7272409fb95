// SPDX-License-Identifier: GPL-3.0-or-later
// Where on the characteristic plot shadows and highlights go: the film stage's own rule for a spot, applied to a neutral
// grey. Only a drawing: shares lost are the film stage's, measured on the pictures.
#pragma once

#include "basefog/report/types.h"

namespace basefog::report {

/// A layer's density for a neutral grey, in the roll's light, this many stops from the stock's aim; 0 for a curve that is none.
[[nodiscard]] double density_at(const FilmModel& model, int layer, double stops);
[[nodiscard]] inline int layer_count(const FilmModel& model) { return model.silver ? 1 : 3; }

/// Plots do not reach farther, whatever a record says. Chosen: wider than any film and any exposure on it.
inline constexpr double kLowestStop = -14, kHighestStop = 16;
/// As the film stage found them, in stops, kept to what is drawn; the whole field where it found none.
struct Limits {
    double shadow = kLowestStop, highlight = kHighestStop;
};
[[nodiscard]] Limits limits_of(const RollRecord& roll);

}  // namespace basefog::report
