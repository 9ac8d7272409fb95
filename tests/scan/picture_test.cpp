// SPDX-License-Identifier: GPL-3.0-or-later
// PNG and JPEG: pixels against what OpenCV wrote or reads itself, headers written here by hand from the formats' texts.
#include "scan/test_files.h"

#include <png.h>
#include <catch2/catch.hpp>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

void append(Bytes& to, std::uint64_t value, int bytes) {
    to.reserve(256);  // more than is put together here: the compiler need not guess at growth
    for (int i = bytes - 1; i >= 0; --i) to.push_back(static_cast<unsigned char>(value >> 8 * i));
}

/// CRC-32 bit by bit, as the polynomial division it is [ISO/IEC 15948, 5.5].
std::uint32_t crc(const Bytes& bytes, std::size_t from) {
    std::uint32_t rest = 0xFFFFFFFFu;
    for (std::size_t i = from; i < bytes.size(); ++i) {
        rest ^= bytes[i];
        for (int bit = 0; bit < 8; ++bit) rest = (rest >> 1) ^ ((rest & 1) * 0xEDB88320u);
    }
    return ~rest;
}

/// Puts a chunk right after the header of a PNG.
void insert_chunk(const std::string& path, const std::string& name, const Bytes& data) {
    Bytes chunk;
    append(chunk, data.size(), 4);
    chunk.insert(chunk.end(), name.begin(), name.end());
    chunk.insert(chunk.end(), data.begin(), data.end());
    append(chunk, crc(chunk, 4), 4);
    Bytes png = load(path);
    png.insert(png.begin() + 8 + 25, chunk.begin(), chunk.end());
    save(path, png);
}

/// A TIFF-structured block, big-endian, with one short entry for orientation and one for a date.
Bytes exif_block(int orientation) {
    Bytes b;
    append(b, 0x4D4D002A, 4);  // "MM", 42
    append(b, 8, 4);           // the directory
    append(b, 2, 2);
    append(b, 0x0112, 2), append(b, 3, 2), append(b, 1, 4), append(b, static_cast<std::uint64_t>(orientation), 2), append(b, 0, 2);
    append(b, 0x0132, 2), append(b, 2, 2), append(b, 20, 4), append(b, 38, 4);
    append(b, 0, 4);  // no further directory
    const std::string date = "2025:03:09 14:05:59";
    b.insert(b.end(), date.begin(), date.end());
    b.push_back(0);
    return b;
}

void insert_exif(const std::string& jpeg_path, int orientation) {
    Bytes segment;
    append(segment, 0xFFE1, 2);
    const Bytes block = exif_block(orientation);
    append(segment, block.size() + 8, 2);
    for (const char c : std::string("Exif\0\0", 6)) segment.push_back(static_cast<unsigned char>(c));
    segment.insert(segment.end(), block.begin(), block.end());
    Bytes jpeg = load(jpeg_path);
    jpeg.insert(jpeg.begin() + 2, segment.begin(), segment.end());
    save(jpeg_path, jpeg);
}

cv::Mat picture(int width, int height, int type) {
    cv::Mat image(height, width, type);
    std::uint32_t noise = 7;
    const std::size_t bytes = image.total() * image.elemSize();
    for (std::size_t i = 0; i < bytes; ++i) image.data[i] = static_cast<unsigned char>((noise = noise * 1664525u + 1013904223u) >> 24);
    return image;
}

/// Soft, so that JPEG's loss is not the point.
cv::Mat soft_picture(int width, int height) {
    cv::Mat image(height, width, CV_8UC3);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
            image.at<cv::Vec3b>(y, x) = cv::Vec3b(static_cast<unsigned char>(x * 3), static_cast<unsigned char>(y * 4), static_cast<unsigned char>(x + y));
    return image;
}

