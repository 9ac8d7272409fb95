// SPDX-License-Identifier: GPL-3.0-or-later
// Where a neutral lies on each roll: the layers' speeds and slopes against green's, from what is told and from all pictures of all rolls.
#pragma once

#include "basefog/core/for_each.h"
#include "film/kinship.h"
#include "film/lights.h"
#include "film/votes.h"
#include "film/wedge.h"

#include <Eigen/Core>

#include <array>
#include <functional>
#include <span>
#include <string>
#include <vector>

namespace basefog::film {

/// A neutral at height z above the toe has red - green = speed[0] + tilt[0] * z, blue - green likewise, under the prior's curves.
struct Neutral {
    Pair speed{}, tilt{};
    /// Of (speed red, tilt red, speed blue, tilt blue).
    Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();
    int n_votes = 0, n_brackets = 0, n_neutrals = 0;
    [[nodiscard]] NeutralLine line() const;
    [[nodiscard]] Pair at(double height) const { return line().at(height); }
    [[nodiscard]] Pair std_at(double height) const;
};

/// What is told of stock, light and age, before the pictures are asked; its covariance by cause.
struct NeutralPrior {
    Pair speed{}, tilt{};
    PartsByCause<Eigen::Matrix4d> parts{Eigen::Matrix4d::Zero(), Eigen::Matrix4d::Zero(), Eigen::Matrix4d::Zero(), Eigen::Matrix4d::Zero()};
};
[[nodiscard]] NeutralPrior assume_neutral(const RollFacts& facts, const std::array<std::array<double, 2>, 2>& tilt_covariance);
[[nodiscard]] std::string basis_of_assumed(const RollFacts& facts);

/// The evidence of all rolls: pictures with their rolls, scenes over all of them, and neutrals that were photographed as such.
struct NeutralEvidence {
    std::span<const RollSamples> rolls;
    const std::vector<LayerPicture>& pictures;
    const Scenes& scenes;
    const std::vector<KnownNeutral>& neutrals;
    const Lights& lights;
    /// What was found by earlier looks, whose tilt has been put into the curves, wholly or in good part. Empty at first: then the curves are only assumed,
    /// and seen through them a neutral may tilt by a half.
    const std::vector<Neutral>& so_far;
    const ForEach& for_each;
    [[nodiscard]] bool first_look() const { return so_far.empty(); }
    void each_picture(const std::function<void(std::size_t)>& work) const { for_each.all(pictures.size(), work); }
};
/// What another light moves a neutral by, red - green and blue - green, and its sigma; log10 H.
struct FoundShift {
    Pair shift{}, sigma{};
    int n_votes = 0;
};
struct NeutralFit {
    std::vector<Neutral> rolls;
    std::vector<FoundShift> lights;              ///< for each of the evidence's groups
    std::vector<std::optional<CastVote>> casts;  ///< of each picture, about the neutral found
};
/// One joint estimate for all rolls and their other lights: priors, tied by kinship, combined with every scene's votes, by inverse variance, votes far
/// from the rest weighing little.
[[nodiscard]] NeutralFit fit_neutrals(const std::vector<NeutralPrior>& priors, const NeutralEvidence& evidence);

}  // namespace basefog::film
