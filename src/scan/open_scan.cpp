// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/reader.h"
#include "scan/guard.h"
#include "scan/input_file.h"
#include "scan/tiff_reader.h"

namespace basefog {
namespace {

using namespace scan;

bool starts_with(const std::vector<unsigned char>& head, std::initializer_list<unsigned char> magic) {
    return head.size() >= magic.size() && std::equal(magic.begin(), magic.end(), head.begin());
}

/// TIFF 6.0 (42) and BigTIFF (43), either byte order.
bool is_tiff(const std::vector<unsigned char>& head) {
    return starts_with(head, {'I', 'I', 42, 0}) || starts_with(head, {'M', 'M', 0, 42}) || starts_with(head, {'I', 'I', 43, 0}) ||
           starts_with(head, {'M', 'M', 0, 43});
}

}  // namespace

Result<std::unique_ptr<ScanReader>> open_scan(const std::string& path, const ScanOptions& options, Observer& observer) {
    if (auto valid = validate(options); !valid) return Failure(valid.error());
    return guarded(path, [&]() -> Result<std::unique_ptr<ScanReader>> {
        auto file = InputFile::open(path);
        if (!file) return Failure(file.error());
        const auto head = file->head(16);
        if (is_tiff(head)) return open_tiff(path, options, observer);
        return fail(ErrorCode::unsupported, "is no scan: its content is neither TIFF, PNG, JPEG nor camera RAW, whatever its name says", path, "name a scan");
    });
}

}  // namespace basefog