template <class Sample>
std::int64_t wrong_pixels(const Image<LinearRgbi>& got, const cv::Mat& bgr) {
    if (got.width() != bgr.cols || got.height() != bgr.rows) return -1;
    const float full = std::numeric_limits<Sample>::max();
    std::int64_t wrong = 0;
    for (int y = 0; y < bgr.rows; ++y)
        for (int x = 0; x < bgr.cols; ++x) {
            const Sample* p = bgr.ptr<Sample>(y) + x * bgr.channels();
            const bool grey = bgr.channels() == 1;
            const LinearRgbi expected{p[grey ? 0 : 2] / full, p[grey ? 0 : 1] / full, p[0] / full, 0};
            wrong += same(got(x, y), expected) ? 0 : 1;
        }
    return wrong;
}

bool warns(const ScanInfo& info, const std::string& of) {
    return std::any_of(info.warnings.begin(), info.warnings.end(), [&](const std::string& w) { return w.find(of) != std::string::npos; });
}

/// [PNG: ISO/IEC 15948], interlace method 1, through libpng.
void write_interlaced(const std::string& path, const cv::Mat& bgr) {
    cv::Mat rgb;
    cv::cvtColor(bgr, rgb, cv::COLOR_BGR2RGB);
    std::FILE* file = std::fopen(path.c_str(), "wb");
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
    png_infop info = png_create_info_struct(png);
    png_init_io(png, file);
    png_set_IHDR(png, info, static_cast<png_uint_32>(rgb.cols), static_cast<png_uint_32>(rgb.rows), 16, PNG_COLOR_TYPE_RGB, PNG_INTERLACE_ADAM7,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    png_set_swap(png);
    std::vector<png_bytep> rows;
    for (int y = 0; y < rgb.rows; ++y) rows.push_back(rgb.ptr<png_byte>(y));
    png_write_image(png, rows.data());
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
    std::fclose(file);
}

}  // namespace

TEST_CASE("PNGs of 8 and 16 bits, grey, RGB and with transparency give back their samples") {
    const TemporaryFolder folder;
    for (const int type : {CV_8UC1, CV_8UC3, CV_8UC4, CV_16UC1, CV_16UC3, CV_16UC4}) {
        CAPTURE(type);
        const cv::Mat image = picture(37, 29, type);
        cv::imwrite(folder.file("a.png"), image);
        const auto reader = opened(folder.file("a.png"), linear_options());
        CHECK(reader->info().kind == FileKind::png);
        CHECK(reader->info().colour_channels == (image.channels() == 1 ? 1 : 3));
        CHECK(reader->info().bits == (image.depth() == CV_8U ? 8 : 16));
        CHECK_FALSE(reader->info().has_infrared);
        CHECK_FALSE(reader->info().lossy);
        CHECK(warns(reader->info(), "8 bits") == (image.depth() == CV_8U));
        const Image<LinearRgbi> got = read_all(*reader);
        CHECK((image.depth() == CV_8U ? wrong_pixels<std::uint8_t>(got, image) : wrong_pixels<std::uint16_t>(got, image)) == 0);
    }
}

TEST_CASE("a PNG's resolution, encoding and orientation are taken from its chunks") {
    const TemporaryFolder folder;
    const std::string path = folder.file("a.png");
    cv::imwrite(path, picture(20, 10, CV_16UC3));
    CHECK(opened(path, {})->info().encoding_origin == Origin::assumed);
    Bytes per_metre;
    append(per_metre, 94488, 4), append(per_metre, 94488, 4), append(per_metre, 1, 1);  // 2400 dpi
    insert_chunk(path, "pHYs", per_metre);
    insert_chunk(path, "gAMA", {0, 0, 0xB1, 0x8F});  // 45455: light to the power 1/2.2, the example of the PNG text
    insert_chunk(path, "eXIf", exif_block(6));
    auto reader = opened(path, {});
    REQUIRE(reader->info().resolution);
    CHECK(dpi_from_px_per_mm(*reader->info().resolution) == Approx(2400).epsilon(1e-5));
    CHECK(reader->info().resolution_origin == Origin::file);
    CHECK(reader->info().encoding.kind == Encoding::Kind::gamma);
    CHECK(reader->info().encoding.gamma == Approx(2.2).epsilon(1e-4));
    CHECK(reader->info().encoding_origin == Origin::file);
    CHECK(reader->info().width == 10);
    CHECK(reader->info().date == "2025-03-09T14:05:59");
    insert_chunk(path, "sRGB", {0});
    CHECK(opened(path, {})->info().encoding.kind == Encoding::Kind::srgb);
}

