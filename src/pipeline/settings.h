// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/ledger/layout_file.h"
#include "basefog/pipeline/run.h"

#include <string>
#include <utility>
#include <vector>

namespace basefog::pipeline {

/// As on the command line; of a profile file, its path.
[[nodiscard]] std::string output_name(const InvertOptions& options);
[[nodiscard]] std::string compression_name(Compression compression);

/// The options a run can be repeated with, named as on the command line.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> settings_of(const RunOptions& options);

/// The layouts of every scan that was measured, for correction by hand.
[[nodiscard]] std::vector<NamedLayout> layouts_of(const RunRecord& record);

}  // namespace basefog::pipeline
