// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/reader.h"
#include "scan/guard.h"
#include "scan/infrared.h"
#include "scan/input_file.h"
#include "scan/join_shots.h"
#include "scan/lens.h"
#include "scan/light_frame.h"
#include "scan/merge_exposures.h"
#include "scan/picture_reader.h"
#include "scan/raw_reader.h"
#include "scan/tiff_nature.h"
#include "scan/tiff_reader.h"
#include "scan/tiff_samples.h"

#include <algorithm>

namespace basefog {
namespace {

using namespace scan;
using Opened = Result<std::unique_ptr<ScanReader>>;
using Head = std::vector<unsigned char>;

constexpr std::int64_t kMagicBytes = 16;

bool starts_with(const Head& head, std::initializer_list<unsigned char> magic) {
    return head.size() >= magic.size() && std::equal(magic.begin(), magic.end(), head.begin());
}

/// TIFF 6.0 (42) and BigTIFF (43), either byte order.
bool is_tiff(const Head& head) {
    return starts_with(head, {'I', 'I', 42, 0}) || starts_with(head, {'M', 'M', 0, 42}) || starts_with(head, {'I', 'I', 43, 0}) ||
           starts_with(head, {'M', 'M', 0, 43});
}
bool is_png(const Head& head) { return starts_with(head, {0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n'}); }
bool is_jpeg(const Head& head) { return starts_with(head, {0xFF, 0xD8, 0xFF}); }

/// A scan, or a camera's RAW built as a TIFF: sensor data says so, as does a camera's name beside a reduced first page
/// (then the library decides).
Opened open_tiff_or_raw(const std::string& path, const ScanOptions& options, Observer& observer) {
    TiffNature nature;
    {
        auto file = TiffFile::open(path, most_allocation(options.memory_bytes));
        if (!file) return Failure(file.error());
        nature = examine(**file);
    }
    if (nature.is_dng && !nature.has_sensor_page)
        return fail(ErrorCode::unsupported, "is a digital negative without sensor data: only metadata or a small picture", path, "name the RAW file itself");
    if (nature.has_sensor_page) return open_raw(path, nature.date, options, observer);
    if (nature.names_camera && nature.begins_with_thumbnail)
        if (auto raw = open_raw(path, nature.date, options, observer)) return raw;
    auto tiff = open_tiff(path, options, observer);
    if (tiff || tiff.error().code != ErrorCode::unsupported || !nature.names_camera) return tiff;
    auto raw = open_raw(path, nature.date, options, observer);
    return raw ? std::move(raw) : std::move(tiff);
}

Opened open_by_content(const std::string& path, const ScanOptions& options, Observer& observer) {
    auto file = InputFile::open(path);
    if (!file) return Failure(file.error());
    const Head head = file->head(kMagicBytes);
    if (head.empty()) return fail(ErrorCode::unreadable, "could not be read from its first byte", path, "check the disk, and copy the file again");
    if (is_tiff(head)) return open_tiff_or_raw(path, options, observer);
    if (is_png(head)) return open_picture(path, FileKind::png, options, observer);
    if (is_jpeg(head)) return open_picture(path, FileKind::jpeg, options, observer);
    return open_raw(path, {}, options, observer);
}

}  // namespace

bool looks_like_scan(const std::string& path) {
    const auto file = InputFile::open(path);
    if (!file) return false;
    const Head head = file->head(kMagicBytes);
    return is_tiff(head) || is_png(head) || is_jpeg(head) || looks_like_raw(path);
}

Result<std::unique_ptr<ScanReader>> open_scan(const std::string& path, const ScanOptions& options, Observer& observer) {
    if (auto valid = validate(options); !valid) return Failure(valid.error());
    return guarded(path, [&]() -> Opened {
        if (options.join) return join_shots(path, options, observer);
        ScanOptions shot = options;
        // Straight and merged rows need several of the shot's, and neighbouring ones share them.
        if (options.lens || !options.other_exposures.empty()) shot.from_the_top = false;
        auto opened = open_by_content(path, shot, observer);
        if (opened && !options.other_exposures.empty()) opened = merge_exposures(std::move(*opened), options, observer);
        if (opened && !options.light_frame_path.empty()) {
            auto by = read_light_frame((*opened)->info(), options, observer);
            if (!by) return Failure(std::move(by.error()));
            opened = divide_by_light_frame(std::move(*opened), std::move(*by));
        }
        if (opened && options.lens) opened = undo_lens(std::move(*opened), *options.lens);
        if (!opened || options.ignore_infrared || options.infrared_path.empty()) return opened;
        return add_infrared_file(std::move(*opened), options, observer);
    });
}

}  // namespace basefog
