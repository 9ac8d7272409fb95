// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/test_files.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

/// A scan made of numbers, so that the overview is tested apart from any file.
class NumberReader final : public ScanReader {
public:
    NumberReader(std::int64_t width, std::int64_t height, std::optional<double> dpi) {
        info_.path = "numbers";
        info_.width = width;
        info_.height = height;
        info_.has_infrared = true;
        if (dpi) info_.resolution = px_per_mm_from_dpi(*dpi);
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return Access::sequential; }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        if (rect.x0 != 0 || rect.x1 != info_.width || rect.y0 != next_row) return fail(ErrorCode::unreadable, "read out of order");
        if (fail_at_row >= rect.y0 && fail_at_row < rect.y1) return fail(ErrorCode::malformed, "cannot be decoded at row " + std::to_string(fail_at_row));
        next_row = rect.y1;
        for (std::int64_t y = rect.y0; y < rect.y1; ++y)
            for (std::int64_t x = 0; x < info_.width; ++x) out(x, y - rect.y0) = pixel(x, y);
        return {};
    }
    [[nodiscard]] LinearRgbi pixel(std::int64_t x, std::int64_t y) const {
        const auto noise = [&](std::uint32_t salt) {
            std::uint32_t h = static_cast<std::uint32_t>(x) * 2654435761u + static_cast<std::uint32_t>(y) * 2246822519u + salt * 3266489917u;
            h = (h ^ (h >> 13)) * 2654435761u;
            return static_cast<float>(h >> 8) / static_cast<float>(1 << 24);
        };
        return {x % 5 == 0 ? 1.0f : noise(1), noise(2) * 0.9f, 0.99998f, noise(3)};  // 0.99998: below full scale by a code of 16 bits
    }
    std::int64_t next_row = 0, fail_at_row = -1;

private:
    ScanInfo info_;
};

Overview overview_of(NumberReader reader, const OverviewOptions& options = {}) {
    auto overview = read_overview(reader, options);
    if (!overview) FAIL(describe(overview.error()));
    return std::move(*overview);
}

OverviewOptions with_band(std::int64_t rows) {
    OverviewOptions options;
    options.band_rows = rows;
    return options;
}

}  // namespace

TEST_CASE("a cell is the mean of the pixels it has, also at the edges") {
    const NumberReader reader(38, 23, 1800);  // 1800 / 350: a factor of 5, with cells of 3 columns and 3 rows left over
    const Overview overview = overview_of(reader);
    REQUIRE(overview.factor == 5);
    REQUIRE(overview.pixels.width() == 8);
    REQUIRE(overview.pixels.height() == 5);
    for (std::int64_t cy = 0; cy < 5; ++cy)
        for (std::int64_t cx = 0; cx < 8; ++cx) {
            double r = 0, ir = 0;
            int n = 0;
            for (std::int64_t y = cy * 5; y < std::min<std::int64_t>(23, cy * 5 + 5); ++y)
                for (std::int64_t x = cx * 5; x < std::min<std::int64_t>(38, cx * 5 + 5); ++x, ++n) {
                    r += static_cast<double>(reader.pixel(x, y).r);
                    ir += static_cast<double>(reader.pixel(x, y).ir);
                }
            // Doubles in another order: their rounding is far below that of the float stored.
            CHECK(static_cast<double>(overview.pixels(cx, cy).r) == Approx(r / n).epsilon(1e-7));
            CHECK(static_cast<double>(overview.pixels(cx, cy).ir) == Approx(ir / n).epsilon(1e-7));
        }
}

TEST_CASE("the factor keeps the overview at or above its target and below its limit") {
    const auto factor = [](std::optional<double> dpi, double target, std::int64_t most) {
        OverviewOptions options;
        options.target_dpi = target;
        options.max_pixels = most;
        return overview_of(NumberReader(1000, 800, dpi), options).factor;
    };
    constexpr std::int64_t kMany = 1'000'000;
    CHECK(factor(350, 350, kMany) == 1);
    CHECK(factor(699, 350, kMany) == 1);
    CHECK(factor(700, 350, kMany) == 2);
    CHECK(factor(3200, 350, kMany) == 9);
    CHECK(factor(200, 350, kMany) == 1);
    CHECK(factor(std::nullopt, 350, kMany) == 1);
    CHECK(factor(std::nullopt, 350, 200'000) == 2);  // 500 x 400 is just at the limit
    CHECK(factor(std::nullopt, 350, 199'999) == 3);
    CHECK(factor(3200, 350, 100) == 91);  // cells of 91: 11 x 9 = 99; of 90: 12 x 9 = 108
}

TEST_CASE("bands of any height give the same bytes") {
    const Overview first = overview_of(NumberReader(61, 47, 1100), with_band(1));
    for (const std::int64_t rows : {2, 3, 7, 46, 47, 1000}) {
        CAPTURE(rows);
        const Overview other = overview_of(NumberReader(61, 47, 1100), with_band(rows));
        CHECK(other.clipped_share == first.clipped_share);
        REQUIRE(other.pixels.width() == first.pixels.width());
        const auto bytes = static_cast<std::size_t>(first.pixels.width() * first.pixels.height()) * sizeof(LinearRgbi);
        CHECK(std::memcmp(other.pixels.row(0), first.pixels.row(0), bytes) == 0);
    }
}

TEST_CASE("full scale is counted, and nothing below it") {
    const Overview overview = overview_of(NumberReader(50, 20, 350));
    CHECK(overview.clipped_share.r == 0.2);
    CHECK(overview.clipped_share.g == 0.0);
    CHECK(overview.clipped_share.b == 0.0);
}

TEST_CASE("reading stops when asked, and passes errors on") {
    RecordingObserver observer;
    NumberReader reader(40, 300, 350);
    REQUIRE(read_overview(reader, {}, observer));
    CHECK(observer.last_share == 1.0);

    NumberReader again(40, 300, 350);
    observer.cancel = true;
    auto stopped = read_overview(again, {}, observer);
    REQUIRE_FALSE(stopped);
    CHECK(stopped.error().code == ErrorCode::interrupted);

    NumberReader broken(40, 300, 350);
    broken.fail_at_row = 123;
    auto failed = read_overview(broken, {});
    REQUIRE_FALSE(failed);
    CHECK(failed.error().code == ErrorCode::malformed);
    CHECK(failed.error().what.find("123") != std::string::npos);
}

TEST_CASE("senseless overview options are usage errors") {
    for (OverviewOptions options : {OverviewOptions{0}, OverviewOptions{350, 0}, OverviewOptions{350, 100, 0}, OverviewOptions{std::nan("")}}) {
        NumberReader reader(10, 10, 350);
        auto overview = read_overview(reader, options);
        REQUIRE_FALSE(overview);
        CHECK(overview.error().code == ErrorCode::usage);
    }
}
