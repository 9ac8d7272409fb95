// SPDX-License-Identifier: GPL-3.0-or-later
// A look at one frame as its positive would be, while someone chooses how it is wanted. Values only.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/print_choices.h"
#include "basefog/core/units.h"

#include <string>

namespace basefog {

struct ProofWish {
    std::string scan;             ///< as the run names it
    Quad corners{};               ///< of the picture, pixels of the scan
    PrintValues print;            ///< as it is wanted
    int long_side = 0;            ///< of the proof, pixels; never enlarged
    /// True: every pixel of the positive is made and then reduced, as a run does. False: the negative is reduced first, which is many times faster and
    /// differs by what grain does to a mean.
    bool exact = false;
    /// Its balance was chosen for the roll: in another light than the roll's, that light's difference comes on top.
    bool balance_of_roll = true;
};

struct Proof {
    std::string jpeg;           ///< sRGB
    bool coloured = true;       ///< false: silver, with nothing to balance
    Rgb<Stops> balance{};       ///< taken off the exposures of the red-, green- and blue-sensitive layer ...
    Rgb<Stops> roll_balance{};  ///< ... what the roll's own would take off in its own light ...
    Rgb<Stops> light_shift{};   ///< ... and how much more in the frame's; 0 mostly
    std::string note;           ///< why the balance asked for was not to be had; else empty
};

}  // namespace basefog
