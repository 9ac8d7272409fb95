// SPDX-License-Identifier: GPL-3.0-or-later
// Findings: what a measurement has to say about the film. Bad film is a finding, never an error.
#pragma once

#include <string>
#include <utility>
#include <vector>

namespace basefog {

enum class Severity {
    note,     ///< worth knowing
    caution,  ///< a result is less certain than usual, or the film wants attention
    serious,  ///< something is wrong with the film or the scan
};

/// Where a finding applies. Empty or -1 means "not that narrow". Indices count from 0.
struct Where {
    std::string scan;  ///< file name as given
    int strip = -1;
    int frame = -1;  ///< index within the strip
    std::string roll;
    friend bool operator==(const Where&, const Where&) = default;
};

struct Finding {
    Severity severity = Severity::note;
    std::string code;     ///< stable, kebab-case, e.g. "bare-light-missing"
    std::string message;  ///< one or two plain sentences for the photographer
    Where where;
    std::vector<std::pair<std::string, double>> numbers;  ///< name (with unit, e.g. "veil_density") and value
    friend bool operator==(const Finding&, const Finding&) = default;
};

}  // namespace basefog
