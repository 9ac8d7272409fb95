// SPDX-License-Identifier: GPL-3.0-or-later
// One frame from its part of the scan to its files.
#pragma once

#include "measure_sheet.h"
#include "outputs.h"

#include "basefog/core/for_each.h"
#include "basefog/core/pixel_source.h"
#include "basefog/core/scratch.h"
#include "basefog/invert/inverter.h"
#include "basefog/mend/types.h"

#include <string>

namespace basefog::pipeline {

/// Which frame of a sheet, and everything it needs but its pixels.
struct FrameTask {
    int strip = 0, frame = 0;
    PxRect source;
    const RollRecord* roll = nullptr;
};

/// What it may use.
struct FrameMeans {
    Scratch& scratch;
    ForEach for_each;
    std::int64_t memory_bytes = 0;  ///< beside the scratch
};

struct MadeFrame {
    MendCounts mended;
    std::string thumbnail_jpeg;
    Image<EncodedRgb8> thumbnail;
};

/// Mends and renders band by band, whatever the frame's size; writes every file the frame's record names. Errors: unwritable; the source's.
[[nodiscard]] Result<MadeFrame> make_frame(const FrameTask& task, const PixelSource& source, const MeasuredSheet& sheet, const OutputProfile& profile,
                                           const RunOptions& options, const OutputFolder& output, const FrameMeans& means);

/// "12.5": a number as short as it can be.
[[nodiscard]] std::string number_text(double value);

}  // namespace basefog::pipeline
