// SPDX-License-Identifier: GPL-3.0-or-later
// Limits of what a ledger or a layout may say. All Chosen unless marked; wide enough for honest use, so that a slip
// of the pen (a Fahrenheit temperature, a missing decimal point) falls outside.
#pragma once

#include "basefog/core/units.h"

#include <cstddef>

namespace basefog::ledger_room {

/// Largest file read. A sheet takes about 200 bytes in a ledger, so this is some 20,000 sheets; the parsed form of
/// hostile text is up to about fifty times its size.
inline constexpr std::size_t kMaxFileBytes = std::size_t{4} * 1024 * 1024;
/// Deepest nesting of brackets, and most dots in one key. Honest files need 4. Guards the parser's recursion.
inline constexpr int kMaxNesting = 16;
/// Problems listed in one error; the rest are counted.
inline constexpr std::size_t kMaxListed = 20;
/// Problems given a near miss. They are found out of order, so more than are listed; with kMaxHintWork for each it
/// bounds the time hostile text can take to a few seconds.
inline constexpr std::size_t kMaxHinted = 5 * kMaxListed;
/// Pairs of letters compared in search of one near miss: 20,000 names of 10 letters with a word of 10.
inline constexpr std::size_t kMaxHintWork = 2'000'000;
/// Unicode code points in a name (it becomes part of file names), a line of text, and a note.
inline constexpr std::size_t kMaxNameLength = 80, kMaxLineLength = 300, kMaxNoteLength = 4000;

/// Ledgers one may take in, directly or not: decades of years' files.
inline constexpr std::size_t kMostFiles = 200;

inline constexpr int kFirstYear = 1900, kLastYear = 2199;

/// How far an edge set by hand may be off: one standard uncertainty, a third of the millimetre one can miss by eye.
inline constexpr Millimetres kHandEdgeStd{0.1};
/// Advance from frame to frame: 8 perforations of 4.750 mm. Defined: [ISO1007], [SMPTE139].
inline constexpr Millimetres kFramePitch{38.0};
/// Corners further out than this are slips: a half-metre sheet at 9600 dpi has 190,000 px.
inline constexpr double kMaxCoordinate = 1e6;
/// Shortest side of a frame or strip in pixels: below it nothing can be measured.
inline constexpr double kMinSidePx = 8;

}  // namespace basefog::ledger_room
