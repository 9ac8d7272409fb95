// SPDX-License-Identifier: GPL-3.0-or-later
// A balance out of one picture, where someone asks for it instead of the roll's. Sum 0, as the film's own: it moves colour, not exposure.
#pragma once

#include "basefog/core/print_choices.h"
#include "basefog/film/types.h"

#include <optional>

namespace basefog {

/// Makes a part of the picture that was grey come out grey: the medians of the layers' exposures over the patch. nullopt where the patch holds no usable
/// spot, or nothing above base.
[[nodiscard]] std::optional<Rgb<LogExposure>> balance_of_patch(const FilmModel& model, const FrameSamples& frame, BalanceChoice::Patch patch);
/// Makes the picture grey on the whole: the robust centre of the layers' differences, so that a strong colour on part of it pulls little. nullopt as above.
[[nodiscard]] std::optional<Rgb<LogExposure>> balance_of_picture(const FilmModel& model, const FrameSamples& frame);

}  // namespace basefog
