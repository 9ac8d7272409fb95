// SPDX-License-Identifier: GPL-3.0-or-later
// A reader that knows nothing better stores linear light itself.
#include "basefog/scan/reader.h"
#include "scan/decode_count.h"

#include <atomic>
#include <cstring>

namespace basefog {
namespace {

std::atomic<std::int64_t>& count() {
    static std::atomic<std::int64_t> bytes{0};
    return bytes;
}

class StoredLight final : public StoredFormat {
public:
    [[nodiscard]] std::int64_t pixel_bytes() const override { return sizeof(LinearRgbi); }
    void linear(const std::byte* stored, PxRect where, View<LinearRgbi> out) const override {
        const auto row_bytes = static_cast<std::size_t>(where.width()) * sizeof(LinearRgbi);
        for (std::int64_t y = 0; y < where.height(); ++y, stored += row_bytes) std::memcpy(out.row(y), stored, row_bytes);
    }
};

}  // namespace

std::shared_ptr<const StoredFormat> ScanReader::stored_format() const { return std::make_shared<StoredLight>(); }

Result<void> ScanReader::read_stored(PxRect rect, std::byte* out) {
    Image<LinearRgbi> light(rect.width(), rect.height());
    if (auto read = read_region(rect, light.view()); !read) return read;
    std::memcpy(out, light.row(0), static_cast<std::size_t>(rect.width() * rect.height()) * sizeof(LinearRgbi));
    return {};
}

std::int64_t bytes_decoded() { return count().load(); }

namespace scan {
void count_decoded(std::int64_t bytes) { count() += bytes; }
}  // namespace scan

}  // namespace basefog
