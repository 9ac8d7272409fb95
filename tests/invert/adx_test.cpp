// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/adx.h"

#include <OpenColorIO/OpenColorIO.h>
#include <catch2/catch.hpp>

#include <array>
#include <cmath>

using namespace basefog;
using namespace basefog::invert;
namespace ocio = OCIO_NAMESPACE;

namespace {

SceneRgb decode(const std::array<double, 3>& normalised, AdxBits bits) {
    const double top = bits == AdxBits::ten ? 1023 : 65535;
    return aces_from_adx_density({adx_density(normalised[0] * top, bits), adx_density(normalised[1] * top, bits), adx_density(normalised[2] * top, bits)});
}

/// The transform of the OpenColorIO library [OCIO], by name.
ocio::ConstCPUProcessorRcPtr library(const char* style) {
    ocio::BuiltinTransformRcPtr transform = ocio::BuiltinTransform::Create();
    transform->setStyle(style);
    return ocio::Config::CreateRaw()->getProcessor(transform)->getOptimizedCPUProcessor(ocio::OPTIMIZATION_NONE);
}

}  // namespace

TEST_CASE("ADX codes by their definition") {
    // [SMPTE2065-3]: 0.002 and 0.000125 density per code; minimum density at 95 and 1520.
    CHECK(adx_code(Density(0), AdxBits::ten) == 95);
    CHECK(adx_code(Density(0), AdxBits::sixteen) == 1520);
    CHECK(adx_code(Density(1), AdxBits::ten) == Approx(595));
    CHECK(adx_code(Density(1), AdxBits::sixteen) == Approx(9520));
    for (const double d : {-0.19, 0.0, 0.7, 2.0})
        for (const AdxBits bits : {AdxBits::ten, AdxBits::sixteen}) CHECK(adx_density(adx_code(Density(d), bits), bits).value() == Approx(d).margin(1e-12));
}

TEST_CASE("a neutral ladder of ADX10 codes") {
    // Computed from the Academy's published transform; red equals green.
    for (const auto& [code, aces] :
         {std::pair{95.0, 0.00130127}, {200.0, 0.0178490}, {300.0, 0.0499208}, {445.0, 0.180000}, {600.0, 0.659036}, {800.0, 3.517075}}) {
        const Density d = adx_density(code, AdxBits::ten);
        const SceneRgb rgb = aces_from_adx_density({d, d, d});
        CHECK(rgb.r == Approx(aces).epsilon(2e-5));  // the ladder's printed digits
        CHECK(rgb.g == Approx(aces).epsilon(2e-5));
    }
}

TEST_CASE("decoding agrees with OpenColorIO") {
    // Its own unit test's values (its tolerance 1e-6), then the library itself where film densities lie.
    const SceneRgb ten = decode({0.5, 0.4, 0.3}, AdxBits::ten), sixteen = decode({0.125, 0.1, 0.075}, AdxBits::sixteen);
    constexpr double kTolerance = 1e-6;
    CHECK(ten.r == Approx(0.210518101020).margin(kTolerance));
    CHECK(ten.g == Approx(0.148655364394).margin(kTolerance));
    CHECK(ten.b == Approx(0.085189053481).margin(kTolerance));
    CHECK(sixteen.r == Approx(0.211320835792).margin(kTolerance));
    CHECK(sixteen.g == Approx(0.149169650771).margin(kTolerance));
    CHECK(sixteen.b == Approx(0.085452970479).margin(kTolerance));
    for (const auto& [bits, style, top] : {std::tuple{AdxBits::ten, "ADX10_to_ACES2065-1", 0.7}, {AdxBits::sixteen, "ADX16_to_ACES2065-1", 0.17}}) {
        const auto processor = library(style);
        for (double r = 0.02; r <= 1; r += 0.09)
            for (double g = 0.02; g <= 1; g += 0.14) {
                const std::array<double, 3> in{r * top, g * top, 0.5 * (r + g) * top};
                std::array<float, 3> pixel{static_cast<float>(in[0]), static_cast<float>(in[1]), static_cast<float>(in[2])};
                processor->applyRGB(pixel.data());
                const SceneRgb mine = decode(in, bits);
                CAPTURE(style, in[0], in[1], in[2]);
                // 1e-6, relative above 1: the library works in single precision.
                CHECK(mine.r == Approx(pixel[0]).margin(kTolerance).epsilon(2e-6));
                CHECK(mine.g == Approx(pixel[1]).margin(kTolerance).epsilon(2e-6));
                CHECK(mine.b == Approx(pixel[2]).margin(kTolerance).epsilon(2e-6));
            }
    }
}
