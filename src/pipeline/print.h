// SPDX-License-Identifier: GPL-3.0-or-later
// How each positive is wanted: what was said for the run, the roll and the frame put together, and balances that need a picture.
#pragma once

#include "basefog/film/types.h"
#include "basefog/ledger/settings_file.h"
#include "basefog/pipeline/run.h"

#include <string>
#include <vector>

namespace basefog::pipeline {

[[nodiscard]] PrintValues print_of_run(const RunOptions& options);
[[nodiscard]] PrintValues print_of_roll(const RunOptions& options, const std::string& roll);
[[nodiscard]] PrintValues print_of_frame(const RunOptions& options, const std::string& roll, int number);

/// The options a frame is inverted with.
[[nodiscard]] InvertOptions invert_options_of(const RunOptions& options, const PrintValues& print);

/// The balance each frame of a roll is shown with; `prints` belong to `frames`. Where a picture or patch that was named says nothing, the roll's holds and
/// that is a finding.
[[nodiscard]] std::vector<Rgb<LogExposure>> balances_of(const RollFilm& film, const std::vector<FrameSamples>& frames, const std::vector<PrintValues>& prints,
                                                        const PrintValues& of_roll, std::vector<Finding>& findings);

/// All choices the run's positives were made with, as a file that gives them again.
[[nodiscard]] std::string settings_file_of(const RunRecord& record, const RunOptions& options);

}  // namespace basefog::pipeline
