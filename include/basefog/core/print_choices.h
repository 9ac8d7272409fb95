// SPDX-License-Identifier: GPL-3.0-or-later
// How a positive is wanted, as far as someone said: for a run, a roll or a frame. What is said nearest the frame holds. Values only; what they do to
// a picture stands in docs/stages/invert.md.
#pragma once

#include "basefog/core/units.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// What makes a grey grey.
struct BalanceChoice {
    enum class By {
        roll,    ///< the film as the whole roll shows it
        frame,   ///< the frame's own colours, taken for grey on the whole
        patch,   ///< a part of a picture that was grey
        numbers  ///< given
    };
    By by = By::roll;
    /// Of the patch: shares of the picture's width and height from its top-left corner, as the positive shows it.
    struct Patch {
        double left = 0, top = 0, right = 1, bottom = 1;
        friend bool operator==(const Patch&, const Patch&) = default;
    };
    Patch patch{};
    std::optional<int> frame;  ///< the patch's, by number, of the same roll; otherwise the frame itself
    Rgb<Stops> stops{};        ///< the numbers: taken off the exposure of the red-, green- and blue-sensitive layer
    friend bool operator==(const BalanceChoice&, const BalanceChoice&) = default;
};

/// What someone chose; the rest is left to whoever is further from the frame, and last to the defaults.
struct PrintChoices {
    std::optional<BalanceChoice> balance;
    std::optional<Stops> exposure;     ///< brighter or darker
    std::optional<double> contrast;    ///< slope of the tone curve at mid-grey
    std::optional<Stops> black_point;  ///< from mid-grey down to where the print runs into black
    std::optional<double> saturation;
    [[nodiscard]] bool empty() const { return *this == PrintChoices{}; }
    friend bool operator==(const PrintChoices&, const PrintChoices&) = default;
};

/// Choices for one roll and for single frames of it.
struct RollPrintChoices {
    std::string roll;
    PrintChoices print;
    struct Frame {
        int number = 0;
        PrintChoices print;
        friend bool operator==(const Frame&, const Frame&) = default;
    };
    std::vector<Frame> frames;
    friend bool operator==(const RollPrintChoices&, const RollPrintChoices&) = default;
};

/// Nothing left open: what a positive was made with.
struct PrintValues {
    BalanceChoice balance;
    Stops exposure{0.0};
    double contrast = 1;
    Stops black_point{-7.0};
    double saturation = 1;
    friend bool operator==(const PrintValues&, const PrintValues&) = default;
};
/// `values` with all that `nearer` chose put in its place.
[[nodiscard]] inline PrintValues overlaid(PrintValues values, const PrintChoices& nearer) {
    if (nearer.balance) values.balance = *nearer.balance;
    if (nearer.exposure) values.exposure = *nearer.exposure;
    if (nearer.contrast) values.contrast = *nearer.contrast;
    if (nearer.black_point) values.black_point = *nearer.black_point;
    if (nearer.saturation) values.saturation = *nearer.saturation;
    return values;
}

/// What the choices may be. Chosen: wide enough for honest use, so that a slip of the pen falls outside.
struct PrintLimits {
    static constexpr double kMostStops = 10;  ///< exposure and balance, either way
    static constexpr double kLeastContrast = 0.2, kMostContrast = 5;
    static constexpr double kDeepestBlack = -14, kShallowestBlack = -2;  ///< stops from mid-grey
    static constexpr double kMostSaturation = 4;
    static constexpr double kLeastPatch = 0.005;  ///< share of a side: a few spots of 0.1 mm
};

}  // namespace basefog
