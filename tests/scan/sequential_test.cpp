// SPDX-License-Identifier: GPL-3.0-or-later
// Files that can only be decoded from the top: one compressed strip far larger than the memory a reader may keep.
#include "scan/test_files.h"

#include <sys/resource.h>
#include <sys/wait.h>
#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

TiffSpec one_strip() {
    TiffSpec spec;
    spec.width = 300;
    spec.height = 700;
    spec.compression = COMPRESSION_ADOBE_DEFLATE;
    spec.predictor = 2;
    spec.rows_per_strip = spec.height;  // 1.26 MB decoded
    return spec;
}

/// As little as may be asked for: 36 rows of the file above.
ScanOptions little_memory(const TemporaryFolder& folder) {
    ScanOptions options = linear_options();
    options.memory_bytes = 128 * 1024;
    options.spill_folder = folder.path();
    return options;
}

std::int64_t files_in(const TemporaryFolder& folder) {
    return std::distance(std::filesystem::directory_iterator(folder.path()), std::filesystem::directory_iterator{});
}

std::int64_t wrong_in(const TiffSpec& spec, PxRect rect, const Image<LinearRgbi>& image) {
    std::int64_t wrong = 0;
    for (std::int64_t y = rect.y0; y < rect.y1; ++y)
        for (std::int64_t x = rect.x0; x < rect.x1; ++x) wrong += same(image(x - rect.x0, y - rect.y0), expected_pixel(spec, x, y)) ? 0 : 1;
    return wrong;
}

std::int64_t wrong_after_reading(ScanReader& reader, const TiffSpec& spec, PxRect rect) {
    Image<LinearRgbi> image(rect.width(), rect.height());
    const auto read = reader.read_region(rect, image.view());
    if (!read) FAIL(describe(read.error()));
    return wrong_in(spec, rect, image);
}

}  // namespace

TEST_CASE("a huge strip is read from the top without a temporary file, twice over") {
    const TemporaryFolder files, spills;
    for (const bool separate : {false, true})
        for (const std::uint16_t compression : {COMPRESSION_ADOBE_DEFLATE, COMPRESSION_LZW, COMPRESSION_ZSTD}) {
            TiffSpec spec = one_strip();
            spec.separate = separate;
            spec.compression = compression;
            write_tiff(files.file("strip.tif"), spec);
            RecordingObserver observer;
            ScanOptions options = little_memory(spills);
            options.spill_folder = "/nowhere/at/all";  // a spill would fail
            auto reader = open_scan(files.file("strip.tif"), options, observer);
            REQUIRE(reader);
            CHECK((*reader)->access() == Access::sequential);
            for (int pass = 0; pass < 2; ++pass)
                for (std::int64_t y = 0; y < spec.height; y += 50) REQUIRE(wrong_after_reading(**reader, spec, {0, y, spec.width, y + 50}) == 0);
            REQUIRE(wrong_after_reading(**reader, spec, {10, spec.height - 5, 20, spec.height}) == 0);  // still kept
            CHECK(observer.notices.empty());
        }
}

TEST_CASE("a random region of a huge strip spills once, says so, and leaves nothing behind") {
    const TemporaryFolder files, spills;
    const TiffSpec spec = one_strip();
    write_tiff(files.file("strip.tif"), spec);
    RecordingObserver observer;
    {
        auto reader = open_scan(files.file("strip.tif"), little_memory(spills), observer);
        REQUIRE(reader);
        REQUIRE(wrong_after_reading(**reader, spec, {5, 600, 290, 650}) == 0);
        REQUIRE(observer.notices.empty());  // forward so far
        REQUIRE(wrong_after_reading(**reader, spec, {17, 31, 200, 90}) == 0);
        REQUIRE(observer.notices.size() == 1);
        CHECK(observer.notices[0].find(files.file("strip.tif")) != std::string::npos);
        CHECK((*reader)->access() == Access::random);
        REQUIRE(wrong_after_reading(**reader, spec, {0, 0, 300, 700}) == 0);
        REQUIRE(wrong_after_reading(**reader, spec, {250, 250, 262, 262}) == 0);
        CHECK(observer.notices.size() == 1);
        CHECK(files_in(spills) == 0);  // it has no name even while it is used
    }
    CHECK(files_in(spills) == 0);
}

TEST_CASE("a spill that cannot be written is an error that says where") {
    const TemporaryFolder files;
    const TiffSpec spec = one_strip();
    write_tiff(files.file("strip.tif"), spec);
    ScanOptions options = little_memory(files);
    options.spill_folder = files.file("missing");
    auto reader = open_scan(files.file("strip.tif"), options);
    REQUIRE(reader);
    Image<LinearRgbi> image(10, 10);
    REQUIRE((*reader)->read_region({0, 500, 10, 510}, image.view()));
    const auto read = (*reader)->read_region({0, 0, 10, 10}, image.view());
    REQUIRE_FALSE(read);
    CHECK(read.error().code == ErrorCode::unwritable);
    CHECK(read.error().what.find("missing") != std::string::npos);
}

TEST_CASE("stopping while a file is laid out is an interruption") {
    const TemporaryFolder files, spills;
    const TiffSpec spec = one_strip();
    write_tiff(files.file("strip.tif"), spec);
    RecordingObserver observer;
    auto reader = open_scan(files.file("strip.tif"), little_memory(spills), observer);
    REQUIRE(reader);
    Image<LinearRgbi> image(10, 10);
    REQUIRE((*reader)->read_region({0, 500, 10, 510}, image.view()));
    observer.cancel = true;
    const auto read = (*reader)->read_region({0, 0, 10, 10}, image.view());
    REQUIRE_FALSE(read);
    CHECK(read.error().code == ErrorCode::interrupted);
}

