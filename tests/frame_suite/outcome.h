// SPDX-License-Identifier: GPL-3.0-or-later
// What became of one random sheet: each frame that is on it, found or not, and each find that is not on it.
#pragma once

#include <nlohmann/json.hpp>

#include <cstdint>
#include <string>
#include <vector>

namespace basefog::suite {

struct FrameOutcome {
    int strip = 0, number = 0;
    std::string content;  ///< picture, blank, fogged
    std::vector<std::string> difficulties;
    double visible_share = 1;
    bool edges_seen =
        true;  ///< of its ends, and of its long sides, both show a density step, or one does and the strip's other frames tell how far apart they are
    bool found = false;
    std::string found_kind;
    double confidence = 0, edge_std_mm = 0;
    double error_mm = 0;  ///< of the worst corner
};

/// A found frame that no frame on the sheet explains.
struct StrayOutcome {
    std::string kind;
    double confidence = 0;
    bool excused = false;  ///< lies on a frame of which less than half shows
};

struct SheetOutcome {
    std::uint64_t seed = 0;
    std::string failure;  ///< why nothing was found at all
    std::vector<std::string> difficulties;
    std::vector<FrameOutcome> frames;
    std::vector<StrayOutcome> strays;
    double draw_seconds = 0, find_seconds = 0;
};

/// Must it be found? Pictures of which at least half shows.
[[nodiscard]] inline bool wanted(const FrameOutcome& frame) { return frame.content == "picture" && frame.visible_share >= 0.5; }
/// Does its corner error count against the limit? Where an edge does not show and nothing else tells it, nothing can place it so finely.
[[nodiscard]] inline bool measurable(const FrameOutcome& frame) { return wanted(frame) && frame.found && frame.edges_seen; }

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(FrameOutcome, strip, number, content, difficulties, visible_share, edges_seen, found, found_kind, confidence, edge_std_mm,
                                   error_mm)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(StrayOutcome, kind, confidence, excused)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(SheetOutcome, seed, failure, difficulties, frames, strays, draw_seconds, find_seconds)

/// All wanted frames missed: for a sheet on which the finder stopped.
[[nodiscard]] SheetOutcome failed(std::uint64_t seed, const std::string& why);

}  // namespace basefog::suite
