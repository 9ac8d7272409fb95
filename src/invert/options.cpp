// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/options.h"

#include "basefog/core/print_choices.h"

#include <cmath>

namespace basefog {
namespace {
/// NaN is outside every range.
bool within(double value, double low, double high) { return value >= low && value <= high; }
}  // namespace

Result<void> validate(const InvertOptions& options) {
    if (options.output == OutputSpace::profile_file && options.profile_path.empty())
        return fail(ErrorCode::usage, "an output profile was asked for but not named", {}, "give the path of an RGB ICC profile");
    if (!within(options.exposure.value(), -10, 10)) return fail(ErrorCode::usage, "exposure must be from -10 to 10 stops");
    if (!within(options.contrast, 0.2, 5)) return fail(ErrorCode::usage, "contrast must be from 0.2 to 5");
    if (!within(options.saturation, 0, 4)) return fail(ErrorCode::usage, "saturation must be from 0 to 4");
    if (!within(options.black_point.value(), PrintLimits::kDeepestBlack, PrintLimits::kShallowestBlack))
        return fail(ErrorCode::usage, "the black point must be from -14 to -2 stops", {}, "it counts from mid-grey; -7 is the usual");
    if (options.icc_version != 2 && options.icc_version != 4) return fail(ErrorCode::usage, "the ICC version must be 2 or 4");
    if (options.proof_long_side_px < 16 || options.proof_long_side_px > 65500)
        return fail(ErrorCode::usage, "a proof's long side must be from 16 to 65500 pixels");
    if (options.proof_quality < 1 || options.proof_quality > 100) return fail(ErrorCode::usage, "a proof's quality must be from 1 to 100");
    return {};
}

}  // namespace basefog
