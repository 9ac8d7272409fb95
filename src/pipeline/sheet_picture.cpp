// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/pipeline/sheet_picture.h"

#include "plan.h"
#include "strip_shots.h"

#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"
#include "basefog/scan/reader.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace basefog {
namespace {

using namespace pipeline;

constexpr int kQuality = 85;  // Chosen: edges of frames stay crisp; a screenful is some 200 kB. Safe range 75 to 92.

std::uint8_t code(double linear) { return static_cast<std::uint8_t>(std::lround(255 * std::clamp(srgb_encode(linear), 0.0, 1.0))); }

/// One row of the picture from `step` rows of the scan.
void average_row(const Image<LinearRgbi>& band, std::int64_t rows, std::int64_t step, EncodedRgb8* out, std::int64_t width) {
    for (std::int64_t x = 0; x < width; ++x) {
        double r = 0, g = 0, b = 0;
        for (std::int64_t j = 0; j < rows; ++j)
            for (std::int64_t i = 0; i < step; ++i) {
                const LinearRgbi& p = band(std::min(x * step + i, band.width() - 1), j);
                r += p.r;
                g += p.g;
                b += p.b;
            }
        const double n = static_cast<double>(rows * step);
        out[x] = {code(r / n), code(g / n), code(b / n)};
    }
}

}  // namespace

Result<std::string> sheet_picture(const RunOptions& options, const std::string& file, PxRect part, int long_side, Observer& observer) {
    auto plan = make_plan(options);
    if (!plan) return Failure(plan.error());
    const auto sheet = std::find_if(plan->sheets.begin(), plan->sheets.end(), [&](const SheetPlan& s) { return s.file == file; });
    if (sheet == plan->sheets.end()) return fail(ErrorCode::usage, "is no scan of this run", file);
    if (sheet->strip_shots) {
        // Looked at anew for each picture: a run leaves no record of how the shots lie.
        std::vector<Finding> ignored;
        if (auto prepared = prepare_strips(*plan, {static_cast<int>(sheet - plan->sheets.begin())}, options, ignored, observer); !prepared)
            return Failure(std::move(prepared.error()));
        if (sheet->unusable) return Failure(*sheet->unusable);
    }
    auto reader = open_scan(sheet->path, sheet->scan, observer);
    if (!reader) return Failure(std::move(reader.error()));
    part = intersection(part, {0, 0, (*reader)->info().width, (*reader)->info().height});
    if (part.empty() || long_side < 1) return fail(ErrorCode::usage, "the part asked for lies outside the scan", file);
    const std::int64_t step = (std::max(part.width(), part.height()) + long_side - 1) / long_side;
    Image<EncodedRgb8> picture((part.width() + step - 1) / step, (part.height() + step - 1) / step);
    Image<LinearRgbi> band(part.width(), step);
    for (std::int64_t y = 0; y < picture.height(); ++y) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while reading");
        const PxRect rows{part.x0, part.y0 + y * step, part.x1, std::min(part.y0 + (y + 1) * step, part.y1)};
        if (auto read = (*reader)->read_region(rows, band.view().part(0, 0, rows.width(), rows.height())); !read) return Failure(std::move(read.error()));
        average_row(band, rows.height(), step, picture.row(y), picture.width());
    }
    return jpeg_bytes(picture.view(), kQuality);
}

}  // namespace basefog
