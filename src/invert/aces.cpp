// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/aces.h"

namespace basefog::invert {
namespace {

using Triple = std::array<double, 3>;
using Matrix = std::array<Triple, 3>;

// Defined [IEC61966-2-1].
constexpr Chromaticity kSrgbRed{0.64, 0.33}, kSrgbGreen{0.30, 0.60}, kSrgbBlue{0.15, 0.06}, kD65{0.3127, 0.3290};
/// Defined [ICC1] annex E: cone responses of the linearised Bradford adaptation.
constexpr Matrix kBradford{{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}};

Triple xyz(Chromaticity c) { return {c.x / c.y, 1, (1 - c.x - c.y) / c.y}; }

Matrix times(const Matrix& a, const Matrix& b) {
    Matrix out{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            for (std::size_t k = 0; k < 3; ++k) out[i][j] += a[i][k] * b[k][j];
    return out;
}
Triple times(const Matrix& m, const Triple& v) {
    Triple out{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t k = 0; k < 3; ++k) out[i] += m[i][k] * v[k];
    return out;
}
/// By cofactors; the matrices here are far from singular.
Matrix inverse(const Matrix& m) {
    Matrix out{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) {
            const std::size_t a = (j + 1) % 3, b = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
            out[i][j] = m[a][c] * m[b][d] - m[a][d] * m[b][c];
        }
    const double determinant = m[0][0] * out[0][0] + m[0][1] * out[1][0] + m[0][2] * out[2][0];
    for (Triple& row : out)
        for (double& value : row) value /= determinant;
    return out;
}

/// XYZ from RGB of these primaries, white at Y = 1.
Matrix xyz_from_rgb(Chromaticity red, Chromaticity green, Chromaticity blue, Chromaticity white) {
    // Scaled by z = 1 - x - y and y apart from xyz(), as AP0's green and blue have no room for a division by y.
    Matrix m{{{red.x, green.x, blue.x}, {red.y, green.y, blue.y}, {1 - red.x - red.y, 1 - green.x - green.y, 1 - blue.x - blue.y}}};
    const Triple amounts = times(inverse(m), xyz(white));
    for (Triple& row : m)
        for (std::size_t c = 0; c < 3; ++c) row[c] *= amounts[c];
    return m;
}

Matrix adaptation(Chromaticity from, Chromaticity to) {
    const Triple a = times(kBradford, xyz(from)), b = times(kBradford, xyz(to));
    Matrix scale{};
    for (std::size_t i = 0; i < 3; ++i) scale[i][i] = b[i] / a[i];
    return times(inverse(kBradford), times(scale, kBradford));
}

}  // namespace

const std::array<std::array<double, 3>, 3>& ap0_from_srgb() {
    static const Matrix matrix = times(inverse(xyz_from_rgb(kAp0Red, kAp0Green, kAp0Blue, kAcesWhite)),
                                       times(adaptation(kD65, kAcesWhite), xyz_from_rgb(kSrgbRed, kSrgbGreen, kSrgbBlue, kD65)));
    return matrix;
}

SceneRgb aces_from_linear_srgb(SceneRgb rgb) {
    const Matrix& m = ap0_from_srgb();
    const Triple in{double(rgb.r), double(rgb.g), double(rgb.b)};
    const Triple out = times(m, in);
    return {static_cast<float>(out[0]), static_cast<float>(out[1]), static_cast<float>(out[2])};
}

}  // namespace basefog::invert
