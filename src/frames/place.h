// SPDX-License-Identifier: GPL-3.0-or-later
// One strip from its rough place to its frames' exact corners.
#pragma once

#include "chain.h"
#include "edges.h"

#include <optional>

namespace basefog::frames {

struct FrameFit {
    double u = 0, top = 0;         ///< mm in the strip's pose
    double u_std = 0, v_std = 0;   ///< standard uncertainties, mm
    double width = 0, height = 0;  ///< mm
    FrameKind kind = FrameKind::picture;
    bool placed_by_pitch = false;
    bool dark = false;                       ///< so thin that it was found only by looking where the advance puts a frame
    double left_share = 0, right_share = 0;  ///< of the edge that was seen and agrees
    double top_share = 0, bottom_share = 0;  ///< of the whole strip's upper and lower edges, likewise
    double long_share = 0;                   ///< of this frame's own upper and lower edges
    double evidence = 0;
    double level = 0, spread = 0;  ///< of its density above base
    [[nodiscard]] double confidence() const;
};

struct StripFit {
    StripPlace place;
    Pose pose;
    BaseLevel base;
    std::vector<FrameFit> frames;
    double score = 0;
    double advance = 0;
    bool no_pictures = false;  ///< every frame was laid out by the advance alone
};

/// nullopt: nothing there that can be called film.
[[nodiscard]] std::optional<StripFit> fit_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const FindOptions& options);

}  // namespace basefog::frames