TEST_CASE("an uncompressed huge strip needs no temporary file for any region") {
    const TemporaryFolder files, spills;
    for (const bool separate : {false, true}) {
        TiffSpec spec = one_strip();
        spec.compression = COMPRESSION_NONE;
        spec.predictor = 1;
        spec.separate = separate;
        spec.rows_per_strip = 350;  // two strips: the library splits a single one by itself
        write_tiff(files.file("open.tif"), spec);
        ScanOptions options = little_memory(spills);
        options.spill_folder = "/nowhere/at/all";
        auto reader = open_scan(files.file("open.tif"), options);
        REQUIRE(reader);
        CHECK((*reader)->access() == Access::random);
        for (const PxRect rect : {PxRect{0, 600, 300, 700}, PxRect{40, 10, 90, 400}, PxRect{0, 349, 300, 351}, PxRect{299, 0, 300, 700}})
            REQUIRE(wrong_after_reading(**reader, spec, rect) == 0);
    }
}

TEST_CASE("turned pictures on strips, and upside-down ones in one strip, are laid out once") {
    const TemporaryFolder files, spills;
    for (int orientation = 2; orientation <= 8; ++orientation)
        for (const bool huge : {false, true}) {
            CAPTURE(orientation, huge);
            TiffSpec spec = one_strip();
            spec.orientation = orientation;
            if (!huge) spec.rows_per_strip = 5;
            write_tiff(files.file("turned.tif"), spec);
            auto whole = open_scan(files.file("turned.tif"), linear_options());  // memory enough: no spill, checked pixel by pixel elsewhere
            RecordingObserver observer;
            auto little = open_scan(files.file("turned.tif"), little_memory(spills), observer);
            REQUIRE(whole);
            REQUIRE(little);
            const std::int64_t width = (*whole)->info().width, height = (*whole)->info().height;
            Image<LinearRgbi> expected(width, height), got(width, height);
            REQUIRE((*whole)->read_region({0, 0, width, height}, expected.view()));
            for (std::int64_t y = 0; y < height; y += 37) {
                const std::int64_t rows = std::min<std::int64_t>(37, height - y);
                REQUIRE((*little)->read_region({0, y, width, y + rows}, got.view().part(0, y, width, rows)));
            }
            CHECK(std::memcmp(expected.row(0), got.row(0), static_cast<std::size_t>(width * height) * sizeof(LinearRgbi)) == 0);
            const bool should_spill = orientation >= 5 || (huge && orientation >= 3);
            CHECK(observer.notices.size() == (should_spill ? 1 : 0));
        }
}

TEST_CASE("memory stays bounded on one huge compressed strip") {
    const TemporaryFolder files;
    TiffSpec spec;
    spec.width = 4000;
    spec.height = 4500;  // 108 MB decoded, and noise does not compress
    spec.compression = COMPRESSION_LZW;
    spec.rows_per_strip = spec.height;
    TIFF* tiff = create_tiff(files.file("huge.tif"), spec);
    set_tags(tiff, spec);
    std::vector<std::uint16_t> row(spec.width * 3);
    std::uint32_t noise = 1;
    for (std::uint16_t& value : row) value = static_cast<std::uint16_t>((noise = noise * 1664525u + 1013904223u) >> 16);
    for (std::uint32_t y = 0; y < spec.height; ++y) TIFFWriteScanline(tiff, row.data(), y, 0);
    TIFFClose(tiff);
    REQUIRE(std::filesystem::file_size(files.file("huge.tif")) > 70'000'000);  // so a copy of the compressed strip, which is kept mapped instead, would show

    const pid_t child = ::fork();  // the peak of a process of its own
    if (child == 0) {
        ScanOptions options = linear_options();
        options.memory_bytes = 8 * 1024 * 1024;
        OverviewOptions overview;
        overview.max_pixels = 100'000;
        struct rusage before {
        }, after{};
        ::getrusage(RUSAGE_SELF, &before);
        auto reader = open_scan(files.file("huge.tif"), options);
        const bool read = reader && read_overview(**reader, overview);
        ::getrusage(RUSAGE_SELF, &after);
        ::_exit(!read ? 255 : static_cast<int>(std::min(254L, (after.ru_maxrss - before.ru_maxrss) / 1024)));
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    REQUIRE(WIFEXITED(status));
    // Megabytes: 4 of kept rows, 4 of a band, 2 of overview, a few of mapped pages; as much again for what allocators keep.
    CHECK(WEXITSTATUS(status) <= 40);
}

TEST_CASE("a huge strip that others cut short while it is read is an error that says so, not the end of the program") {
    const TemporaryFolder files;
    const TiffSpec spec = one_strip();
    for (const bool all_of_it : {false, true}) {
        write_tiff(files.file("strip.tif"), spec);
        auto reader = open_scan(files.file("strip.tif"), little_memory(files));
        REQUIRE(reader);
        REQUIRE(wrong_after_reading(**reader, spec, {0, 0, spec.width, 50}) == 0);
        const auto size = std::filesystem::file_size(files.file("strip.tif"));
        std::filesystem::resize_file(files.file("strip.tif"), all_of_it ? 0 : size / 2);
        Image<LinearRgbi> image(spec.width, spec.height - 50);
        const auto read = (*reader)->read_region({0, 50, spec.width, spec.height}, image.view());
        REQUIRE_FALSE(read);
        CHECK(read.error().code == ErrorCode::unreadable);
        CHECK(read.error().what.find("became shorter") != std::string::npos);
    }
    // Another file is read as before.
    write_tiff(files.file("sound.tif"), spec);
    auto sound = open_scan(files.file("sound.tif"), little_memory(files));
    REQUIRE(sound);
    CHECK(wrong_after_reading(**sound, spec, {0, 0, spec.width, spec.height}) == 0);
}
