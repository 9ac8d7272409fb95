// SPDX-License-Identifier: GPL-3.0-or-later
// Files that are damaged, lie, or are no scans: each must be a clear error or data, quickly, and never a crash.
#include "scan/test_files.h"

#include <catch2/catch.hpp>
#include <chrono>
#include <fstream>
#include <opencv2/imgcodecs.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

Error error_of(const std::string& path, const ScanOptions& options = {}) {
    auto reader = open_scan(path, options);
    if (reader) {
        Image<LinearRgbi> image((*reader)->info().width, (*reader)->info().height);
        const auto read = (*reader)->read_region({0, 0, image.width(), image.height()}, image.view());
        if (!read) return read.error();
        FAIL("it was read");
    }
    CHECK(reader.error().path == path);
    CHECK_FALSE(reader.error().hint.empty());
    return reader.error();
}

/// A minimal classic little-endian TIFF of a header alone: entries of (tag, type 3 or 4, value), one strip or tile at offset 8.
Bytes bare_header(const std::vector<std::array<std::uint32_t, 3>>& entries) {
    Bytes b;
    const auto put_number = [&](std::uint32_t v, int bytes) {
        for (int i = 0; i < bytes; ++i) b.push_back(static_cast<unsigned char>(v >> 8 * i));
    };
    put_number(0x002A4949, 4);  // "II", 42
    put_number(8, 4);           // where the directory is
    put_number(static_cast<std::uint32_t>(entries.size()), 2);
    for (const auto& [tag, type, value] : entries) put_number(tag, 2), put_number(type, 2), put_number(1, 4), put_number(value, 4);
    put_number(0, 4);
    return b;
}

/// 60,000 x 60,000 pixels of 8 bits, grey.
Bytes huge_claim(std::uint32_t compression, std::uint32_t rows_per_strip) {
    return bare_header(
        {{256, 4, 60000}, {257, 4, 60000}, {258, 3, 8}, {259, 3, compression}, {262, 3, 1}, {273, 4, 8}, {277, 3, 1}, {278, 4, rows_per_strip}, {279, 4, 100}});
}

/// Own generator: the same mutations in every run, on every system.
struct Noise {
    std::uint64_t state;
    std::uint32_t next(std::uint32_t below) {
        state = state * 6364136223846793005u + 1442695040888963407u;
        return static_cast<std::uint32_t>(state >> 33) % below;
    }
};

/// Opens and reads what a mutated file yields. Returns whether it could be read whole.
bool survive(const std::string& path) {
    ScanOptions options;
    options.max_pixels = 1'000'000;
    options.memory_bytes = 128 * 1024;
    auto reader = open_scan(path, options);
    if (!reader) return false;
    OverviewOptions overview;
    overview.max_pixels = 1000;
    return read_overview(**reader, overview).has_value();
}

void mutate_and_survive(const TemporaryFolder& folder, const std::string& name, int rounds) {
    const Bytes sound = load(folder.file(name));
    REQUIRE(survive(folder.file(name)));
    Noise noise{0x5EEDu + sound.size()};
    int errors = 0;
    for (int round = 0; round < rounds; ++round) {
        Bytes bytes = sound;
        const std::uint32_t changes = 1 + noise.next(6);
        for (std::uint32_t i = 0; i < changes; ++i) {
            // Half of the changes hit the headers, where they matter most: at the start and at the end of the file.
            const auto size = static_cast<std::uint32_t>(bytes.size());
            const std::uint32_t where = noise.next(4);
            const std::uint32_t at = where == 0   ? noise.next(std::min(size, 300u))
                                     : where == 1 ? size - 1 - noise.next(std::min(size, 300u))
                                                  : noise.next(size);
            bytes[at] = static_cast<unsigned char>(noise.next(3) == 0 ? 0xFF : noise.next(256));
        }
        if (noise.next(8) == 0) bytes.resize(1 + noise.next(static_cast<std::uint32_t>(bytes.size())));
        save(folder.file("mutant"), bytes);
        errors += survive(folder.file("mutant")) ? 0 : 1;
    }
    CAPTURE(name);
    CHECK(errors > 0);  // the mutations do reach what is checked
}

}  // namespace

