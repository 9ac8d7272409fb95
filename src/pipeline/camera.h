// SPDX-License-Identifier: GPL-3.0-or-later
// What a camera's shots of one roll have in common: the lens they were taken with, and whether camera and settings stayed the same.
#pragma once

#include "plan.h"

#include "basefog/core/observer.h"
#include "basefog/frames/measure_lens.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog::pipeline {

/// Looks at the group's close-ups before they are measured. Tells the lens of each roll from some of its shots and notes it in their scan options, where
/// none was given; what cannot be opened is left to the measuring. Adds findings: `lens-straightened`, `falloff-estimated`, `mixed-cameras`, `mixed-settings`,
/// `light-frame-settings`. Errors: interrupted.
[[nodiscard]] Result<void> prepare_close_ups(Plan& plan, const std::vector<int>& group, const RunOptions& options, std::vector<Finding>& findings,
                                             Observer& observer);

/// "1/50 s against 1/25 s, f/8 against f/11": what differs between two shots' settings; empty where nothing does.
[[nodiscard]] std::string differences(const CameraSettings& a, const CameraSettings& b);
/// Stops by which b got more exposure than a, as far as the settings tell.
[[nodiscard]] double more_exposure(const CameraSettings& a, const CameraSettings& b);
/// What to say of a lens that was told from `things` and undone, without its place. `shots`: it was told on.
[[nodiscard]] Finding lens_finding(const LensFit& fit, const std::string& things, std::size_t shots);
/// What it means that a light frame was taken otherwise: `stops` more than the film, as far as noted.
[[nodiscard]] std::string light_frame_words(const std::string& differ, double stops);
/// What an open file says of itself, without its pixels; nothing where it cannot be opened.
[[nodiscard]] std::optional<ScanInfo> info_of(const std::string& path, const ScanOptions& options);

/// What a close-up's overview is to be like, within `wanted`.
[[nodiscard]] OverviewOptions close_up_overview(OverviewOptions wanted);

}  // namespace basefog::pipeline
