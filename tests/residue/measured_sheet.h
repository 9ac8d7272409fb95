// SPDX-License-Identifier: GPL-3.0-or-later
// An invented sheet with its densities and residue measured.
#pragma once

#include "basefog/density/measure_density.h"
#include "basefog/residue/measure_residue.h"
#include "density/film_sheet.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <string>

struct MeasuredSheet {
    film_sheet::Drawn drawn;
    basefog::SheetDensity density;
    basefog::SheetResidue residue;
};

inline MeasuredSheet measure(film_sheet::Drawn drawn, const basefog::ResidueOptions& options = {}) {
    MeasuredSheet m;
    m.drawn = std::move(drawn);
    auto density = basefog::measure_density(m.drawn.overview, m.drawn.layout, m.drawn.regions, {});
    REQUIRE(density.has_value());
    m.density = std::move(*density);
    auto residue = basefog::measure_residue(m.drawn.overview, m.drawn.layout, m.drawn.regions, m.density, options);
    REQUIRE(residue.has_value());
    m.residue = std::move(*residue);
    return m;
}

inline bool has_finding(const basefog::SheetResidue& r, const std::string& code, int strip = -1) {
    return std::any_of(r.findings.begin(), r.findings.end(), [&](const basefog::Finding& f) { return f.code == code && f.where.strip == strip; });
}
