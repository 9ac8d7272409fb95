// SPDX-License-Identifier: GPL-3.0-or-later
// Neutrals that were photographed say how a roll's layers depart from the form that curves are given.
#pragma once

#include "film/wedge.h"

#include <vector>

namespace basefog::film {

/// Bends the curves so that the neutrals come out neutral from shadow to highlight, as far as they can be trusted: a Gaussian process in exposure for
/// each layer, about the layers' mean, which stays. Fewer than four neutrals change nothing. Balance as in the model.
void bend_to_neutrals(FilmModel& model, const std::vector<SeenNeutral>& neutrals);

}  // namespace basefog::film
