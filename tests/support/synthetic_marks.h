// SPDX-License-Identifier: GPL-3.0-or-later
// Latent edge marks: what the maker exposed along the film's edges. Private to the generator; the conventions stand
// with EdgeMarks in synthetic_film.h.
#pragma once

#include "support/synthetic_film.h"

#include <cstdint>
#include <vector>

namespace synthetic {

class EdgePrint {
public:
    /// `first_number` is that of the strip's first frame, `pitch` the advance from frame to frame.
    EdgePrint(const StripSpec& strip, int first_number, double pitch, double length, std::uint64_t seed);
    /// Share of a spot of `spot` mm that a mark covers.
    [[nodiscard]] double at(double s, double t, double spot) const;
    /// Symbols of the key code that lie wholly on the strip.
    [[nodiscard]] const std::vector<KeyCodeTruth>& codes() const { return whole_; }

private:
    struct Symbol {
        double s0;
        std::vector<bool> modules;
    };
    [[nodiscard]] double number(double s, double t) const;
    [[nodiscard]] double bars(double s, double t) const;
    [[nodiscard]] double code(double s, double t) const;

    const StripSpec& strip_;
    int first_number_;
    double pitch_;
    std::uint64_t seed_;
    std::vector<Symbol> symbols_;
    std::vector<KeyCodeTruth> whole_;
};

}  // namespace synthetic
