// SPDX-License-Identifier: GPL-3.0-or-later
// A shot handed out as if its lens had not bent it.
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// Pixels of the straight picture, of the shot's size and middle, each interpolated between sixteen of the shot (cubic convolution [Keys1981]).
/// What a lens that bends inwards has pushed out of the picture repeats its outermost pixels. Errors: the shot's.
[[nodiscard]] std::unique_ptr<ScanReader> undo_lens(std::unique_ptr<ScanReader> shot, const LensModel& lens);

}  // namespace basefog::scan
