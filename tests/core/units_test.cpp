// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/units.h"

#include <catch2/catch.hpp>
#include <limits>

using namespace basefog;

TEST_CASE("density of a transmittance follows the published table") {
    // Source: [ScanMetric2001], "Choosing a metric for scanning negative",
    // table of T against D, four decimals.
    const double table[][2] = {{0.1, 1.0000}, {0.2, 0.6990}, {0.3, 0.5229}, {0.4, 0.3979}, {0.5, 0.3010},
                               {0.6, 0.2218}, {0.7, 0.1549}, {0.8, 0.0969}, {0.9, 0.0458}, {1.0, 0.0000}};
    for (const auto& [t, d] : table) {
        CHECK(to_density(Transmittance(t)).value() == Approx(d).margin(0.00005001));
        CHECK(to_transmittance(to_density(Transmittance(t))).value() == Approx(t).epsilon(1e-12));
    }
}

TEST_CASE("density of hostile transmittances stays finite") {
    CHECK(to_density(Transmittance(0)).value() == kMaxDensity);
    CHECK(to_density(Transmittance(-1)).value() == kMaxDensity);
    CHECK(to_density(Transmittance(std::numeric_limits<double>::quiet_NaN())).value() == kMaxDensity);
    CHECK(to_density(Transmittance(1.1)).value() < 0);
}

TEST_CASE("transmittances multiply as densities add") {
    const Transmittance a(0.5), b(0.2);
    CHECK(to_density(a * b).value() == Approx((to_density(a) + to_density(b)).value()));
}

TEST_CASE("stops, log exposure, inches and millimetres convert both ways") {
    CHECK(to_stops(LogExposure(std::log10(2.0))).value() == Approx(1.0));
    CHECK(to_log_exposure(Stops(-3)).value() == Approx(std::log10(0.125)));
    CHECK(px_per_mm_from_dpi(254).value() == Approx(10));
    CHECK(dpi_from_px_per_mm(PixelsPerMm(10)) == Approx(254));
    CHECK(to_px(Millimetres(36), PixelsPerMm(10)) == Approx(360));
    CHECK(to_mm(360, PixelsPerMm(10)).value() == Approx(36));
}
