// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/reader.h"
#include "scan/constants.h"
#include "scan/guard.h"

#include <bit>
#include <cmath>
#include <cstring>

namespace basefog {
namespace {

using namespace scan;

std::int64_t cells(std::int64_t pixels, std::int64_t factor) { return (pixels + factor - 1) / factor; }

int choose_factor(const ScanInfo& info, const OverviewOptions& options) {
    std::int64_t factor = 1;
    if (info.resolution) {
        // A hair of tolerance, so that 700 dpi read back from pixels per millimetre still halves to 350.
        const double ratio = dpi_from_px_per_mm(*info.resolution) / options.target_dpi;
        factor = std::max<std::int64_t>(1, static_cast<std::int64_t>(std::floor(ratio * (1 + 1e-9))));
    }
    while (cells(info.width, factor) * cells(info.height, factor) > options.max_pixels) ++factor;
    return static_cast<int>(factor);
}

/// Folds rows in their order, so that the result does not depend on how many come at a time.
class Folding {
public:
    Folding(const ScanInfo& info, int factor) : width_(info.width), factor_(factor), sums_(static_cast<std::size_t>(cells(info.width, factor))) {
        overview_.pixels = Image<LinearRgbi>(cells(info.width, factor), cells(info.height, factor));
        mix(digest_[0], static_cast<std::uint64_t>(info.width));
        mix(digest_[1], static_cast<std::uint64_t>(info.height));
    }

    void add(const LinearRgbi* row) {
        for (std::int64_t x = 0; x < width_; ++x) {
            const auto words = std::bit_cast<std::array<std::uint64_t, 2>>(row[x]);
            mix(digest_[0], words[0]);
            mix(digest_[1], words[1]);
            clipped_[0] += row[x].r >= kFullScale;
            clipped_[1] += row[x].g >= kFullScale;
            clipped_[2] += row[x].b >= kFullScale;
        }
        for (std::int64_t cell = 0; cell < static_cast<std::int64_t>(sums_.size()); ++cell) {
            Sum sum;
            const std::int64_t end = std::min(width_, (cell + 1) * factor_);
            for (std::int64_t x = cell * factor_; x < end; ++x) {
                sum.r += row[x].r;
                sum.g += row[x].g;
                sum.b += row[x].b;
                sum.ir += row[x].ir;
            }
            Sum& total = sums_[static_cast<std::size_t>(cell)];
            total = {total.r + sum.r, total.g + sum.g, total.b + sum.b, total.ir + sum.ir};
        }
        ++rows_;
        if (++rows_in_cell_ == factor_) finish_cells();
    }

    Overview finish() {
        if (rows_in_cell_ > 0) finish_cells();
        const double n = static_cast<double>(width_) * static_cast<double>(rows_);
        overview_.clipped_share = {static_cast<double>(clipped_[0]) / n, static_cast<double>(clipped_[1]) / n, static_cast<double>(clipped_[2]) / n};
        mix(digest_[0], digest_[1]);
        overview_.digest = digest_[0];
        return std::move(overview_);
    }

private:
    struct Sum {
        double r = 0, g = 0, b = 0, ir = 0;
    };

    void finish_cells() {
        LinearRgbi* out = overview_.pixels.row((rows_ - 1) / factor_);
        for (std::int64_t cell = 0; cell < static_cast<std::int64_t>(sums_.size()); ++cell) {
            Sum& s = sums_[static_cast<std::size_t>(cell)];
            const double n = static_cast<double>(std::min<std::int64_t>(factor_, width_ - cell * factor_)) * static_cast<double>(rows_in_cell_);
            out[cell] = {static_cast<float>(s.r / n), static_cast<float>(s.g / n), static_cast<float>(s.b / n), static_cast<float>(s.ir / n)};
            s = {};
        }
        rows_in_cell_ = 0;
    }

    /// Eight bytes at a time: an exclusive or, an odd multiplier and a shift, each of which can be undone, so that two
    /// scans of one size that differ in a single word always differ in the end. Two sums run side by side, joined last.
    static void mix(std::uint64_t& sum, std::uint64_t word) {
        sum = (sum ^ word) * 0x9E3779B97F4A7C15u;  // 2^64 divided by the golden ratio, made odd
        sum ^= sum >> 32;
    }

    std::int64_t width_, factor_, rows_ = 0, rows_in_cell_ = 0;
    std::vector<Sum> sums_;
    std::array<std::int64_t, 3> clipped_{};
    std::array<std::uint64_t, 2> digest_{};
    Overview overview_;
};

}  // namespace

Result<Overview> read_overview(ScanReader& reader, const OverviewOptions& options, Observer& observer) {
    const ScanInfo& info = reader.info();
    if (!(options.target_dpi > 0) || options.max_pixels < 1 || options.band_rows < 1)
        return fail(ErrorCode::usage, "an overview needs a resolution, a limit of pixels and a band of rows above 0");
    return guarded(info.path, [&]() -> Result<Overview> {
        const int factor = choose_factor(info, options);
        Folding folding(info, factor);
        Image<LinearRgbi> band(info.width, std::min(options.band_rows, info.height));
        for (std::int64_t y = 0; y < info.height; y += band.height()) {
            if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while the scan was read", info.path);
            const std::int64_t rows = std::min(band.height(), info.height - y);
            auto read = reader.read_region({0, y, info.width, y + rows}, band.view().part(0, 0, info.width, rows));
            if (!read) return Failure(read.error());
            for (std::int64_t row = 0; row < rows; ++row) folding.add(band.row(row));
            observer.progress("reading", static_cast<double>(y + rows), static_cast<double>(info.height));
        }
        Overview overview = folding.finish();
        overview.factor = factor;
        overview.scan_width = info.width;
        overview.scan_height = info.height;
        overview.scan_resolution = info.resolution;
        overview.has_infrared = info.has_infrared;
        overview.monochrome_file = info.colour_channels == 1;
        overview.bits = info.bits;
        overview.light_divided = info.light_divided;
        return overview;
    });
}

}  // namespace basefog