TEST_CASE("a JPEG is read as OpenCV reads it, and its loss is told") {
    const TemporaryFolder folder;
    cv::imwrite(folder.file("a.jpg"), soft_picture(80, 60));
    const auto reader = opened(folder.file("a.jpg"), linear_options());
    CHECK(reader->info().kind == FileKind::jpeg);
    CHECK(reader->info().lossy);
    CHECK(warns(reader->info(), "loss"));
    CHECK(warns(reader->info(), "8 bits"));
    CHECK(wrong_pixels<std::uint8_t>(read_all(*reader), cv::imread(folder.file("a.jpg"), cv::IMREAD_COLOR)) == 0);
    cv::imwrite(folder.file("grey.jpg"), picture(40, 30, CV_8UC1));
    CHECK(opened(folder.file("grey.jpg"), linear_options())->info().colour_channels == 1);
}

TEST_CASE("Exif orientations turn a JPEG as OpenCV's own reading does") {
    const TemporaryFolder folder;
    for (int orientation = 1; orientation <= 8; ++orientation) {
        CAPTURE(orientation);
        cv::imwrite(folder.file("a.jpg"), soft_picture(80, 60));
        insert_exif(folder.file("a.jpg"), orientation);
        const auto reader = opened(folder.file("a.jpg"), linear_options());
        CHECK(reader->info().date == "2025-03-09T14:05:59");
        CHECK(wrong_pixels<std::uint8_t>(read_all(*reader), cv::imread(folder.file("a.jpg"), cv::IMREAD_COLOR)) == 0);
    }
}

TEST_CASE("a JPEG's density is read per inch and per centimetre, and a ratio is none") {
    const TemporaryFolder folder;
    cv::imwrite(folder.file("a.jpg"), soft_picture(30, 20));
    const auto dpi_with = [&](unsigned char unit, unsigned value) -> double {
        Bytes jpeg = load(folder.file("a.jpg"));
        REQUIRE(std::string(jpeg.begin() + 6, jpeg.begin() + 10) == "JFIF");
        jpeg[13] = unit;
        jpeg[14] = jpeg[16] = static_cast<unsigned char>(value >> 8);
        jpeg[15] = jpeg[17] = static_cast<unsigned char>(value);
        save(folder.file("b.jpg"), jpeg);
        const auto resolution = opened(folder.file("b.jpg"), linear_options())->info().resolution;
        return resolution ? dpi_from_px_per_mm(*resolution) : 0;
    };
    CHECK(dpi_with(1, 2400) == Approx(2400));
    CHECK(dpi_with(2, 1000) == Approx(2540));
    CHECK(dpi_with(0, 1) == 0);
    CHECK(dpi_with(1, 72) == 0);
}

TEST_CASE("cut-off and damaged pictures are errors, not grey areas") {
    const TemporaryFolder folder;
    cv::imwrite(folder.file("a.jpg"), picture(200, 150, CV_8UC3));
    cv::imwrite(folder.file("a.png"), picture(200, 150, CV_16UC3));
    for (const char* name : {"a.jpg", "a.png"}) {
        const Bytes whole = load(folder.file(name));
        for (const std::size_t size : {std::size_t{3}, std::size_t{9}, std::size_t{30}, whole.size() / 2, whole.size() - 2}) {
            CAPTURE(name, size);
            save(folder.file("cut"), Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(size)));
            const auto reader = open_scan(folder.file("cut"), {});
            REQUIRE_FALSE(reader);
            CHECK_FALSE(reader.error().hint.empty());
        }
    }
    Bytes png = load(folder.file("a.png"));
    png[png.size() / 2] ^= 1;  // one bit: the checksum tells
    save(folder.file("bit.png"), png);
    const auto reader = open_scan(folder.file("bit.png"), {});
    REQUIRE_FALSE(reader);
    CHECK(reader.error().code == ErrorCode::malformed);
}

