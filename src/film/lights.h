// SPDX-License-Identifier: GPL-3.0-or-later
// Frames of a roll that were taken in another light than the rest: told in the ledger, or recognised by what several pictures have in common.
#pragma once

#include "film/layers.h"
#include "film/votes.h"

#include <Eigen/Core>

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace basefog::film {

struct Neutral;

/// Frames of one roll in one other light. A neutral's red - green and blue - green lie higher by the shift, log10 H.
struct LightGroup {
    std::size_t roll = 0;
    std::optional<Kelvin> told;  ///< none: recognised
    Pair shift{};                ///< as assumed; what the pictures say of it comes on top (fit_neutrals)
    /// Where the roll's own light is not told, but this one and the stock's balance are: where a neutral lies in this light, shift and all.
    std::optional<Pair> absolute{};
    Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of the shift
    double probability = 1;                                ///< that these frames are in another light, mean over them
};

constexpr int kOwnLight = -1;
/// Which frame is in which light; frames count over each roll, whatever they show.
struct Lights {
    std::vector<LightGroup> groups;
    std::vector<std::vector<int>> group_of;  ///< [roll][frame]: index of a group, or kOwnLight
    [[nodiscard]] int of(std::size_t roll, std::size_t frame) const { return group_of[roll][frame]; }
    [[nodiscard]] bool is_own(std::size_t roll, std::size_t frame) const { return of(roll, frame) == kOwnLight; }
};
/// What the ledger says, and nothing else.
[[nodiscard]] Lights told_lights(std::span<const RollSamples> rolls);

/// Pictures, in order, and the votes they cast (fit_neutrals), with the neutrals these led to.
struct LightEvidence {
    std::span<const RollSamples> rolls;
    const std::vector<LayerPicture>& pictures;
    const Scenes& scenes;
    const std::vector<std::optional<CastVote>>& casts;
    const std::vector<Neutral>& neutrals;
};
/// `told`, and a group more on each roll where runs of frames lie apart from the rest as daylight and a lamp's light do: a hidden Markov chain along the
/// roll. At most one to a roll, and only on strong evidence: a picture or two of warm subjects are none.
[[nodiscard]] Lights recognise_lights(const Lights& told, const LightEvidence& evidence);

}  // namespace basefog::film
