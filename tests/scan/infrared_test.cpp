// SPDX-License-Identifier: GPL-3.0-or-later
// Infrared as a further sample is in the matrix of the TIFF tests; here it lies on another page or in another file.
#include "scan/test_files.h"

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

double infrared_code(std::int64_t x, std::int64_t y) { return static_cast<double>((x * 977 + y * 2393) % 65536); }

struct Page {
    TiffSpec spec;
    CodeAt code;
    bool reduced = false;
};

void write_pages(const std::string& path, const std::vector<Page>& pages) {
    TIFF* tiff = create_tiff(path, pages.front().spec);
    for (const Page& page : pages) {
        set_tags(tiff, page.spec);
        if (page.reduced) TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, FILETYPE_REDUCEDIMAGE);
        write_blocks(
            tiff, page.spec, page.code ? page.code : [&](std::int64_t x, std::int64_t y, int s) { return code_at(page.spec, x, y, s); });
        TIFFWriteDirectory(tiff);
    }
    TIFFClose(tiff);
}

Page infrared_page(const TiffSpec& of) {
    Page page{of, [](std::int64_t x, std::int64_t y, int) { return infrared_code(x, y); }};
    page.spec.samples = 1;
    page.spec.bits = 16;
    page.spec.rows_per_strip = 11;
    return page;
}

/// Colours as in a file without infrared, and the infrared expected; counted over the whole picture.
std::int64_t wrong_pixels(ScanReader& reader, const TiffSpec& spec, bool with_infrared) {
    Image<LinearRgbi> image(reader.info().width, reader.info().height);
    const auto read = reader.read_region({0, 0, image.width(), image.height()}, image.view());
    if (!read) FAIL(describe(read.error()));
    std::int64_t wrong = 0;
    for (std::int64_t y = 0; y < image.height(); ++y)
        for (std::int64_t x = 0; x < image.width(); ++x) {
            LinearRgbi expected = expected_pixel(spec, x, y);
            if (with_infrared) expected.ir = static_cast<float>(infrared_code(x, y) / 65535);
            wrong += same(image(x, y), expected) ? 0 : 1;
        }
    return wrong;
}

}  // namespace

TEST_CASE("a second page of the same size and one sample is infrared") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    write_pages(folder.file("two.tif"), {{spec, {}}, infrared_page(spec)});
    auto reader = open_scan(folder.file("two.tif"), linear_options());
    REQUIRE(reader);
    CHECK((*reader)->info().has_infrared);
    CHECK((*reader)->info().infrared_from == "second page");
    CHECK(wrong_pixels(**reader, spec, true) == 0);

    ScanOptions without = linear_options();
    without.ignore_infrared = true;
    auto ignoring = open_scan(folder.file("two.tif"), without);
    REQUIRE(ignoring);
    CHECK_FALSE((*ignoring)->info().has_infrared);
    CHECK(wrong_pixels(**ignoring, spec, false) == 0);
}

TEST_CASE("an infrared page may differ in depth, and its orientation counts") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.bits = 8;
    Page page = infrared_page(spec);
    page.spec.orientation = 3;
    page.code = [&](std::int64_t x, std::int64_t y, int) { return infrared_code(spec.width - 1 - x, spec.height - 1 - y); };
    write_pages(folder.file("two.tif"), {{spec, {}}, page});
    auto reader = open_scan(folder.file("two.tif"), linear_options());
    REQUIRE(reader);
    CHECK(wrong_pixels(**reader, spec, true) == 0);
}

TEST_CASE("a reduced page is passed over, before the scan and after it") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    TiffSpec small = spec;
    small.width = 16;
    small.height = 12;
    TiffSpec small_grey = small;
    small_grey.samples = 1;
    write_pages(folder.file("after.tif"), {{spec, {}}, {small_grey, {}, true}});
    write_pages(folder.file("before.tif"), {{small, {}, true}, {spec, {}}});
    write_pages(folder.file("between.tif"), {{spec, {}}, {small, {}, true}, infrared_page(spec)});
    write_pages(folder.file("unmarked.tif"), {{spec, {}}, {small_grey, {}}});
    for (const char* name : {"after.tif", "before.tif", "between.tif", "unmarked.tif"}) {
        CAPTURE(name);
        auto reader = open_scan(folder.file(name), linear_options());
        REQUIRE(reader);
        const bool infrared = std::string(name) == "between.tif";
        CHECK((*reader)->info().has_infrared == infrared);
        CHECK((*reader)->info().infrared_from == (infrared ? "page 3" : ""));
        CHECK(wrong_pixels(**reader, spec, infrared) == 0);
    }
}