TEST_CASE("headers that claim too much are refused before anything is decoded") {
    const TemporaryFolder folder;
    cv::imwrite(folder.file("a.jpg"), soft_picture(30, 20));
    Bytes jpeg = load(folder.file("a.jpg"));
    for (std::size_t i = 0; i + 9 < jpeg.size(); ++i)
        if (jpeg[i] == 0xFF && jpeg[i + 1] == 0xC0) jpeg[i + 5] = jpeg[i + 7] = 0xEA, jpeg[i + 6] = jpeg[i + 8] = 0x60;  // 60,000 x 60,000
    save(folder.file("b.jpg"), jpeg);
    const auto claimed = open_scan(folder.file("b.jpg"), {});
    REQUIRE_FALSE(claimed);
    CHECK(claimed.error().code == ErrorCode::malformed);
    ScanOptions few;
    few.max_pixels = 599;
    const auto limited = open_scan(folder.file("a.jpg"), few);
    REQUIRE_FALSE(limited);
    CHECK(limited.error().code == ErrorCode::too_large);
}

TEST_CASE("a picture larger than memory allows is read row by row, once, and put aside only when rows are asked for again") {
    const TemporaryFolder folder;
    const cv::Mat deep = picture(200, 150, CV_16UC3), soft = picture(200, 150, CV_8UC3);
    cv::imwrite(folder.file("a.png"), deep);
    cv::imwrite(folder.file("a.jpg"), soft);
    cv::imwrite(folder.file("b.jpg"), soft, {cv::IMWRITE_JPEG_PROGRESSIVE, 1});
    for (const char* name : {"a.png", "a.jpg", "b.jpg"}) {
        CAPTURE(name);
        ScanOptions little = linear_options();
        little.memory_bytes = 64 * 1024;
        little.spill_folder = folder.path().string();
        const Image<LinearRgbi> whole = read_all(*opened(folder.file(name), linear_options()));
        const auto same_as_whole = [&](ScanReader& reader, PxRect rect) {
            Image<LinearRgbi> part(rect.width(), rect.height());
            REQUIRE(reader.read_region(rect, part.view()));
            for (std::int64_t y = 0; y < part.height(); ++y)
                for (std::int64_t x = 0; x < part.width(); ++x)
                    if (!same(part(x, y), whole(rect.x0 + x, rect.y0 + y))) return false;
            return true;
        };
        const auto reader = opened(folder.file(name), little);
        CHECK(reader->access() == Access::sequential);
        const std::int64_t before = bytes_decoded();
        for (std::int64_t y = 0; y < 150; y += 50) CHECK(same_as_whole(*reader, {0, y, 200, y + 50}));
        const std::int64_t once = std::int64_t{200} * 150 * 3 * (reader->info().bits / 8);
        CHECK(bytes_decoded() - before == once);
        for (std::int64_t y = 0; y < 150; y += 50) CHECK(same_as_whole(*reader, {0, y, 200, y + 50}));  // once more from the top
        CHECK(bytes_decoded() - before == 2 * once);
        CHECK(same_as_whole(*reader, {20, 10, 60, 40}));  // back: laid out on disk
        CHECK(same_as_whole(*reader, {120, 100, 160, 140}));
        CHECK(same_as_whole(*reader, {20, 10, 60, 40}));
        CHECK(bytes_decoded() - before == 3 * once);
    }
}

TEST_CASE("an interlaced PNG has the same pixels as one that is not, whole and row by row") {
    const TemporaryFolder folder;
    const cv::Mat image = picture(161, 147, CV_16UC3);
    cv::imwrite(folder.file("plain.png"), image);
    write_interlaced(folder.file("laced.png"), image);
    const Image<LinearRgbi> plain = read_all(*opened(folder.file("plain.png"), linear_options()));
    for (const std::int64_t memory : {std::int64_t{1} << 24, std::int64_t{1} << 16}) {
        ScanOptions options = linear_options();
        options.memory_bytes = memory;
        const Image<LinearRgbi> laced = read_all(*opened(folder.file("laced.png"), options));
        std::int64_t wrong = 0;
        for (std::int64_t y = 0; y < plain.height(); ++y)
            for (std::int64_t x = 0; x < plain.width(); ++x) wrong += same(plain(x, y), laced(x, y)) ? 0 : 1;
        CHECK(wrong == 0);
    }
}
