// SPDX-License-Identifier: GPL-3.0-or-later
// Code values to linear light, 0 = none and 1 = the file's full scale.
#pragma once

#include "basefog/core/image.h"
#include "basefog/scan/types.h"
#include "scan/samples.h"

#include <array>
#include <functional>
#include <memory>
#include <vector>

namespace basefog::scan {

/// Code 0..1 to linear light. Defined over all finite numbers; 0 at 0, but where a sensor's black lies higher.
using Curve = std::function<double(double)>;
/// The curve of a stated encoding; linear for Kind::icc_profile, which has its own.
[[nodiscard]] Curve curve_of(const Encoding& encoding);

/// Three codes 0..1 (one for grey files, with 1 value out) to as many linear values, for `count` pixels.
using ColourTable = std::function<void(const float* codes, float* linear, std::int64_t count)>;

struct Linearisation {
    std::array<Curve, 3> colour;  ///< used when there is no table
    ColourTable table;            ///< for a profile that is a table; empty otherwise
    Curve infrared;
    bool identity = false;       ///< all curves are linear
    bool white_is_zero = false;  ///< codes are turned round before anything else
};

/// Turns stored samples into pixels: grey becomes r = g = b; the sample after the colours is infrared.
/// A float sample that is not a number, or endless, becomes 0 or full scale.
class Lineariser {
public:
    /// `colours` (1 or 3) of the stored samples are used, and the one after them if it is infrared.
    Lineariser(Linearisation how, const SampleLayout& layout, int colours, bool keep_infrared);
    /// `count` pixels from `samples` to out[0], out[step], ... (step may be negative or a row's stride).
    void convert(const std::byte* samples, std::int64_t count, LinearRgbi* out, std::int64_t step) const;
    [[nodiscard]] const SampleLayout& layout() const { return layout_; }

private:
    template <class Sample>
    void convert_by_curves(const Sample* samples, std::int64_t count, LinearRgbi* out, std::int64_t step) const;
    template <class Sample>
    void convert_by_table(const Sample* samples, std::int64_t count, LinearRgbi* out, std::int64_t step) const;
    [[nodiscard]] float linear(int channel, std::uint8_t code) const { return (*tables_[static_cast<std::size_t>(channel)])[code]; }
    [[nodiscard]] float linear(int channel, std::uint16_t code) const { return (*tables_[static_cast<std::size_t>(channel)])[code]; }
    [[nodiscard]] float linear(int channel, float code) const;

    Linearisation how_;
    SampleLayout layout_;
    int colours_;
    bool infrared_;
    std::array<std::shared_ptr<const std::vector<float>>, 4> tables_;  ///< by code, for 8 and 16 bits
};

}  // namespace basefog::scan
