// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers of the scan module, each with its reason.
#pragma once

#include <cstdint>

namespace basefog::scan {

/// A strip decoded whole may take this share of ScanOptions::memory_bytes; a larger one is read row by row.
/// Chosen: a band of rows then touches a few strips at most and all of them stay in the cache. Safe from 4 to 64;
/// moved by the tests of huge strips.
inline constexpr std::int64_t kBlockShare = 8;

/// Edge of the square tiles in which a file is laid out on disk, in pixels. Chosen: a tile of 16-bit RGB is 384 KiB,
/// long enough to be read at full speed, small enough that a frame touches little outside itself. Safe from 64 to 1024.
inline constexpr std::int64_t kSpillTile = 256;

/// The least ScanOptions::memory_bytes. Chosen: below it, a row of blocks of an ordinary scan would not fit.
inline constexpr std::int64_t kLeastMemory = 64 * 1024;

/// No single allocation of the TIFF library may exceed the larger of memory_bytes and this. Chosen: the directory of a
/// sound file of two thousand million pixels stays far below.
inline constexpr std::int64_t kLeastLibraryAllocation = 64 * 1024 * 1024;

/// A resolution outside these is a leftover of some program, not that of a film scan. Chosen: at 100 dpi a frame is 142
/// pixels wide; optical film scanners end near 10,000. Many programs write 72 or 96 where they know nothing.
inline constexpr double kLeastDpi = 100, kMostDpi = 25000;

/// Resolutions along and across may differ by this share before the file's owner is told. Chosen: rounding of
/// pixels per centimetre to whole numbers stays below 0.5 %.
inline constexpr double kUnequalResolution = 0.01;

/// A linear sample at or above this is at the file's full scale. Chosen: above the code next to the largest of 16 bits
/// (0.99998) under any gamma from 0.3 to 4, and below the rounding of a profile's curve at its end.
inline constexpr float kFullScale = 1.0f - 1e-6f;

/// Samples are gamma-encoded with an exponent between these. Chosen: film densities survive none outside.
inline constexpr double kLeastGamma = 0.3, kMostGamma = 4.0;

/// The most bytes that one stored byte can decode to. A header claiming more has no data behind it.
/// Defined by the formats: PackBits repeats a byte 128 times in 2 bytes; Deflate copies 258 bytes in 2 bits;
/// LZW strings grow by one byte per 12-bit code up to 4096 codes. Zstandard and LZMA are only bounded by their block
/// sizes, so a generous figure stands for them (Chosen). JPEG: an 8 x 8 block of 64 samples takes at least 2 bits of
/// Huffman code in a sequential file and is doubled four times by subsampled colour.
inline constexpr std::int64_t kExpansionPackBits = 64, kExpansionDeflate = 1032, kExpansionLzw = 2731, kExpansionJpeg = 1024, kExpansionOther = 50'000;

/// The most pages looked at for infrared. Chosen: scanners write two or three.
inline constexpr int kMostPages = 16;

/// PNG and JPEG are taken up to this many pixels, and edges up to this. Chosen: 6 GB at 16 bits. libpng's own limit of an edge is just below.
inline constexpr std::int64_t kMostPicturePixels = std::int64_t{1} << 30, kMostPictureEdge = std::int64_t{1} << 20;

/// Metadata in PNG and JPEG headers larger than this is passed over. Chosen: profiles end at some megabytes.
inline constexpr std::int64_t kMostMetadata = 64 * 1024 * 1024;

}  // namespace basefog::scan
