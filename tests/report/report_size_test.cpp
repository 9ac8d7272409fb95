// SPDX-License-Identifier: GPL-3.0-or-later
// How large a report grows, with pictures harder to compress than any film's: in every pixel half the range of codes, by chance.
#include "basefog/invert/write.h"
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>

#include <random>

using namespace basefog;

namespace {

std::string noise_jpeg(std::int64_t width, std::int64_t height, unsigned seed) {
    std::mt19937 random(seed);
    Image<EncodedRgb8> picture(width, height);
    for (std::int64_t y = 0; y < height; ++y)
        for (std::int64_t x = 0; x < width; ++x) {
            const auto bits = static_cast<std::uint32_t>(random());
            const auto code = [&](int shift) { return static_cast<std::uint8_t>(64 + ((bits >> shift) & 127)); };
            picture(x, y) = {code(0), code(8), code(16)};
        }
    constexpr int kQuality = 82;  // the pipeline's, of thumbnails and overviews
    auto bytes = jpeg_bytes(picture.view(), kQuality);
    REQUIRE(bytes);
    return std::move(*bytes);
}

}  // namespace

TEST_CASE("the report on a sheet of four strips of six stays under 5 MB with pictures of mere noise") {
    RunRecord record = sample::rich();
    ScanRecord& sheet = record.scans.front();
    REQUIRE(sheet.strips.size() == 4);
    sheet.overview_jpeg = noise_jpeg(1600, 1075, 1);  // the pipeline's long side, and the shape of four strips
    std::size_t pictures = 0;
    for (StripRecord& strip : sheet.strips) {
        strip.frames.resize(6, strip.frames.back());
        for (FrameRecord& frame : strip.frames) {
            frame.thumbnail_jpeg = noise_jpeg(480, 320, static_cast<unsigned>(++pictures));  // the pipeline's thumbnails
            for (int layer = 0; layer < 3; ++layer)
                for (std::size_t k = 0; k < DensityHistogram::kBins; ++k)
                    frame.histogram.counts[layer][k] = static_cast<std::uint32_t>(1000 + 137 * ((k * 7919 + static_cast<std::size_t>(layer)) % 97));
            frame.histogram.spots = 86400;
        }
    }
    REQUIRE(pictures == 24);
    const std::size_t bytes = report_html(record).size();
    CHECK(bytes > 2'500'000);  // the pictures are in it
    CHECK(bytes < 5'000'000);
}
