// SPDX-License-Identifier: GPL-3.0-or-later
// A small invented sheet on disk, quick to draw and to process: two strips at 200 dpi in a holder.
#pragma once

#include "support/synthetic_files.h"

#include <string>

namespace synthetic {

inline SheetSpec small_sheet(std::uint64_t seed = 1, bool infrared = false) {
    SheetSpec spec;
    spec.dpi = 200;
    spec.width = 150;
    spec.height = 105;
    spec.seed = seed;
    spec.infrared = infrared;
    spec.holder.kind = HolderKind::hides_perforations;
    const SceneKind kinds[2][3] = {{SceneKind::hills, SceneKind::blocks, SceneKind::coast}, {SceneKind::still_life, SceneKind::blank, SceneKind::snow}};
    for (int s = 0; s < 2; ++s) {
        StripSpec strip;
        strip.roll = s == 0 ? "A" : "B";
        strip.x = 14;
        strip.y = 10 + 48.0 * s;
        strip.tilt_deg = s == 0 ? 0.4 : -0.3;
        for (int f = 0; f < 3; ++f) {
            FrameSpec frame;
            frame.scene.kind = kinds[s][f];
            frame.number = f + 1;
            strip.frames.push_back(frame);
        }
        spec.strips.push_back(strip);
    }
    return spec;
}

/// Draws it, writes it, and returns the truth.
inline Sheet write_small_sheet(const std::string& path, const SheetSpec& spec) {
    Sheet sheet = draw_sheet(spec);
    write_tiff(path, encode(sheet, spec), spec.dpi);
    return sheet;
}

}  // namespace synthetic
