// SPDX-License-Identifier: GPL-3.0-or-later
// How near two rolls stand to each other, and so how much of what is not known of them is the same for both.
#pragma once

#include "basefog/film/types.h"

#include <cstddef>
#include <span>
#include <vector>

namespace basefog::film {

/// From the nearest on. Rolls fitted together are at least alike.
enum class Kinship { same_roll, same_session, same_stock, alike };

/// A variance, or a covariance matrix, in parts by what causes them.
template <class T>
struct PartsByCause {
    T scanner_and_kind{};  ///< the same for all that are alike: the scanner's bands, the kind of film and of process
    T stock{};             ///< the same for rolls of one stock: its emulsion, its age
    T session{};           ///< the same for rolls of one session: the bath
    T roll{};              ///< a roll's own
    /// What two rolls have in common.
    [[nodiscard]] T common(Kinship k) const {
        switch (k) {
            case Kinship::same_roll:
                return scanner_and_kind + stock + session + roll;
            case Kinship::same_session:
                return scanner_and_kind + stock + session;
            case Kinship::same_stock:
                return scanner_and_kind + stock;
            case Kinship::alike:
                break;
        }
        return scanner_and_kind;
    }
};
/// As shares, which add to 1.
using VarianceParts = PartsByCause<double>;

[[nodiscard]] inline Kinship kinship(std::span<const RollSamples> rolls, std::size_t a, std::size_t b) {
    if (a == b) return Kinship::same_roll;
    const RollFacts &fa = rolls[a].facts, &fb = rolls[b].facts;
    if (fa.stock.empty() || fa.stock != fb.stock) return Kinship::alike;
    return !fa.session.empty() && fa.session == fb.session ? Kinship::same_session : Kinship::same_stock;
}

}  // namespace basefog::film
