// SPDX-License-Identifier: GPL-3.0-or-later
// Samples as stored, put aside and turned into light later: the same light as read at once, and each byte decoded once on a way from the top.
#include "scan/test_files.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

bool same_light(const Image<LinearRgbi>& a, const Image<LinearRgbi>& b) {
    return a.width() == b.width() && a.height() == b.height() &&
           std::memcmp(a.row(0), b.row(0), static_cast<std::size_t>(a.width() * a.height()) * sizeof(LinearRgbi)) == 0;
}

/// The whole scan by way of its stored samples, in bands; the reader is closed before they become light.
Image<LinearRgbi> light_by_way_of_stored(std::unique_ptr<ScanReader> reader, std::int64_t band) {
    const auto format = reader->stored_format();
    const std::int64_t width = reader->info().width, height = reader->info().height, row_bytes = width * format->pixel_bytes();
    std::vector<std::byte> stored(static_cast<std::size_t>(height * row_bytes));
    for (std::int64_t y = 0; y < height; y += band) REQUIRE(reader->read_stored({0, y, width, std::min(height, y + band)}, stored.data() + y * row_bytes));
    reader.reset();
    Image<LinearRgbi> light(width, height);
    constexpr std::int64_t kLeft = 7;  // two parts, as parts are what is asked for later
    std::vector<std::byte> part;
    for (const auto& [x0, x1] : {std::pair<std::int64_t, std::int64_t>{0, kLeft}, {kLeft, width}}) {
        part.clear();
        for (std::int64_t y = 0; y < height; ++y) {
            const auto row = stored.begin() + y * row_bytes;
            part.insert(part.end(), row + x0 * format->pixel_bytes(), row + x1 * format->pixel_bytes());
        }
        format->linear(part.data(), {x0, 0, x1, height}, light.view().part(x0, 0, x1 - x0, height));
    }
    return light;
}

/// Files of every way to store.
std::vector<TiffSpec> ways_to_store() {
    std::vector<TiffSpec> ways;
    for (const int samples : {1, 2, 3, 4})
        for (const int bits : {8, 16, 32}) {
            TiffSpec spec;
            spec.samples = samples;
            spec.bits = bits;
            ways.push_back(spec);
            spec.tile = 16;
            spec.separate = true;
            ways.push_back(spec);
        }
    for (int orientation = 2; orientation <= 8; ++orientation) {
        TiffSpec spec;
        spec.samples = 4;
        spec.orientation = orientation;
        ways.push_back(spec);
    }
    TiffSpec strip;
    strip.compression = COMPRESSION_ADOBE_DEFLATE;
    strip.rows_per_strip = strip.height;
    ways.push_back(strip);
    return ways;
}

std::int64_t decoded_size(const TiffSpec& spec) {
    // Tiles at the right and bottom are decoded whole.
    const auto whole = [&](std::uint32_t length) {
        return static_cast<std::int64_t>(spec.tile == 0 ? length : (length + spec.tile - 1) / spec.tile * spec.tile);
    };
    return whole(spec.width) * whole(spec.height) * spec.samples * spec.bits / 8;
}

}  // namespace

TEST_CASE("stored samples give the light that reading gives, whatever the file, once the reader is closed") {
    const TemporaryFolder folder;
    for (const TiffSpec& spec : ways_to_store()) {
        INFO("samples " << spec.samples << " bits " << spec.bits << " tile " << spec.tile << " orientation " << spec.orientation);
        write_tiff(folder.file("scan.tif"), spec);
        const auto reader = opened(folder.file("scan.tif"));
        const Image<LinearRgbi> direct = read_all(*reader);
        for (const std::int64_t band : {64, 5}) CHECK(same_light(light_by_way_of_stored(opened(folder.file("scan.tif")), band), direct));
    }
}

TEST_CASE("infrared of a file of its own goes with the stored samples") {
    const TemporaryFolder folder;
    TiffSpec grey;
    grey.samples = 1;
    grey.bits = 8;
    write_tiff(folder.file("scan.tif"), {});
    write_tiff(folder.file("ir.tif"), grey);
    ScanOptions options;
    options.infrared_path = folder.file("ir.tif");
    const auto reader = opened(folder.file("scan.tif"), options);
    CHECK(reader->stored_format()->pixel_bytes() == 7);
    CHECK(same_light(light_by_way_of_stored(opened(folder.file("scan.tif"), options), 9), read_all(*reader)));
}

TEST_CASE("on the way from the top every byte is decoded once, with next to no memory") {
    const TemporaryFolder folder;
    for (TiffSpec spec : ways_to_store()) {
        spec.width = 300;  // far more than the reader may keep
        spec.height = 700;
        if (spec.orientation >= 5) continue;  // rows that have become columns are laid out once instead: sequential_test
        if (spec.rows_per_strip > 7) spec.rows_per_strip = spec.height;
        INFO("samples " << spec.samples << " bits " << spec.bits << " tile " << spec.tile << " strip " << spec.rows_per_strip);
        write_tiff(folder.file("scan.tif"), spec);
        ScanOptions options;
        options.memory_bytes = 128 * 1024;
        options.from_the_top = true;
        const std::int64_t before = bytes_decoded();
        const auto overview = read_overview(*opened(folder.file("scan.tif"), options), {});
        REQUIRE(overview);
        CHECK(bytes_decoded() - before == decoded_size(spec));
        (void)light_by_way_of_stored(opened(folder.file("scan.tif"), options), 10);
        CHECK(bytes_decoded() - before == 2 * decoded_size(spec));
    }
}