TEST_CASE("infrared in a second file, of any kind, wins over the scan's own") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.samples = 4;
    write_tiff(folder.file("scan.tif"), spec);
    const Page page = infrared_page(spec);
    write_tiff(folder.file("infrared.tif"), page.spec, page.code);
    cv::Mat png(static_cast<int>(spec.height), static_cast<int>(spec.width), CV_16U);
    for (int y = 0; y < png.rows; ++y)
        for (int x = 0; x < png.cols; ++x) png.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(infrared_code(x, y));
    cv::imwrite(folder.file("infrared.png"), png);
    for (const char* name : {"infrared.tif", "infrared.png"}) {
        ScanOptions options = linear_options();
        options.infrared_path = folder.file(name);
        auto reader = open_scan(folder.file("scan.tif"), options);
        if (!reader) FAIL(describe(reader.error()));
        CHECK((*reader)->info().infrared_from == folder.file(name));
        CHECK(wrong_pixels(**reader, spec, true) == 0);
    }
}

TEST_CASE("infrared of another size is refused with both sizes") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    write_tiff(folder.file("scan.tif"), spec);
    TiffSpec other = spec;
    other.width = 60;
    write_tiff(folder.file("infrared.tif"), other);
    ScanOptions options = linear_options();
    options.infrared_path = folder.file("infrared.tif");
    auto reader = open_scan(folder.file("scan.tif"), options);
    REQUIRE_FALSE(reader);
    CHECK(reader.error().path == folder.file("infrared.tif"));
    CHECK(reader.error().what.find("60 x 45") != std::string::npos);
    CHECK(reader.error().what.find("61 x 45") != std::string::npos);
    options.infrared_path = folder.file("absent.tif");
    auto absent = open_scan(folder.file("scan.tif"), options);
    REQUIRE_FALSE(absent);
    CHECK(absent.error().code == ErrorCode::not_found);
}

TEST_CASE("regions of a pair with infrared are parts of the whole") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.width = 700;
    spec.height = 500;
    spec.tile = 64;
    Page page = infrared_page(spec);
    page.spec.tile = 0;
    write_pages(folder.file("two.tif"), {{spec, {}}, page});
    auto reader = open_scan(folder.file("two.tif"), linear_options());
    REQUIRE(reader);
    Image<LinearRgbi> part(333, 444);
    REQUIRE((*reader)->read_region({21, 35, 354, 479}, part.view()));
    std::int64_t wrong = 0;
    for (std::int64_t y = 0; y < 444; ++y)
        for (std::int64_t x = 0; x < 333; ++x) {
            LinearRgbi expected = expected_pixel(spec, x + 21, y + 35);
            expected.ir = static_cast<float>(infrared_code(x + 21, y + 35) / 65535);
            wrong += same(part(x, y), expected) ? 0 : 1;
        }
    CHECK(wrong == 0);
}

TEST_CASE("samples that are no numbers are told, in the colours and on the infrared's own page") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.bits = 32;
    for (const bool in_colours : {false, true})
        for (const bool stored : {false, true}) {
            const double odd = std::nan("");
            Page colours{spec, [&](std::int64_t x, std::int64_t y, int) { return in_colours && x == 7 && y == 9 ? odd : 0.5; }}, infrared = colours;
            infrared.spec.samples = 1;
            infrared.code = [&](std::int64_t x, std::int64_t y, int) { return !in_colours && x == 8 && y == 30 ? odd : 0.4; };
            write_pages(folder.file("two.tif"), {colours, infrared});
            auto reader = open_scan(folder.file("two.tif"), linear_options());
            REQUIRE(reader);
            REQUIRE((*reader)->info().has_infrared);
            const std::size_t before = (*reader)->info().warnings.size();
            const PxRect all{0, 0, (*reader)->info().width, (*reader)->info().height};
            if (stored) {
                std::vector<std::byte> bytes(static_cast<std::size_t>(all.width() * all.height() * (*reader)->stored_format()->pixel_bytes()));
                REQUIRE((*reader)->read_stored(all, bytes.data()));
            } else {
                Image<LinearRgbi> image(all.width(), all.height());
                REQUIRE((*reader)->read_region(all, image.view()));
            }
            const std::vector<std::string>& warnings = (*reader)->info().warnings;
            REQUIRE(warnings.size() == before + 1);
            CHECK(warnings.back().find("no finite numbers") != std::string::npos);
            CHECK(warnings.back().starts_with("Infrared: ") == !in_colours);
        }
}