TEST_CASE("files that are no scans are told apart") {
    const TemporaryFolder folder;
    CHECK(error_of(folder.file("absent.tif")).code == ErrorCode::not_found);
    CHECK(error_of(folder.path().string()).code == ErrorCode::unreadable);
    CHECK(error_of(folder.path().string()).what.find("folder") != std::string::npos);
    save(folder.file("empty.tif"), {});
    CHECK(error_of(folder.file("empty.tif")).code == ErrorCode::malformed);
    CHECK(error_of(folder.file("empty.tif")).what.find("empty") != std::string::npos);
    const std::string text = "This is a shopping list: developer, fixer, soda crystals, and a new squeegee for the bath.\n";
    save(folder.file("text.tif"), Bytes(text.begin(), text.end()));
    CHECK(error_of(folder.file("text.tif")).code == ErrorCode::unsupported);
    CHECK(error_of(folder.file("text.tif")).what.find("no scan") != std::string::npos);
    CHECK(error_of(folder.file("text.tif/inside")).code == ErrorCode::not_found);
    if (::geteuid() != 0) {
        TiffSpec spec;
        write_tiff(folder.file("closed.tif"), spec);
        std::filesystem::permissions(folder.file("closed.tif"), std::filesystem::perms::none);
        CHECK(error_of(folder.file("closed.tif")).code == ErrorCode::unreadable);
    }
}

TEST_CASE("a single pixel is a scan") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.width = spec.height = 1;
    write_tiff(folder.file("one.tif"), spec);
    auto reader = open_scan(folder.file("one.tif"), {});
    REQUIRE(reader);
    const auto overview = read_overview(**reader, {});
    REQUIRE(overview);
    CHECK(overview->pixels.width() == 1);
}

TEST_CASE("headers that claim pixels the file does not hold are refused at once") {
    const TemporaryFolder folder;
    const auto start = std::chrono::steady_clock::now();
    for (const std::uint32_t compression : {1u, 5u, 8u, 32773u, 50000u})
        for (const std::uint32_t rows : {1u, 60000u}) {
            CAPTURE(compression, rows);
            save(folder.file("claim.tif"), huge_claim(compression, rows));
            ScanOptions options;
            options.max_pixels = 10'000'000'000;
            CHECK(error_of(folder.file("claim.tif"), options).code == ErrorCode::malformed);
            CHECK(error_of(folder.file("claim.tif")).code == ErrorCode::too_large);  // 3600 million pixels, above the usual limit
        }
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    CHECK(seconds < 5.0);  // twenty files; a machine under load has ample room
}

TEST_CASE("a truncated TIFF says from which row pixels are missing") {
    const TemporaryFolder folder;
    for (const std::uint16_t compression : {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE}) {
        TiffSpec spec;
        spec.width = 200;
        spec.height = spec.rows_per_strip = 150;
        spec.samples = 1;
        spec.bits = 8;
        spec.compression = compression;
        write_tiff(folder.file("whole.tif"), spec);
        TIFF* tiff = TIFFOpen(folder.file("whole.tif").c_str(), "rc");  // c: no splitting of the strip
        Bytes strip(static_cast<std::size_t>(TIFFRawStripSize64(tiff, 0)));
        TIFFReadRawStrip(tiff, 0, strip.data(), static_cast<tmsize_t>(strip.size()));
        TIFFClose(tiff);
        // The same strip behind its header, as programs write that do not go back.
        constexpr std::uint32_t kHeader = 8 + 2 + 9 * 12 + 4;
        Bytes file = bare_header({{256, 4, 200},
                                  {257, 4, 150},
                                  {258, 3, 8},
                                  {259, 3, compression},
                                  {262, 3, 1},
                                  {273, 4, kHeader},
                                  {277, 3, 1},
                                  {278, 4, 150},
                                  {279, 4, static_cast<std::uint32_t>(strip.size())}});
        REQUIRE(file.size() == kHeader);
        file.insert(file.end(), strip.begin(), strip.end());
        save(folder.file("sound.tif"), file);
        REQUIRE(open_scan(folder.file("sound.tif"), {}));
        file.resize(kHeader + strip.size() * 2 / 3);
        save(folder.file("cut.tif"), file);
        const Error error = error_of(folder.file("cut.tif"));
        CHECK(error.code == ErrorCode::malformed);
        CHECK(error.what.find("the file ends before its pixels do") != std::string::npos);
        // Uncompressed, two thirds of the 150 rows are there, give or take the library's pieces of 8 KB (40 rows).
        if (compression == COMPRESSION_NONE) CHECK((error.what.find("row 80 ") != std::string::npos || error.what.find("row 100 ") != std::string::npos));
    }
}

TEST_CASE("damage inside a strip is an error with its row, and the rows before it are read") {
    const TemporaryFolder folder;
    for (const bool huge_strip : {false, true}) {
        TiffSpec spec;
        spec.width = 300;
        spec.height = 700;
        spec.compression = COMPRESSION_ADOBE_DEFLATE;
        spec.rows_per_strip = huge_strip ? 700 : 70;
        write_tiff(folder.file("a.tif"), spec);
        Bytes bytes = load(folder.file("a.tif"));
        for (std::size_t i = bytes.size() / 2; i < bytes.size() / 2 + 40; ++i) bytes[i] = 0xFF;
        save(folder.file("b.tif"), bytes);
        ScanOptions options;
        options.memory_bytes = 512 * 1024;
        auto reader = open_scan(folder.file("b.tif"), options);
        REQUIRE(reader);
        Image<LinearRgbi> image(300, 100);
        REQUIRE((*reader)->read_region({0, 0, 300, 100}, image.view()));
        bool failed = false;
        for (std::int64_t y = 100; y < 700 && !failed; y += 100) {
            const auto read = (*reader)->read_region({0, y, 300, y + 100}, image.view());
            if (read) continue;
            failed = true;
            CHECK(read.error().code == ErrorCode::malformed);
            CHECK(read.error().what.find("row ") != std::string::npos);
        }
        CHECK(failed);
    }
}

