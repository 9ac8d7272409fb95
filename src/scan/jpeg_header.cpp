// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/byte_reader.h"
#include "scan/constants.h"
#include "scan/exif.h"
#include "scan/picture_header.h"
#include "scan/tiff_page.h"

#include <cstring>
#include <map>

namespace basefog::scan {
namespace {

// Markers of T.81, table B.1.
constexpr int kStartOfScan = 0xDA, kEndOfImage = 0xD9, kApp0 = 0xE0, kApp1 = 0xE1, kApp2 = 0xE2;
bool stands_alone(int marker) { return marker == 0x01 || (marker >= 0xD0 && marker <= 0xD8); }
/// Start of a frame; C4, C8 and CC among them are tables and a reserved one.
bool is_frame(int marker) { return marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC; }

using Bytes = std::vector<unsigned char>;

struct Walk {
    PictureHeader header;
    Exif exif;
    bool has_frame = false;
    double jfif_x = 0, jfif_y = 0;
    std::map<int, Bytes> profile_parts;
    std::int64_t entropy_bytes = 0;
    int components = 0, precision = 8;
};

Failure damaged(const InputFile& file, const ByteReader& in, const std::string& what) {
    if (in.failed())
        return fail(ErrorCode::unreadable, "could not be read at byte " + std::to_string(in.position()), file.path(),
                    "check the disk, and copy the file again");
    return fail(ErrorCode::malformed, "is a JPEG that " + what, file.path(), "copy or scan it again");
}

std::int64_t number(const Bytes& bytes, std::size_t at, int count) {
    std::int64_t value = 0;
    for (int i = 0; i < count; ++i) value = value << 8 | (at + static_cast<std::size_t>(i) < bytes.size() ? bytes[at + static_cast<std::size_t>(i)] : 0);
    return value;
}

bool begins(const Bytes& bytes, const char* text, std::size_t length) { return bytes.size() >= length && std::memcmp(bytes.data(), text, length) == 0; }

void read_segment(int marker, const Bytes& bytes, Walk& walk) {
    if (is_frame(marker) && !walk.has_frame) {
        walk.has_frame = true;
        walk.header.out_of_order = (marker & 3) == 2;  // the progressive ones
        walk.precision = static_cast<int>(number(bytes, 0, 1));
        walk.header.height = number(bytes, 1, 2);
        walk.header.width = number(bytes, 3, 2);
        walk.components = static_cast<int>(number(bytes, 5, 1));
    }
    if (marker == kApp0 && begins(bytes, "JFIF", 5)) {
        const std::int64_t unit = number(bytes, 7, 1);  // 1: per inch, 2: per centimetre
        const double inches = unit == 1 ? 1.0 : unit == 2 ? kMmPerInch / 10 : 0.0;
        walk.jfif_x = static_cast<double>(number(bytes, 8, 2)) * inches;
        walk.jfif_y = static_cast<double>(number(bytes, 10, 2)) * inches;
    }
    if (marker == kApp1 && begins(bytes, "Exif\0", 6)) walk.exif = read_exif(bytes.data() + 6, bytes.size() - 6);
    if (marker == kApp2 && begins(bytes, "ICC_PROFILE", 12) && bytes.size() > 14)  // parts are numbered from 1 [ICC.1:2022, B.4]
        walk.profile_parts[bytes[12]] = Bytes(bytes.begin() + 14, bytes.end());
}

/// Over the compressed pixels to the next marker that is not part of them; -1 at the end of the file.
int pass_entropy(ByteReader& in, Walk& walk) {
    for (int byte = in.next(); byte >= 0; byte = in.next()) {
        ++walk.entropy_bytes;
        if (byte != 0xFF) continue;
        int marker = in.next();
        while (marker == 0xFF) marker = in.next();
        if (marker < 0) return -1;
        if (marker != 0x00 && !stands_alone(marker)) return marker;
    }
    return -1;
}

int next_marker(ByteReader& in) {
    if (in.next() != 0xFF) return -1;
    int marker = in.next();
    while (marker == 0xFF) marker = in.next();
    return marker;
}

/// From after the first marker to the end of the image; false when the file ends before.
bool walk_segments(ByteReader& in, Walk& walk) {
    int marker = next_marker(in);
    while (marker >= 0 && marker != kEndOfImage) {
        if (stands_alone(marker)) {
            marker = next_marker(in);
            continue;
        }
        const std::int64_t length = in.number(2);
        if (length < 2 || length - 2 > in.left()) return false;
        Bytes bytes(static_cast<std::size_t>(length - 2));
        for (unsigned char& byte : bytes) byte = static_cast<unsigned char>(in.next());
        read_segment(marker, bytes, walk);
        marker = marker == kStartOfScan ? pass_entropy(in, walk) : next_marker(in);
    }
    return marker == kEndOfImage;
}

Bytes join_profile(const std::map<int, Bytes>& parts) {
    Bytes whole;
    for (const auto& [index, part] : parts) whole.insert(whole.end(), part.begin(), part.end());
    return whole;
}

}  // namespace

Result<PictureHeader> read_jpeg_header(const InputFile& file) {
    ByteReader in(file);
    in.go_to(2);  // after the start of the image
    Walk walk;
    if (!walk_segments(in, walk)) return damaged(file, in, "ends before its picture does");
    PictureHeader& header = walk.header;
    if (!walk.has_frame || header.width < 1 || header.height < 1) return damaged(file, in, "has an impossible header");
    if (walk.precision != 8 || (walk.components != 1 && walk.components != 3))
        return fail(ErrorCode::unsupported, "is a JPEG of " + std::to_string(walk.precision) + " bits and " + std::to_string(walk.components) + " components",
                    file.path(), "export it as a TIFF of 16 bits, grey or RGB");
    // Each block of 8 x 8 takes a bit for its mean at the least (T.81, F.1.2.1: no code is shorter).
    if (header.width * header.height / 64 / 8 > walk.entropy_bytes + 1024) return damaged(file, in, "claims more pixels than the file holds");
    header.colours = walk.components;
    header.orientation = walk.exif.orientation;
    header.date = iso_date(walk.exif.date);
    header.x_dpi = walk.jfif_x > 0 ? walk.jfif_x : walk.exif.x_dpi.value_or(0);
    header.y_dpi = walk.jfif_x > 0 ? walk.jfif_y : walk.exif.y_dpi.value_or(0);
    header.profile = join_profile(walk.profile_parts);
    return header;
}

}  // namespace basefog::scan
