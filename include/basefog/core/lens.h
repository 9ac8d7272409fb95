// SPDX-License-Identifier: GPL-3.0-or-later
// What a camera's lens does to straight lines, and where it puts what a perfect one would have put elsewhere.
#pragma once

#include "basefog/core/geometry.h"

#include <cstdint>

namespace basefog {

/// How a lens bends what it shows: a place that a perfect lens would put at u, counted from the picture's middle in halves of its diagonal, is put at
/// u (1 + k1 r^2 + k2 r^4), r = |u|. k1 < 0: barrel, k1 > 0: pincushion. Brown's radial terms; decentring and a middle elsewhere are not described.
struct LensModel {
    double k1 = 0, k2 = 0;
    friend bool operator==(const LensModel&, const LensModel&) = default;
};

/// A lens model over a picture of a certain size, in its continuous pixels. The model must be sound.
class LensView {
public:
    LensView(const LensModel& lens, std::int64_t width, std::int64_t height);
    /// Where the shot shows what the straight picture has at `perfect`.
    [[nodiscard]] PointPx seen(PointPx perfect) const;
    /// The other way round.
    [[nodiscard]] PointPx perfect(PointPx seen) const;

private:
    LensModel lens_;
    PointPx middle_;
    double half_;
};

/// Whether a model is one of a lens: it folds nothing over and moves nothing by more than a tenth of its distance from the middle.
[[nodiscard]] bool is_sound(const LensModel& lens);

}  // namespace basefog
