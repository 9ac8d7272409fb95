// SPDX-License-Identifier: GPL-3.0-or-later
// Strips from a camera that winds evenly: where its advance expects each frame.
#pragma once

#include "fit.h"

#include <optional>

namespace basefog::frames {

/// An advance that most frames of a strip keep to a tenth of a millimetre or so.
struct EvenAdvance {
    double step = 0;
    std::vector<bool> kept;  ///< frames that lie up to three such steps from another
};
/// nullopt: the camera winds unevenly, or too few frames tell.
[[nodiscard]] std::optional<EvenAdvance> even_advance(const StripFit& fit);

/// Where the advance puts a frame, by the neighbours that keep it.
struct Expected {
    double u = 0;
    bool from_both = false;  ///< by the frames right before and right after
};
[[nodiscard]] std::optional<Expected> expected_at(const StripFit& fit, const EvenAdvance& even, std::size_t i);

}  // namespace basefog::frames
