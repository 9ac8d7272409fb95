// SPDX-License-Identifier: GPL-3.0-or-later
// Frames that show something known: a step wedge, a grey card, a colour chart. They measure what pictures can only suggest.
#pragma once

#include "film/chart.h"
#include "film/layers.h"
#include "film/lights.h"
#include "film/votes.h"

#include <optional>
#include <span>
#include <vector>

namespace basefog::film {

/// The steps found along a frame, least exposed first, exposures counted from the first in steps of `step` log10 H; steps that cannot be told
/// from their neighbours are left out. None when fewer than five are found or they do not climb one way.
[[nodiscard]] std::optional<std::vector<WedgeStep>> read_wedge(const FrameSamples& frame, double step);
/// Density above base of a card that fills the middle of the frame; none when hardly a spot is usable.
[[nodiscard]] std::optional<Triple> read_card(const FrameSamples& frame);

/// What was read off all rolls' wedges and cards.
struct WedgeReading {
    std::size_t roll = 0, frame = 0;
    std::vector<WedgeStep> steps;
};
struct CardReading {
    std::size_t roll = 0, frame = 0;
    Triple density{};
};
struct Targets {
    std::vector<WedgeReading> wedges;
    std::vector<CardReading> cards;
    std::vector<ChartReading> charts;
};
[[nodiscard]] Targets read_targets(std::span<const RollSamples> rolls);

/// A neutral read through a roll's model: its height above the toe and its colour, log10 H.
struct KnownNeutral {
    std::size_t roll = 0, frame = 0;
    double height = 0;
    Pair colour{};
    double sigma = 0;  ///< of each
};
/// A neutral that a roll's target shows, as its model has it: layers' exposures and how sure each is, log10 H.
struct SeenNeutral {
    Triple exposure{};  ///< the target's own colour taken off
    Triple own{};       ///< that colour
    Triple sigma{};
};
/// Steps of wedges and greys of charts in the roll's own light, each told from base in every layer, lowest first.
[[nodiscard]] std::vector<SeenNeutral> seen_neutrals(const Targets& targets, const Lights& lights, std::size_t roll, const FilmModel& model);

/// Layers' exposures of a density.
[[nodiscard]] Triple layer_exposures(const Triple& density, const Matrix3& dye_from_channel, const std::array<CurveTable, 3>& curves);
/// Steps, cards and charts' greys on the straight line of every layer.
[[nodiscard]] std::vector<KnownNeutral> known_neutrals(const Targets& targets, std::span<const FilmModel> models);

}  // namespace basefog::film