TEST_CASE("kinds of TIFF that are not handled say so and what to do") {
    const TemporaryFolder folder;
    const auto write_kind = [&](std::uint32_t bits, std::uint32_t photometric, std::uint32_t samples, std::uint32_t compression) {
        Bytes b = bare_header({{256, 4, 10},
                               {257, 4, 10},
                               {258, 3, bits},
                               {259, 3, compression},
                               {262, 3, photometric},
                               {273, 4, 8},
                               {277, 3, samples},
                               {278, 4, 10},
                               {279, 4, 900}});
        b.resize(2000);
        save(folder.file("kind.tif"), b);
        return error_of(folder.file("kind.tif"));
    };
    CHECK(write_kind(1, 1, 1, 1).code == ErrorCode::unsupported);      // line art
    CHECK(write_kind(8, 5, 4, 1).code == ErrorCode::unsupported);      // printing inks
    CHECK(write_kind(32, 1, 1, 1).code == ErrorCode::unsupported);     // 32-bit integers
    CHECK(write_kind(8, 2, 5, 1).code == ErrorCode::unsupported);      // five samples
    CHECK(write_kind(8, 1, 1, 34712).code == ErrorCode::unsupported);  // wavelets
    CHECK(write_kind(8, 1, 1, 9999).code == ErrorCode::unsupported);   // unknown
}

TEST_CASE("a palette is refused") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.samples = 1;
    spec.bits = 8;
    TIFF* tiff = create_tiff(folder.file("palette.tif"), spec);
    set_tags(tiff, spec);
    std::vector<std::uint16_t> map(256, 77);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_PALETTE);
    TIFFSetField(tiff, TIFFTAG_COLORMAP, map.data(), map.data(), map.data());
    write_blocks(tiff, spec, [&](std::int64_t x, std::int64_t y, int s) { return code_at(spec, x, y, s); });
    TIFFClose(tiff);
    CHECK(error_of(folder.file("palette.tif")).code == ErrorCode::unsupported);
}

TEST_CASE("the limit of pixels holds for every kind of file") {
    const TemporaryFolder folder;
    TiffSpec spec;
    write_tiff(folder.file("a.tif"), spec);
    ScanOptions options;
    options.max_pixels = spec.width * spec.height - 1;
    CHECK(error_of(folder.file("a.tif"), options).code == ErrorCode::too_large);
    options.max_pixels = spec.width * spec.height;
    CHECK(open_scan(folder.file("a.tif"), options));
}

TEST_CASE("mutated TIFFs are errors or data") {
    const TemporaryFolder folder;
    for (const std::uint16_t compression : {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS, COMPRESSION_ZSTD})
        for (const int kind : {0, 1, 2}) {
            TiffSpec spec;
            spec.compression = compression;
            spec.bits = kind == 1 ? 8 : 16;
            spec.samples = kind == 2 ? 4 : 3;
            spec.tile = kind == 1 ? 16 : 0;
            spec.separate = kind == 2;
            spec.big_tiff = kind == 1;
            spec.big_endian = kind == 2;
            if (kind == 0 && compression != COMPRESSION_NONE) {  // one strip of 400 KB: read row by row
                spec.width = 260;
                spec.height = spec.rows_per_strip = 260;
            }
            spec.orientation = kind == 1 ? 6 : 1;
            write_tiff(folder.file("sound.tif"), spec);
            mutate_and_survive(folder, "sound.tif", 150);
        }
}

TEST_CASE("mutated PNGs and JPEGs are errors or data") {
    const TemporaryFolder folder;
    cv::Mat image(40, 50, CV_8UC3);
    for (int y = 0; y < image.rows; ++y)
        for (int x = 0; x < image.cols; ++x)
            image.at<cv::Vec3b>(y, x) = cv::Vec3b(static_cast<unsigned char>(x * 5), static_cast<unsigned char>(y * 6), static_cast<unsigned char>(x * y));
    cv::imwrite(folder.file("a.png"), image);
    cv::imwrite(folder.file("a.jpg"), image);
    mutate_and_survive(folder, "a.png", 200);
    mutate_and_survive(folder, "a.jpg", 200);
}
