// SPDX-License-Identifier: GPL-3.0-or-later
// The seam between decoding and everything else: samples as the file stores them, handed out where they lie.
// Coordinates here are the stored ones; orientation and linearisation come later.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/result.h"

#include <cstddef>
#include <cstdint>
#include <functional>

namespace basefog::scan {

enum class SampleType { u8, u16, f32 };
[[nodiscard]] constexpr std::int64_t bytes_of(SampleType type) { return type == SampleType::u8 ? 1 : type == SampleType::u16 ? 2 : 4; }

/// Samples of a pixel lie together, in this machine's byte order.
struct SampleLayout {
    std::int64_t width = 0, height = 0;
    int samples = 3;  ///< per pixel: 1, 2 (grey and infrared), 3 or 4 (red, green, blue and infrared)
    SampleType type = SampleType::u16;
    [[nodiscard]] std::int64_t pixel_bytes() const { return samples * bytes_of(type); }
    [[nodiscard]] std::int64_t row_bytes() const { return width * pixel_bytes(); }
    [[nodiscard]] std::int64_t total_bytes() const { return height * row_bytes(); }
    friend bool operator==(const SampleLayout&, const SampleLayout&) = default;
};

/// Which regions cost no more than their own pixels.
enum class Reach {
    anywhere,   ///< small blocks, or pixels in memory
    full_rows,  ///< any rows, but each decoded over the whole width
    forward,    ///< rows from the top only
};

/// Called once for each piece of the asked region, pieces in no particular order: the piece (stored coordinates), its
/// first sample, and the bytes from one of its rows to the next.
using Visit = std::function<void(PxRect piece, const std::byte* samples, std::int64_t row_stride)>;

class SampleSource {
public:
    virtual ~SampleSource() = default;
    [[nodiscard]] virtual const SampleLayout& layout() const = 0;
    [[nodiscard]] virtual Reach reach() const = 0;
    /// False when reading this region would mean decoding again what was passed.
    [[nodiscard]] virtual bool ready_for(PxRect region) const = 0;
    /// As ScanReader::will_average.
    virtual void will_average(std::int64_t) {}
    /// As ScanReader::held_bytes.
    [[nodiscard]] virtual std::int64_t held_bytes() const { return 0; }
    /// Covers the region, which lies inside the picture. Errors: unreadable or malformed, with the row.
    [[nodiscard]] virtual Result<void> visit(PxRect region, const Visit& visit) = 0;
};

}  // namespace basefog::scan
