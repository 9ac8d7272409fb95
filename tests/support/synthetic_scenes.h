// SPDX-License-Identifier: GPL-3.0-or-later
// Invented scenes, computed. Values are linear light in the sRGB primaries, as seen balanced for the scene's own
// light: grey is r = g = b, and 0.18 is what the meter aims at. Lamps and glints go far beyond 1.
#pragma once

#include <opencv2/core.hpp>

#include <cstdint>
#include <string>

namespace synthetic {

enum class SceneKind {
    blank,   ///< nothing was exposed
    fogged,  ///< light all over, no picture
    chart,   ///< 24 patches, 6 x 4
    wedge,   ///< 21 steps of 0.15 log H, the most exposed at the left
    grey,    ///< an even 18 % grey
    hills,
    coast,
    meadow,  ///< flowers, close
    forest,
    snow,
    dusk,
    still_life,
    crates,  ///< fruit on a market stall
    room,    ///< lamp-lit
    street,  ///< at night
    portrait,
    houses,  ///< painted, by the water
    stairs,
    blocks,  ///< boxes and spheres in many colours and greys
    // Patterns rather than scenes: quick to compute, and exposed as they are, not metered.
    texture,     ///< clouds of light and dark, coloured
    shapes,      ///< rectangles and discs, some across the edges
    night,       ///< all but black, a few lamps
    high_key,    ///< all but white
    photograph,  ///< a file's: taken as sRGB and exposed as it is; cut to 3:2, laid on its side if it stands upright
};

struct SceneSpec {
    SceneKind kind = SceneKind::hills;
    std::uint64_t seed = 1;  ///< another seed, another such scene
    int width = 0;           ///< pixels; 0: what the sheet's resolution asks for
    std::string file = {};   ///< of a photograph
};

[[nodiscard]] std::string name(SceneKind kind);
/// "hills-3"; kinds that exist once only have no number.
[[nodiscard]] std::string name(const SceneSpec& spec);
[[nodiscard]] bool is_picture(SceneKind kind);

/// CV_32FC3 (r, g, b), `width` x `width` * 2 / 3. Empty for blank. Kept, so that the same scene is computed once. Throws std::runtime_error when a
/// photograph cannot be read.
[[nodiscard]] cv::Mat render_scene(const SceneSpec& spec, int width);

}  // namespace synthetic
