// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_reader.h"

#include "scan/sample_reader.h"
#include "scan/settle.h"
#include "scan/tiff_samples.h"

namespace basefog::scan {
namespace {

ScanInfo describe_page(const std::string& path, const TiffPage& page, const ScanOptions& options) {
    const Orientation orientation(page.orientation, page.layout.width, page.layout.height);
    ScanInfo info;
    info.path = path;
    info.kind = FileKind::tiff;
    info.width = orientation.width();
    info.height = orientation.height();
    info.bits = static_cast<int>(8 * bytes_of(page.layout.type));
    info.float_samples = page.layout.type == SampleType::f32;
    info.colour_channels = page.colours();
    info.has_infrared = page.layout.samples > page.colours() && !options.ignore_infrared;
    if (info.has_infrared) info.infrared_from = page.colours() == 3 ? "fourth sample" : "second sample";
    info.lossy = page.lossy;
    info.date = page.date;
    info.warnings = page.warnings;
    settle_resolution(info, page.resolution, options);
    warn_of_limits(info);
    if (info.has_infrared && page.fourth_is_alpha) info.warnings.push_back("The sample after the colours is marked as transparency; it is taken as infrared.");
    return info;
}

}  // namespace

Result<std::unique_ptr<ScanReader>> open_tiff(const std::string& path, const ScanOptions& options, Observer& observer) {
    auto file = TiffFile::open(path, most_allocation(options.memory_bytes));
    if (!file) return Failure(file.error());
    auto page = read_page(**file, 0, options);
    if (!page) return Failure(page.error());
    ScanInfo info = describe_page(path, *page, options);
    Linearisation how = settle_encoding(info, page->profile, options);
    how.white_is_zero = page->white_is_zero;
    auto samples = open_samples(std::move(*file), *page, options.memory_bytes);
    if (!samples) return Failure(samples.error());
    return std::make_unique<SampleReader>(std::move(info), std::move(*samples), page->orientation, std::move(how), options, observer);
}

}  // namespace basefog::scan
