// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/exif.h"

#include <cstdint>

namespace basefog::scan {
namespace {

// Tags and types as in TIFF 6.0 and Exif.
constexpr std::uint16_t kOrientation = 0x0112, kXResolution = 0x011A, kYResolution = 0x011B, kResolutionUnit = 0x0128, kDateTime = 0x0132,
                        kExifPointer = 0x8769, kDateTimeOriginal = 0x9003;
constexpr std::uint16_t kAscii = 2, kShort = 3, kLong = 4, kRational = 5;

/// A block of bytes in which every access is checked; what lies outside reads as 0.
class Block {
public:
    Block(const unsigned char* bytes, std::size_t count) : bytes_(bytes), count_(count), big_(count > 0 && bytes[0] == 'M') {}
    [[nodiscard]] std::uint32_t number(std::size_t at, std::size_t size) const {
        if (at > count_ || size > count_ - at) return 0;
        std::uint32_t value = 0;
        for (std::size_t i = 0; i < size; ++i) value |= static_cast<std::uint32_t>(bytes_[at + i]) << 8 * (big_ ? size - 1 - i : i);
        return value;
    }
    [[nodiscard]] std::string text(std::size_t at, std::size_t size) const {
        if (at > count_ || size > count_ - at) return {};
        return {reinterpret_cast<const char*>(bytes_) + at, size};
    }

private:
    const unsigned char* bytes_;
    std::size_t count_;
    bool big_;
};

struct Found {
    Exif exif;
    double x = 0, y = 0;
    std::uint32_t unit = 2;  // inch, the default of TIFF 6.0
    std::uint32_t more = 0;  // where the directory of photographic tags lies
};

double rational(const Block& block, std::size_t at) {
    const std::uint32_t below = block.number(at + 4, 4);
    return below == 0 ? 0.0 : static_cast<double>(block.number(at, 4)) / below;
}

void read_entry(const Block& block, std::size_t at, Found& found) {
    const std::uint32_t tag = block.number(at, 2), type = block.number(at + 2, 2), count = block.number(at + 4, 4), value = block.number(at + 8, 4);
    if (tag == kOrientation && type == kShort) found.exif.orientation = static_cast<int>(block.number(at + 8, 2));
    if (tag == kResolutionUnit && type == kShort) found.unit = block.number(at + 8, 2);
    if (tag == kXResolution && type == kRational) found.x = rational(block, value);
    if (tag == kYResolution && type == kRational) found.y = rational(block, value);
    if (tag == kExifPointer && type == kLong) found.more = value;
    constexpr std::uint32_t kDateLength = 19;
    if (tag == kDateTime && type == kAscii && count >= kDateLength && found.exif.date.empty()) found.exif.date = block.text(value, kDateLength);
    if (tag == kDateTimeOriginal && type == kAscii && count >= kDateLength) found.exif.date = block.text(value, kDateLength);
}

void read_directory(const Block& block, std::size_t at, Found& found) {
    const std::uint32_t entries = block.number(at, 2);  // at most 65535, each checked
    for (std::uint32_t i = 0; i < entries; ++i) read_entry(block, at + 2 + std::size_t{12} * i, found);
}

}  // namespace

Exif read_exif(const unsigned char* bytes, std::size_t count) {
    const Block block(bytes, count);
    Found found;
    if (count < 8 || block.number(2, 2) != 42 || (bytes[0] != 'I' && bytes[0] != 'M')) return found.exif;
    read_directory(block, block.number(4, 4), found);
    if (found.more != 0) read_directory(block, found.more, found);
    const double inches = found.unit == 2 ? 1.0 : found.unit == 3 ? 2.54 : 0.0;  // 3: centimetres
    if (inches > 0 && found.x > 0 && found.y > 0) {
        found.exif.x_dpi = found.x * inches;
        found.exif.y_dpi = found.y * inches;
    }
    return found.exif;
}

}  // namespace basefog::scan
