// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/byte_reader.h"
#include "scan/constants.h"
#include "scan/exif.h"
#include "scan/picture_header.h"
#include "scan/tiff_page.h"

#include <array>

namespace basefog::scan {
namespace {

constexpr std::int64_t name_of(const char (&text)[5]) {
    return std::int64_t{static_cast<unsigned char>(text[0])} << 24 | std::int64_t{static_cast<unsigned char>(text[1])} << 16 |
           std::int64_t{static_cast<unsigned char>(text[2])} << 8 | static_cast<unsigned char>(text[3]);
}

/// CRC-32 as PNG's annex D defines it.
constexpr std::array<std::uint32_t, 256> crc_table() {
    std::array<std::uint32_t, 256> table{};
    for (std::uint32_t n = 0; n < 256; ++n) {
        std::uint32_t c = n;
        for (int bit = 0; bit < 8; ++bit) c = (c & 1) != 0 ? 0xEDB88320u ^ (c >> 1) : c >> 1;
        table[n] = c;
    }
    return table;
}
constexpr auto kCrcTable = crc_table();

std::uint32_t crc(std::uint32_t so_far, const unsigned char* bytes, std::int64_t count) {
    for (std::int64_t i = 0; i < count; ++i) so_far = kCrcTable[(so_far ^ bytes[i]) & 255] ^ (so_far >> 8);
    return so_far;
}

struct Chunk {
    std::int64_t name = 0, length = 0;
    std::vector<unsigned char> data;  ///< empty for pixel data, whose checksum alone matters here
    [[nodiscard]] std::int64_t number(std::size_t at, int bytes) const {
        std::int64_t value = 0;
        for (int i = 0; i < bytes; ++i) value = value << 8 | (at + static_cast<std::size_t>(i) < data.size() ? data[at + static_cast<std::size_t>(i)] : 0);
        return value;
    }
};

Failure damaged(const InputFile& file, const ByteReader& in, const std::string& what) {
    if (in.failed())
        return fail(ErrorCode::unreadable, "could not be read at byte " + std::to_string(in.position()), file.path(),
                    "check the disk, and copy the file again");
    return fail(ErrorCode::malformed, "is a PNG that " + what, file.path(), "copy or scan it again");
}

Result<Chunk> read_chunk(const InputFile& file, ByteReader& in) {
    Chunk chunk;
    chunk.length = in.number(4);
    if (chunk.length < 0 || chunk.length > in.left() - 8) return damaged(file, in, "ends before its picture does");
    const std::int64_t start = in.position();
    chunk.name = in.number(4);
    const bool keep = chunk.name != name_of("IDAT") && chunk.length <= kMostMetadata;
    std::uint32_t sum = 0xFFFFFFFFu;
    in.go_to(start);
    for (std::int64_t rest = chunk.length + 4; rest > 0;) {
        std::int64_t count = 0;
        const unsigned char* bytes = in.ahead(count);
        if (count == 0) return damaged(file, in, "ends before its picture does");
        count = std::min(count, rest);
        sum = crc(sum, bytes, count);
        if (keep) chunk.data.insert(chunk.data.end(), bytes, bytes + count);
        in.use(count);
        rest -= count;
    }
    if (keep) chunk.data.erase(chunk.data.begin(), chunk.data.begin() + 4);  // the name
    if (in.number(4) != static_cast<std::int64_t>(sum ^ 0xFFFFFFFFu)) return damaged(file, in, "is damaged near byte " + std::to_string(start));
    return chunk;
}

bool read_first(const Chunk& chunk, PictureHeader& header) {
    if (chunk.name != name_of("IHDR") || chunk.data.size() != 13) return false;
    header.width = chunk.number(0, 4);
    header.height = chunk.number(4, 4);
    const std::int64_t depth = chunk.number(8, 1), type = chunk.number(9, 1);
    constexpr std::int64_t kMostEdge = (std::int64_t{1} << 31) - 1;
    const bool known = type == 0 || type == 2 || type == 3 || type == 4 || type == 6;
    const bool possible = depth == 1 || depth == 2 || depth == 4 || depth == 8 || depth == 16;
    header.bits = depth == 16 ? 16 : 8;
    header.colours = type == 0 || type == 4 ? 1 : 3;
    header.out_of_order = chunk.number(12, 1) != 0;
    return known && possible && header.width >= 1 && header.height >= 1 && header.width <= kMostEdge && header.height <= kMostEdge;
}

void read_metadata(const Chunk& chunk, PictureHeader& header) {
    if (chunk.name == name_of("pHYs") && chunk.number(8, 1) == 1) {  // pixels per metre
        header.x_dpi = static_cast<double>(chunk.number(0, 4)) * kMmPerInch / 1000;
        header.y_dpi = static_cast<double>(chunk.number(4, 4)) * kMmPerInch / 1000;
    }
    if (chunk.name == name_of("sRGB")) header.encoding = Encoding{Encoding::Kind::srgb, 1.0};
    if (chunk.name == name_of("gAMA") && !header.encoding) {  // code = light ^ (value / 100000); an sRGB chunk goes before it
        const std::int64_t value = chunk.number(0, 4);
        const double gamma = value > 0 ? 100000.0 / static_cast<double>(value) : 0;
        if (value == 100000)
            header.encoding = Encoding{Encoding::Kind::linear, 1.0};
        else if (gamma >= kLeastGamma && gamma <= kMostGamma)
            header.encoding = Encoding{Encoding::Kind::gamma, gamma};
    }
    if (chunk.name == name_of("iCCP")) header.unread_profile = true;
    if (chunk.name == name_of("eXIf")) {
        const Exif exif = read_exif(chunk.data.data(), chunk.data.size());
        header.orientation = exif.orientation;
        header.date = iso_date(exif.date);
    }
}

}  // namespace

Result<PictureHeader> read_png_header(const InputFile& file) {
    ByteReader in(file);
    in.go_to(8);  // after the signature
    PictureHeader header;
    std::int64_t pixel_data = 0;
    bool first = true;
    while (true) {
        auto chunk = read_chunk(file, in);
        if (!chunk) return Failure(chunk.error());
        if (first && !read_first(*chunk, header)) return damaged(file, in, "has an impossible header");
        first = false;
        if (chunk->name == name_of("IDAT")) pixel_data += chunk->length;
        if (chunk->name == name_of("IEND")) break;
        read_metadata(*chunk, header);
    }
    // At least a bit per pixel, packed at most as well as Deflate can.
    if (header.width > INT64_MAX / 64 / header.height || header.width * header.height / 8 / kExpansionDeflate > pixel_data + 1024)
        return damaged(file, in, "claims more pixels than the file holds");
    return header;
}

}  // namespace basefog::scan
