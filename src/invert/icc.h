// SPDX-License-Identifier: GPL-3.0-or-later
// lcms2 objects with owners, and the built-in profiles. Private to the invert stage.
#pragma once

#include "basefog/core/result.h"
#include "basefog/invert/options.h"

#include <lcms2.h>
#include <memory>
#include <string>
#include <string_view>

namespace basefog::invert {

struct CloseProfile {
    void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct DeleteTransform {
    void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
struct FreeCurve {
    void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
};
using IccProfile = std::unique_ptr<void, CloseProfile>;
using IccTransform = std::unique_ptr<void, DeleteTransform>;
using IccCurve = std::unique_ptr<cmsToneCurve, FreeCurve>;

/// A built-in profile (not OutputSpace::profile_file) as the bytes to embed, ICC version 4 or 2: the same bytes on every day and machine.
[[nodiscard]] const std::string& built_in_profile(OutputSpace space, int version = 4);
[[nodiscard]] const char* built_in_name(OutputSpace space);

/// Null when lcms2 does not accept the bytes.
[[nodiscard]] IccProfile open_profile(std::string_view bytes);
[[nodiscard]] std::string profile_name(const IccProfile& profile);

}  // namespace basefog::invert
