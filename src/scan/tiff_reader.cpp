// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_reader.h"

#include "scan/constants.h"
#include "scan/infrared.h"
#include "scan/number_watch.h"
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
    info.orientation = page.orientation;
    info.width = orientation.width();
    info.height = orientation.height();
    info.bits = static_cast<int>(8 * bytes_of(page.layout.type));
    info.float_samples = page.layout.type == SampleType::f32;
    info.colour_channels = page.colours();
    info.has_infrared = page.layout.samples > page.colours() && !options.ignore_infrared && options.infrared_path.empty();
    if (info.has_infrared) info.infrared_from = page.colours() == 3 ? "fourth sample" : "second sample";
    info.lossy = page.lossy;
    info.date = page.date;
    info.warnings = page.warnings;
    settle_resolution(info, page.resolution, options);
    warn_of_limits(info);
    if (info.has_infrared && page.fourth_is_alpha) info.warnings.push_back("The sample after the colours is marked as transparency; it is taken as infrared.");
    return info;
}

/// The first page that is not a reduced copy; the first of all if every one is.
Result<int> main_page(TiffFile& file, int pages) {
    for (int page = 0; page < pages; ++page) {
        if (auto went = file.go_to_page(page); !went) return Failure(went.error());
        if (!is_thumbnail(file)) return page;
    }
    if (auto went = file.go_to_page(0); !went) return Failure(went.error());
    return 0;
}

/// A later page of one sample and the same size. Pages that cannot be read or are something else are passed over.
std::optional<TiffPage> find_infrared_page(TiffFile& file, int pages, const TiffPage& main, const ScanOptions& options) {
    for (int index = main.index + 1; index < pages; ++index) {
        if (!file.go_to_page(index) || is_thumbnail(file)) continue;
        auto page = read_page(file, index, options);
        if (!page || page->layout.samples != 1) continue;
        const Orientation a(main.orientation, main.layout.width, main.layout.height), b(page->orientation, page->layout.width, page->layout.height);
        if (a.width() == b.width() && a.height() == b.height()) return *page;
    }
    return std::nullopt;
}

struct Opened {
    TiffPage main;
    std::optional<TiffPage> infrared;
    int pages = 1;
};

Result<Opened> read_pages(TiffFile& file, const ScanOptions& options) {
    Opened opened;
    opened.pages = file.count_pages(kMostPages);
    const auto index = main_page(file, opened.pages);
    if (!index) return Failure(index.error());
    auto main = read_page(file, *index, options);
    if (!main) return Failure(main.error());
    opened.main = std::move(*main);
    if (options.orientation) opened.main.orientation = *options.orientation;
    const bool wanted = !options.ignore_infrared && options.infrared_path.empty() && opened.main.layout.samples == opened.main.colours();
    if (wanted) opened.infrared = find_infrared_page(file, opened.pages, opened.main, options);
    return opened;
}

/// The infrared page's own profile counts; without one, it is taken to be encoded as the colours are.
Result<std::unique_ptr<ScanReader>> open_page(std::unique_ptr<TiffFile> file, const TiffPage& page, ScanInfo info, Linearisation how,
                                              const ScanOptions& options, Observer& observer) {
    how.white_is_zero = page.white_is_zero;
    auto samples = open_samples(std::move(file), page, options.memory_bytes, options.from_the_top);
    if (!samples) return Failure(samples.error());
    const auto reader_of = [&](std::unique_ptr<SampleSource> source) -> std::unique_ptr<ScanReader> {
        return std::make_unique<SampleReader>(std::move(info), std::move(source), page.orientation, std::move(how), options, observer);
    };
    if (page.layout.type != SampleType::f32) return reader_of(std::move(*samples));
    const auto met = std::make_shared<bool>(false);
    return tell_of_numbers(reader_of(watch_numbers(std::move(*samples), met)), met);
}

}  // namespace

Result<std::unique_ptr<ScanReader>> open_tiff(const std::string& path, const ScanOptions& options, Observer& observer) {
    auto file = TiffFile::open(path, most_allocation(options.memory_bytes));
    if (!file) return Failure(file.error());
    auto pages = read_pages(**file, options);
    if (!pages) return Failure(pages.error());

    ScanInfo info = describe_page(path, pages->main, options);
    const int read = pages->infrared ? 2 : 1;
    if (pages->pages > read && !options.ignore_infrared)
        info.warnings.push_back("The file has " + std::to_string(pages->pages) + " pages; page " + std::to_string(pages->main.index + 1) +
                                (pages->infrared ? " and its infrared are read." : " is read."));
    const Linearisation how = settle_encoding(info, pages->main.profile, options);
    ScanOptions share = options;
    if (pages->infrared) share.memory_bytes = std::max(kLeastMemory, options.memory_bytes / 2);
    auto colours = open_page(std::move(*file), pages->main, std::move(info), how, share, observer);
    if (!colours || !pages->infrared) return colours;

    auto again = TiffFile::open(path, most_allocation(options.memory_bytes));
    if (!again) return Failure(again.error());
    ScanInfo grey = describe_page(path, *pages->infrared, options);
    Linearisation same;
    same.colour.fill(how.infrared);
    same.infrared = how.infrared;
    same.identity = how.identity;
    if (!pages->infrared->profile.empty()) same = settle_encoding(grey, pages->infrared->profile, options);
    auto infrared = open_page(std::move(*again), *pages->infrared, std::move(grey), std::move(same), share, observer);
    if (!infrared) return infrared;
    const int index = pages->infrared->index;
    return pair_with_infrared(std::move(*colours), std::move(*infrared), index == 1 ? "second page" : "page " + std::to_string(index + 1));
}

}  // namespace basefog::scan
