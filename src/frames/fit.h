// SPDX-License-Identifier: GPL-3.0-or-later
// What is known of a strip while it is being fitted.
#pragma once

#include "chain.h"
#include "perforations.h"

#include <algorithm>
#include <optional>

namespace basefog::frames {

struct FrameFit {
    double u = 0, top = 0;         ///< mm in the strip's pose
    double u_std = 0, v_std = 0;   ///< standard uncertainties, mm
    double width = 0, height = 0;  ///< mm
    FrameKind kind = FrameKind::picture;
    bool placed_by_pitch = false;
    bool dark = false;                        ///< so thin that it was found only by looking where the advance puts a frame
    bool cut_start = false, cut_end = false;  ///< the film ends within it
    double left_share = 0, right_share = 0;   ///< of the edge that was seen and agrees
    double top_share = 0, bottom_share = 0;   ///< of the whole strip's upper and lower edges, likewise
    double long_share = 0;                    ///< of this frame's own upper and lower edges
    double evidence = 0;
    double level = 0, spread = 0;  ///< of its density above base
    [[nodiscard]] double end() const { return u + width; }
    [[nodiscard]] double confidence() const;
    /// The same for choosing between scales: at a wrong one, opposite edges of the pictures cannot both be met.
    [[nodiscard]] double quality() const;
};

struct StripFit {
    StripPlace place;
    Pose pose;
    Gauge gauge;
    double lead = 0;  ///< natural log by which this format explains the strip better than others
    FormatPrior format_scores{};
    BaseLevel base;
    std::vector<FrameFit> frames;
    std::optional<Lattice> lattice;
    double curve_std = 0;  ///< of the pose's curve, 1/mm
    double score = 0;
    double advance = 0;
    bool no_pictures = false;  ///< every frame was laid out by the advance alone
};

/// The stretch of a frame that is on the film.
[[nodiscard]] inline double first_on_film(const StripFit& fit, const FrameFit& f) { return std::max(f.u, fit.place.u0); }
[[nodiscard]] inline double last_on_film(const StripFit& fit, const FrameFit& f) { return std::min(f.end(), fit.place.u1); }
/// Area, in overview pixels, of pictures whose edges were met. What is on the sheet sets its most, at whatever scale and light it is looked at.
[[nodiscard]] double explained_area(const StripFit& fit);
/// mm either side of an edge that belong to neither level.
[[nodiscard]] inline double guard_for(const Pose& pose, double least) { return std::max(least, 2.2 / pose.px_per_mm()); }

}  // namespace basefog::frames
