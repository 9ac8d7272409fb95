// SPDX-License-Identifier: GPL-3.0-or-later
// Rolls of random stocks on random scanners, as the film stage gets them, with the truth. Spectra and curves are the synthetic film's; nothing here
// calls the library's.
#pragma once

#include "basefog/film/types.h"
#include "support/random_stock.h"
#include "support/synthetic_random.h"
#include "support/synthetic_scenes.h"

#include <array>
#include <cstdint>
#include <vector>

namespace basefog::test {

/// A stock in a scanner's eyes.
struct SeenStock {
    synthetic::RandomStock random;
    synthetic::FilmOptics optics;
    std::array<double, 4> base;
    synthetic::Triple offset;  ///< of the layers in the roll's light, log10 H
    double light = 5500;
    SeenStock(std::uint64_t seed, double light_kelvin);
    /// Channel densities above base of a neutral, log10 H from an 18 % grey at box speed.
    [[nodiscard]] std::array<double, 3> neutral(double log_h) const;
    [[nodiscard]] std::array<double, 3> density(const std::array<double, 3>& scene, double stops) const;
    /// Density per log10 H of a neutral in each channel, over the middle of the straight line.
    [[nodiscard]] std::array<double, 3> slopes() const;
};

struct Shot {
    synthetic::SceneSpec scene;
    double stops = 0;  ///< true exposure against the meter at box speed
    FrameNote note;
};
constexpr int kSpotsAcross = 180, kSpotsDown = 120;
[[nodiscard]] FrameSamples shoot(const SeenStock& film, const Shot& shot, synthetic::Random& random);
/// A wedge of `steps` steps along the frame, densest at the left.
[[nodiscard]] FrameSamples shoot_wedge(const SeenStock& film, int steps, double step, double highest, synthetic::Random& random);

/// Two rolls of one stock out of one bath, the second rated slower: scenes of their own and some taken on both; a bracket on the first.
struct RollPair {
    SeenStock film;
    std::vector<RollSamples> rolls;
    std::vector<std::vector<Shot>> shots;
};
[[nodiscard]] RollPair draw_pair(std::uint64_t seed);

}  // namespace basefog::test
