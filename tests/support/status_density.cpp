// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/status_density.h"

#include <cmath>
#include <vector>

namespace synthetic {
namespace {

/// Spectral products in percent of their peak, every 10 nm from `first_nm` on. Table: ISO 5-3 [ISO5-3], as given in the python-colormath project,
/// colormath/density_standards.py.
struct Product {
    double first_nm;
    std::vector<double> percent;
};
using Products = std::array<Product, 3>;

const Products& products_m() {
    static const Products table{{{620, {0.13, 30.13, 100, 79.25, 37.84, 17.86, 7.50, 3.10, 1.26, 0.49, 0.19, 0.07, 0.03, 0.01}},
                                 {470, {0.01, 0.16, 1.43, 6.37, 18.71, 42.27, 74.47, 100, 98.86, 65.77, 28.71, 8.22, 1.49, 0.17, 0.01}},
                                 {410, {0.13, 12.91, 42.85, 74.30, 100, 90.16, 55.34, 22.03, 5.53, 0.98, 0.07}}}};
    return table;
}

const Products& products_a() {
    static const Products table{{{600, {0.37, 43.45, 100, 74.30, 40.18, 19.32, 7.94, 3.56, 1.46, 0.60, 0.24, 0.09, 0.04, 0.01, 0.01}},
                                 {500, {0.04, 6.64, 60.53, 100, 80.54, 44.06, 16.63, 4.06, 0.58, 0.04}},
                                 {420, {4.00, 65.92, 100, 81.66, 41.69, 10.96, 0.79, 0.04}}}};
    return table;
}

std::array<double, 3> densities(const Products& products, const DensitySpectrum& spectrum) {
    std::array<double, 3> out{};
    for (std::size_t c = 0; c < 3; ++c) {
        double through = 0, all = 0, nm = products[c].first_nm;
        for (const double percent : products[c].percent) {
            through += percent * std::pow(10.0, -spectrum(nm));
            all += percent;
            nm += 10;
        }
        out[c] = -std::log10(through / all);
    }
    return out;
}

}  // namespace

std::array<double, 3> status_m(const DensitySpectrum& spectrum) { return densities(products_m(), spectrum); }
std::array<double, 3> status_a(const DensitySpectrum& spectrum) { return densities(products_a(), spectrum); }

}  // namespace synthetic
