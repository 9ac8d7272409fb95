// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/outcome.h"

#include "support/random_sheet.h"

namespace basefog::suite {

SheetOutcome failed(std::uint64_t seed, const std::string& why) {
    const synthetic::SheetSpec spec = synthetic::random_sheet(seed);
    SheetOutcome out;
    out.seed = seed;
    out.failure = why;
    out.difficulties = spec.difficulties;
    for (std::size_t i = 0; i < spec.strips.size(); ++i) {
        for (const synthetic::FrameSpec& frame : spec.strips[i].frames) {
            FrameOutcome missed;
            missed.strip = static_cast<int>(i);
            missed.content = frame.scene.kind == synthetic::SceneKind::blank ? "blank" : synthetic::is_picture(frame.scene.kind) ? "picture" : "fogged";
            missed.difficulties = frame.difficulties;
            out.frames.push_back(missed);
        }
    }
    return out;
}

}  // namespace basefog::suite
