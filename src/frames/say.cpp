// SPDX-License-Identifier: GPL-3.0-or-later
#include "say.h"

#include "constants.h"

#include <cmath>

namespace basefog::frames {

namespace {

void say_frame(SheetLayout& layout, int strip, int frame, const FrameBox& box) {
    const Where where{"", strip, frame, ""};
    const std::vector<std::pair<std::string, double>> numbers{{"confidence", box.confidence}, {"edge_std_mm", box.edge_std.value()}};
    if (box.kind == FrameKind::blank) {
        layout.findings.push_back(
            {Severity::note, "blank-frame", "Nothing was exposed here; the frame is placed by the advance of its neighbours.", where, numbers});
        return;
    }
    if (box.kind == FrameKind::fogged) {
        layout.findings.push_back(
            {Severity::caution, "fogged-frame", "This frame is dense all over and holds no picture: it was fogged, or exposed to even light.", where, numbers});
    }
    if (box.placed_by_pitch) {
        layout.findings.push_back({Severity::caution, "frame-placed-by-pitch",
                                   "No edge of this picture could be seen; it is placed by the advance of its neighbours. Check its crop.", where, numbers});
    } else if (box.confidence < kWeakConfidence) {
        layout.findings.push_back({Severity::caution, "frame-edge-weak",
                                   "An edge of this frame is hard to see; its crop may be off by more than a quarter of a millimetre. Check it.", where,
                                   numbers});
    }
}

}  // namespace

void say_scale(SheetLayout& layout, double stated, bool file_states) {
    const double measured = layout.scale.value();
    if (layout.strips.empty()) return;
    const std::vector<std::pair<std::string, double>> numbers{{"stated_dpi", stated * kMmPerInch}, {"film_dpi", measured * kMmPerInch}};
    if (stated > 0 && layout.scale_origin != ScaleOrigin::file) {
        layout.findings.push_back({Severity::serious,
                                   "resolution-contradicts-film",
                                   "The stated resolution does not fit the film's own size; the film's was used. Check the scan's settings.",
                                   {},
                                   numbers});
        return;
    }
    if (stated > 0) return;
    const std::string lead = file_states ? "The file's resolution makes no sense; " : "The file states no resolution; ";
    switch (layout.scale_origin) {
        case ScaleOrigin::perforations:
            layout.findings.push_back(
                {Severity::note, "scale-from-perforations", lead + "the scale was taken from the spacing of the perforations.", {}, {numbers[1]}});
            break;
        case ScaleOrigin::film_width:
            layout.findings.push_back({Severity::note, "scale-from-film-width", lead + "the scale was taken from the film's width.", {}, {numbers[1]}});
            break;
        default:
            layout.findings.push_back({Severity::caution,
                                       "scale-from-frames",
                                       lead + "the scale was taken from the frames' own proportions, which is good to a per cent or two.",
                                       {},
                                       {numbers[1]}});
    }
}

void say_strips(SheetLayout& layout) {
    if (layout.strips.empty()) {
        layout.findings.push_back({Severity::serious, "no-film-found", "No strip of film was found on this scan.", {}, {}});
        return;
    }
    constexpr double kUncertain = 0.5;  // Chosen: mean confidence of its frames under which a strip as a whole is doubtful
    for (std::size_t s = 0; s < layout.strips.size(); ++s) {
        const StripBox& strip = layout.strips[s];
        const int index = static_cast<int>(s);
        if (strip.confidence < kUncertain) {
            layout.findings.push_back({Severity::caution,
                                       "strip-uncertain",
                                       "The frames of this strip are hard to place. Check them before using its positives.",
                                       {"", index, -1, ""},
                                       {{"confidence", strip.confidence}}});
        }
        for (std::size_t f = 0; f < strip.frames.size(); ++f) say_frame(layout, index, static_cast<int>(f), strip.frames[f]);
    }
}

}  // namespace basefog::frames
