// SPDX-License-Identifier: GPL-3.0-or-later
#include "gauge.h"

#include "constants.h"

#include <algorithm>

namespace basefog::frames {

namespace {

FilmFamily family_of(const FormatSize& size) { return size.perforated ? FilmFamily::perforated_35 : FilmFamily::roll; }

const FormatSize& first_of(FilmFamily family) {
    for (const FormatSize& size : kFormats) {
        if (family_of(size) == family) return size;
    }
    return kFormats[0];
}

}  // namespace

Gauge gauge_of(FrameFormat format, const FindOptions& options) {
    const FormatSize& size = size_of(format);
    Gauge gauge{format, size.along.value(), size.across.value(), size.advance.value(), size.film_width.value()};
    gauge.most_overlap = std::min(kMostOverlapMm, kMostOverlapShare * gauge.width);
    gauge.most_frames = options.max_frames_per_strip;
    gauge.perforated = size.perforated;
    if (format == FrameFormat::panoramic) {
        // 15 or 16 perforations.
        gauge.advance_std = kPanoramicAdvanceStdMm;
        gauge.advance_less = kPanoramicAdvanceLessMm;
        gauge.advance_more = kPanoramicAdvanceMoreMm;
    } else if (!size.perforated) {
        // Nothing but the camera's rollers measures the advance.
        gauge.advance_std = kRollAdvanceStdMm;
        gauge.advance_less = kRollAdvanceLessMm;
        gauge.advance_more = kRollAdvanceMoreMm;
        gauge.gate_std = kRollGateStdMm;
    } else {
        gauge.advance_std = kAdvanceStdMm;
        gauge.advance_less = kAdvanceLessMm;
        gauge.advance_more = kAdvanceMoreMm;
        gauge.gate_std = kGateStdMm;
    }
    return gauge;
}

std::vector<Gauge> gauges_for(FilmFamily family, const FindOptions& options) {
    std::vector<Gauge> gauges;
    for (const FormatSize& size : kFormats) {
        const bool open = options.format == FrameFormat::automatic || options.format == size.format;
        if (open && family_of(size) == family) gauges.push_back(gauge_of(size.format, options));
    }
    return gauges;
}

FormatPrior usual_formats() {
    FormatPrior prior{};
    prior[place_of(FrameFormat::full)] = kUsualFormat;
    return prior;
}

std::vector<FilmFamily> families_for(const FindOptions& options) {
    if (options.format == FrameFormat::automatic) return {FilmFamily::perforated_35, FilmFamily::roll};
    return {family_of(size_of(options.format))};
}

double film_width_of(FilmFamily family) { return first_of(family).film_width.value(); }
double picture_height_of(FilmFamily family) { return first_of(family).across.value(); }

}  // namespace basefog::frames
