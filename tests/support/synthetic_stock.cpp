// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_stock.h"

#include <algorithm>
#include <bit>
#include <cmath>

namespace synthetic {
namespace {

constexpr double kFirstNm = 380, kLastNm = 760, kStepNm = 10;
constexpr Triple kUnitNm{640, 540, 450};
constexpr double kLn10 = 2.302585092994046;

/// Relative spectral radiance of a black body (Planck's law); the second radiation constant is 0.014388 m K.
double black_body(double nm, double kelvin) { return std::pow(nm, -5.0) / std::expm1(1.4388e7 / (nm * kelvin)); }

/// Scales a dye so that one unit of it has density 1 at its wavelength.
Spectrum unit_dye(Spectrum dye, double nm) {
    const double height = dye.at(nm);
    for (Lobe& lobe : dye.lobes) lobe.height /= height;
    dye.even /= height;
    return dye;
}

/// Where the stocks differ little: the dyes, the couplers and the support.
FilmStock masked_negative(double cyan_nm, double magenta_nm, double yellow_nm, double mask_yellow, double mask_red) {
    FilmStock stock;
    stock.dyes = {unit_dye({{{cyan_nm, 58, 48, 1.0}, {430, 45, 60, 0.10}}, 0.01, 0.035}, kUnitNm[0]),
                  unit_dye({{{magenta_nm, 34, 40, 1.0}, {425, 50, 45, 0.17}, {640, 60, 60, 0.05}}, 0.01, 0.02}, kUnitNm[1]),
                  unit_dye({{{yellow_nm, 45, 40, 1.0}, {540, 40, 40, 0.05}}, 0.005, 0.015}, kUnitNm[2])};
    stock.mask = {{{{{440, 60, 42, mask_yellow}}, 0, 0.0}, 1, 0.24}, {{{{515, 70, 55, mask_red}}, 0, 0.01}, 0, 0.28}};
    stock.support = {{{350, 60, 60, 0.10}}, 0.045, 0.035};
    stock.sensitivity = {{{0.93, 0.06, 0.01}, {0.05, 0.90, 0.05}, {0.01, 0.08, 0.91}}};
    return stock;
}

constexpr std::size_t kMostTerms = 64;  ///< wavelengths in a channel; there are 39 in all

/// e^x for |x| < 80 (a density of 35, far beyond any film) to 2e-7, without branches or calls: the whole powers of 2 by the exponent's bits, the rest by a
/// polynomial.
inline float exponential(float x) {
    const float y = x * 1.44269504f;
    const int whole = static_cast<int>(y + 127.5f) - 127;  // y + 127.5 is positive, so cutting off rounds to the nearest
    const float z = (y - static_cast<float>(whole)) * 0.693147181f;
    const float power = 1 + z * (1 + z * (0.5f + z * (1.0f / 6 + z * (1.0f / 24 + z * (1.0f / 120 + z * (1.0f / 720))))));
    return power * std::bit_cast<float>((whole + 127) << 23);
}

}  // namespace

double Spectrum::at(double nm) const {
    double sum = even;
    for (const Lobe& lobe : lobes) {
        const double z = (nm - lobe.peak_nm) / (nm < lobe.peak_nm ? lobe.below_nm : lobe.above_nm);
        sum += lobe.height * std::exp(-0.5 * z * z);
    }
    return sum;
}

double Layer::dye(double log_h) const {
    constexpr int kSizes = 9;
    const double step = latitude / kSizes;
    double sum = 0;
    for (int i = 0; i < kSizes; ++i) {
        const double place = (i + 0.5) / kSizes;
        const double spread = toe_spread + (shoulder_spread - toe_spread) * place * place;
        sum += 0.5 * std::erfc(-(log_h - toe_log_h - place * latitude) / (spread * 1.4142135623730951));
    }
    return gamma * step * sum;
}

Triple FilmStock::light_offset(double light_kelvin) const {
    constexpr Triple kSensitiveNm{645, 548, 448};
    Triple offset{};
    for (int i = 0; i < 3; ++i) offset[i] = std::log10(black_body(kSensitiveNm[i], light_kelvin) / black_body(kSensitiveNm[i], balance_kelvin));
    return {offset[0] - offset[1], 0.0, offset[2] - offset[1]};
}

FilmStock daylight_50() {
    FilmStock stock = masked_negative(690, 546, 446, 0.56, 0.24);
    stock.name = "daylight 50 motion-picture negative";
    stock.layers = {Layer{0.54, -1.18, 3.0, 0.19, 0.40, 0.025, 4.0}, Layer{0.55, -1.20, 3.0, 0.19, 0.40, 0.025, 4.0},
                    Layer{0.57, -1.22, 2.9, 0.20, 0.42, 0.03, 6.0}};
    return stock;
}

FilmStock daylight_250() {
    FilmStock stock = masked_negative(686, 548, 448, 0.60, 0.27);
    stock.name = "daylight 250 motion-picture negative";
    stock.layers = {Layer{0.53, -1.20, 3.1, 0.20, 0.44, 0.03, 5.5}, Layer{0.55, -1.22, 3.1, 0.20, 0.44, 0.035, 5.5},
                    Layer{0.57, -1.25, 3.0, 0.22, 0.45, 0.04, 9.0}};
    return stock;
}

FilmStock tungsten_200() {
    FilmStock stock = masked_negative(692, 544, 449, 0.58, 0.25);
    stock.name = "tungsten 200 motion-picture negative";
    stock.balance_kelvin = 3200;
    stock.layers = {Layer{0.53, -1.20, 3.1, 0.19, 0.42, 0.03, 5.0}, Layer{0.54, -1.21, 3.1, 0.20, 0.42, 0.03, 5.0},
                    Layer{0.56, -1.24, 3.0, 0.21, 0.44, 0.04, 8.5}};
    return stock;
}

FilmStock tungsten_500() {
    FilmStock stock = masked_negative(684, 545, 445, 0.64, 0.29);
    stock.name = "tungsten 500 motion-picture negative";
    stock.balance_kelvin = 3200;
    stock.layers = {Layer{0.52, -1.22, 3.2, 0.21, 0.46, 0.04, 6.5}, Layer{0.54, -1.24, 3.2, 0.21, 0.46, 0.045, 6.5},
                    Layer{0.56, -1.28, 3.1, 0.23, 0.48, 0.055, 11.0}};
    return stock;
}

FilmStock black_and_white_400() {
    FilmStock stock;
    stock.name = "black-and-white 400 negative";
    stock.silver = true;
    // Silver is nearly neutral; the other two layers stay empty.
    stock.dyes[0] = unit_dye({{{420, 60, 200, 0.05}}, 1.0, 0.95}, 550);
    stock.layers[0] = Layer{0.62, -1.15, 2.9, 0.24, 0.45, 0.05, 11.0};
    stock.layers[1] = stock.layers[2] = Layer{0, -1.15, 2.9, 0.2, 0.4, 0, 0};
    stock.support = {{{360, 50, 60, 0.05}}, 0.12, 0.10};
    stock.sensitivity = {{{0.30, 0.40, 0.30}, {0, 0, 0}, {0, 0, 0}}};
    return stock;
}

FilmStock cross_processed(FilmStock stock) {
    constexpr Triple kSteeper{1.14, 1.19, 1.27}, kMoreFog{0.015, 0.02, 0.03};
    for (int i = 0; i < 3; ++i) {
        stock.layers[i].gamma *= kSteeper[i];
        stock.layers[i].fog += kMoreFog[i];
    }
    return stock;
}

FilmStock aged(FilmStock stock, const Ageing& ageing) {
    for (int i = 0; i < 3; ++i) {
        Layer& layer = stock.layers[i];
        layer.fog += ageing.fog[i];
        layer.toe_log_h += ageing.speed_loss[i];
        layer.gamma *= ageing.gamma_kept;
        layer.toe_spread *= 1.15;
        layer.granularity *= ageing.granularity_factor;
    }
    return stock;
}

Scanner lamp_flatbed() {
    Scanner s;
    s.name = "flatbed with a white lamp";
    s.channels = {Spectrum{{{625, 22, 28, 1.0}}}, Spectrum{{{540, 24, 26, 1.0}}}, Spectrum{{{455, 20, 22, 1.0}}}};
    return s;
}

Scanner diode_flatbed() {
    Scanner s;
    s.name = "flatbed with three diodes";
    s.channels = {Spectrum{{{632, 10, 10, 1.0}}}, Spectrum{{{528, 17, 19, 1.0}}}, Spectrum{{{463, 12, 14, 1.0}}}};
    s.falloff = 0.03;
    s.flare = 0.004;
    return s;
}

Scanner camera_stand() {
    Scanner s;
    s.name = "camera over a light table";
    s.camera = true;
    s.channels = {Spectrum{{{605, 28, 36, 1.0}, {530, 30, 30, 0.05}}}, Spectrum{{{532, 34, 36, 1.0}, {620, 20, 30, 0.04}}},
                  Spectrum{{{458, 26, 30, 1.0}, {530, 20, 25, 0.05}}}};
    s.falloff = 0.10;
    s.flare = 0.006;
    s.read_noise = 0.0002;
    return s;
}

FilmOptics::FilmOptics(const FilmStock& stock, const Scanner& scanner) {
    const auto add_term = [&](Terms& terms, double weight, auto&& absorption) {
        double base = absorption(stock.support);
        Triple slope{};
        for (int i = 0; i < 3; ++i) slope[i] = absorption(stock.dyes[i]);
        for (const Coupler& coupler : stock.mask) {
            base += absorption(coupler.colour);
            slope[coupler.consumed_by] -= coupler.per_dye * absorption(coupler.colour);
        }
        terms.weight.push_back(static_cast<float>(weight));
        terms.base.push_back(static_cast<float>(base * kLn10));
        for (std::size_t i = 0; i < 3; ++i) terms.slope[i].push_back(static_cast<float>(slope[i] * kLn10));
    };
    for (std::size_t channel = 0; channel < 3; ++channel) {
        double total = 0;
        for (double nm = kFirstNm; nm <= kLastNm; nm += kStepNm) total += scanner.channels[channel].at(nm);
        for (double nm = kFirstNm; nm <= kLastNm; nm += kStepNm) {
            const double weight = scanner.channels[channel].at(nm) / total;
            if (weight > 1e-3) add_term(terms_[channel], weight, [nm](const Spectrum& s) { return s.at(nm); });
        }
        double kept = 0;
        for (const float weight : terms_[channel].weight) kept += weight;
        for (float& weight : terms_[channel].weight) weight /= static_cast<float>(kept);
    }
    add_term(terms_[3], 1.0, [](const Spectrum& s) { return s.infrared; });
    for (int i = 0; i < 3; ++i) fog_[i] = stock.layers[i].fog;
}

std::array<float, 4> FilmOptics::transmittance(const std::array<float, 3>& dye) const {
    std::array<float, 4> out{};
    for (std::size_t channel = 0; channel < 4; ++channel) {
        const Terms& terms = terms_[channel];
        const float *weight = terms.weight.data(), *base = terms.base.data();
        const std::array<const float*, 3> slope{terms.slope[0].data(), terms.slope[1].data(), terms.slope[2].data()};
        std::array<float, kMostTerms> passed;  // first all, then their sum: the compiler takes several at a time
        const std::size_t n = terms.weight.size();
        for (std::size_t i = 0; i < n; ++i)
            passed[i] = weight[i] * exponential(-(base[i] + slope[0][i] * dye[0] + slope[1][i] * dye[1] + slope[2][i] * dye[2]));
        float sum = 0;
        for (std::size_t i = 0; i < n; ++i) sum += passed[i];
        out[channel] = sum;
    }
    return out;
}

std::array<double, 4> FilmOptics::density(const Triple& dye) const {
    std::array<double, 4> out{};
    for (std::size_t channel = 0; channel < 4; ++channel) {
        const Terms& terms = terms_[channel];
        double sum = 0;
        for (std::size_t i = 0; i < terms.weight.size(); ++i)
            sum += terms.weight[i] * std::exp(-(terms.base[i] + terms.slope[0][i] * dye[0] + terms.slope[1][i] * dye[1] + terms.slope[2][i] * dye[2]));
        out[channel] = -std::log10(sum);
    }
    return out;
}

}  // namespace synthetic
