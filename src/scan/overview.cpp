// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/reader.h"
#include "scan/constants.h"
#include "scan/guard.h"

#include <cmath>
#include <cstring>

namespace basefog {
namespace {

using namespace scan;

std::int64_t cells(std::int64_t pixels, std::int64_t factor) { return (pixels + factor - 1) / factor; }

/// Chosen: columns folded together by one thread; whole cells.
constexpr std::int64_t kStripColumns = 1024;

/// Some columns of the scan, folded row by row in their order, so that the result does not depend on how many come at a time.
class ColumnStrip {
public:
    ColumnStrip(int factor, std::int64_t x0, std::int64_t x1, Image<LinearRgbi>& overview)
        : x0_(x0),
          width_(x1 - x0),
          factor_(factor),
          sums_(static_cast<std::size_t>(cells(width_, factor))),
          row_(static_cast<std::size_t>(width_)),
          overview_(overview) {}

    /// `stored`: rows of the whole scan's width from y0 on.
    void add(const StoredFormat& format, const std::byte* stored, PxRect band) {
        const std::int64_t pixel = format.pixel_bytes();
        for (std::int64_t y = band.y0; y < band.y1; ++y, stored += band.width() * pixel) {
            format.linear(stored + x0_ * pixel, {x0_, y, x0_ + width_, y + 1}, {row_.data(), width_, 1, width_});
            add_row();
        }
    }
    void finish() {
        if (rows_in_cell_ > 0) finish_cells();
    }
    [[nodiscard]] const std::array<std::int64_t, 3>& clipped() const { return clipped_; }

private:
    struct Sum {
        double r = 0, g = 0, b = 0, ir = 0;
    };

    void add_row() {
        const LinearRgbi* const row = row_.data();
        for (std::int64_t x = 0; x < width_; ++x) {
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

    void finish_cells() {
        LinearRgbi* const out = overview_.row((rows_ - 1) / factor_) + x0_ / factor_;
        for (std::int64_t cell = 0; cell < static_cast<std::int64_t>(sums_.size()); ++cell) {
            Sum& s = sums_[static_cast<std::size_t>(cell)];
            const double n = static_cast<double>(std::min<std::int64_t>(factor_, width_ - cell * factor_)) * static_cast<double>(rows_in_cell_);
            out[cell] = {static_cast<float>(s.r / n), static_cast<float>(s.g / n), static_cast<float>(s.b / n), static_cast<float>(s.ir / n)};
            s = {};
        }
        rows_in_cell_ = 0;
    }

    std::int64_t x0_, width_, factor_, rows_ = 0, rows_in_cell_ = 0;
    std::vector<Sum> sums_;
    std::vector<LinearRgbi> row_;
    std::array<std::int64_t, 3> clipped_{};
    Image<LinearRgbi>& overview_;
};

/// The strips of a scan, side by side.
class Folding {
public:
    Folding(const ScanInfo& info, int factor) : info_(info) {
        overview_.pixels = Image<LinearRgbi>(cells(info.width, factor), cells(info.height, factor));
        const std::int64_t columns = std::max<std::int64_t>(1, kStripColumns / factor) * factor;
        for (std::int64_t x = 0; x < info.width; x += columns) strips_.emplace_back(factor, x, std::min(info.width, x + columns), overview_.pixels);
    }
    [[nodiscard]] std::vector<ColumnStrip>& strips() { return strips_; }
    Overview finish() {
        std::array<std::int64_t, 3> clipped{};
        for (ColumnStrip& strip : strips_) {
            strip.finish();
            for (std::size_t c = 0; c < 3; ++c) clipped[c] += strip.clipped()[c];
        }
        const double n = static_cast<double>(info_.width) * static_cast<double>(info_.height);
        overview_.clipped_share = {static_cast<double>(clipped[0]) / n, static_cast<double>(clipped[1]) / n, static_cast<double>(clipped[2]) / n};
        return std::move(overview_);
    }

private:
    const ScanInfo& info_;
    std::vector<ColumnStrip> strips_;
    Overview overview_;
};

/// Reads band after band; while one is folded, column by column strip, the next is read.
Result<void> fold_all(ScanReader& reader, Folding& folding, std::int64_t band_rows, Observer& observer, const ForEach& for_each) {
    const ScanInfo& info = reader.info();
    const auto format = reader.stored_format();
    const auto band_at = [&](std::int64_t y) { return PxRect{0, y, info.width, std::min(info.height, y + band_rows)}; };
    std::vector<std::byte> here(static_cast<std::size_t>(info.width * std::min(band_rows, info.height) * format->pixel_bytes())), next(here.size());
    if (auto read = reader.read_stored(band_at(0), here.data()); !read) return read;
    const auto strips = static_cast<std::int64_t>(folding.strips().size());
    for (std::int64_t y = 0; y < info.height; y += band_rows) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while the scan was read", info.path);
        const PxRect band = band_at(y);
        const auto work = [&](std::int64_t i) -> Result<void> {
            if (i == 0) return band.y1 < info.height ? reader.read_stored(band_at(band.y1), next.data()) : Result<void>{};
            folding.strips()[static_cast<std::size_t>(i - 1)].add(*format, here.data(), band);
            return {};
        };
        if (auto done = for_each(strips + 1, for_each.at_once, work); !done) return done;
        here.swap(next);
        observer.progress("reading", static_cast<double>(band.y1), static_cast<double>(info.height));
    }
    return {};
}

}  // namespace

int overview_factor(const ScanInfo& info, const OverviewOptions& options) {
    std::int64_t factor = 1;
    if (info.resolution) {
        // A hair of tolerance, so that 700 dpi read back from pixels per millimetre still halves to 350.
        const double ratio = dpi_from_px_per_mm(*info.resolution) / options.target_dpi;
        factor = std::max<std::int64_t>(1, static_cast<std::int64_t>(std::floor(ratio * (1 + 1e-9))));
    }
    while (cells(info.width, factor) * cells(info.height, factor) > options.max_pixels) ++factor;
    return static_cast<int>(factor);
}

Result<Overview> read_overview(ScanReader& reader, const OverviewOptions& options, Observer& observer, const ForEach& for_each) {
    const ScanInfo& info = reader.info();
    if (!(options.target_dpi > 0) || options.max_pixels < 1 || options.band_rows < 1)
        return fail(ErrorCode::usage, "an overview needs a resolution, a limit of pixels and a band of rows above 0");
    return guarded(info.path, [&]() -> Result<Overview> {
        const int factor = overview_factor(info, options);
        Folding folding(info, factor);
        if (auto read = fold_all(reader, folding, options.band_rows, observer, for_each); !read) return Failure(std::move(read.error()));
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
