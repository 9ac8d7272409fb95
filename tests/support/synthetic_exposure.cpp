// SPDX-License-Identifier: GPL-3.0-or-later
// What reached a place of the strip: pictures, stray light and edge marks, turned into dye and transmittance.
#include "support/synthetic_defects.h"
#include "support/synthetic_random.h"
#include "support/synthetic_strip.h"

#include <cmath>

namespace synthetic {
namespace {

constexpr double kGrey = 0.18;

}  // namespace

/// Millimetres from the nearest side of the gate inwards (negative outside), its leaning and roughness included.
double StripPainter::into_gate(const Picture& picture, Place p) const {
    const double ms = (picture.s0 + picture.s1) / 2, mt = (picture.t0 + picture.t1) / 2;
    std::array<double, 4> in{p.s - picture.s0, p.t - picture.t0, picture.s1 - p.s, picture.t1 - p.t};
    for (std::size_t i = 0; i < 4; ++i) {
        const double along = i % 2 ? p.s - ms : p.t - mt;
        const double lean = strip_.gate.lean_deg[i] * CV_PI / 180;
        if (lean != 0) in[i] -= (i < 2 ? 1 : -1) * along * std::tan(lean);
        // Every frame of a camera has the same rough gate.
        if (strip_.gate.rough > 0) in[i] += strip_.gate.rough * rough_noise(along / 0.8, 0.5, mix(seed_, 0x9a7e, i), 3);
    }
    return std::min({in[0], in[1], in[2], in[3]});
}

std::array<float, 3> StripPainter::stray(Place p) const {
    std::array<float, 3> light{};
    const auto add = [&](double level, const Triple& colour) {
        for (std::size_t i = 0; i < 3; ++i) light[i] += static_cast<float>(kGrey * level * colour[i]);
    };
    for (const Leak& leak : strip_.leaks) {
        const double ds = (p.s - leak.s) / leak.half_s, dt = (p.t - leak.t) / leak.half_t, far = ds * ds + dt * dt;
        if (far < 30) add(std::pow(10.0, leak.log_h) * std::exp(-far / 2), leak.colour);
    }
    const FoggedLeader& leader = strip_.fogged_leader;
    if (leader.until > 0) {
        const double ragged = p.s + 0.8 * leader.soft * smooth_noise(p.t / 6, 0.5, mix(seed_, 0x1ead));
        const double share = 0.5 * std::erfc((ragged - leader.until) / leader.soft);
        if (share > 1e-6) add(std::pow(10.0, leader.log_h) * share, {1.05, 1, 0.95});
    }
    return light;
}

std::array<float, 3> StripPainter::exposed_dye(const std::array<float, 3>& light) const {
    std::array<float, 3> dye{};
    for (int i = 0; i < 3; ++i) {
        const Triple& w = strip_.stock.sensitivity[i];
        const double felt = std::max(1e-6, w[0] * light[0] + w[1] * light[1] + w[2] * light[2]);
        const double log_h = std::log10(felt / kGrey) + offset_log_h_[i];
        const double place = (std::clamp(log_h, kCurveFrom, kCurveTo) - kCurveFrom) / kCurveStep;
        const auto k = static_cast<std::size_t>(place);
        const auto rest = static_cast<float>(place - static_cast<double>(k));
        dye[i] = curve_[i][k] + rest * (curve_[i][k + 1] - curve_[i][k]);
    }
    return dye;
}

std::array<float, 3> StripPainter::picture_light(const Picture& picture, Place p) const {
    const cv::Mat& image = picture.light;
    const double x = std::clamp((p.s - picture.s0) / (picture.s1 - picture.s0) * image.cols - 0.5, 0.0, image.cols - 1.001);
    const double y = std::clamp((p.t - picture.t0) / (picture.t1 - picture.t0) * image.rows - 0.5, 0.0, image.rows - 1.001);
    const int ix = static_cast<int>(x), iy = static_cast<int>(y);
    const auto u = static_cast<float>(x - ix), v = static_cast<float>(y - iy);
    const auto *top = image.ptr<cv::Vec3f>(iy) + ix, *below = image.ptr<cv::Vec3f>(iy + 1) + ix;
    const auto more = static_cast<float>(std::exp2(picture.stops));
    std::array<float, 3> light{};
    for (int c = 0; c < 3; ++c) light[c] = more * ((top[0][c] * (1 - u) + top[1][c] * u) * (1 - v) + (below[0][c] * (1 - u) + below[1][c] * u) * v);
    return light;
}

void StripPainter::add_grain(std::array<float, 3>& dye, std::uint64_t seed) const {
    for (int i = 0; i < 3; ++i) {
        if (grain_[i] > 0)
            dye[i] += static_cast<float>(grain_[i] * std::sqrt(std::max(dye[i], 0.01f)) * normal_from(mix(seed + static_cast<std::uint64_t>(i))));
    }
}

float StripPainter::residue_at(Place p) const {
    if (residue_.empty()) return 0;
    const double x = std::clamp(p.s * kResiduePxPerMm - 0.5, 0.0, residue_.cols - 1.001),
                 y = std::clamp(p.t * kResiduePxPerMm - 0.5, 0.0, residue_.rows - 1.001);
    const int ix = static_cast<int>(x), iy = static_cast<int>(y);
    const auto u = static_cast<float>(x - ix), v = static_cast<float>(y - iy);
    const auto *top = residue_.ptr<float>(iy) + ix, *below = residue_.ptr<float>(iy + 1) + ix;
    return (top[0] * (1 - u) + top[1] * u) * (1 - v) + (below[0] * (1 - u) + below[1] * u) * v;
}

/// The two pictures that reach a place most.
void StripPainter::expose(Place p, std::array<Exposure, 2>& found) const {
    const double soft = strip_.gate.soft;
    for (const Picture& picture : pictures_) {
        if (!picture.exposed || p.s < picture.s0 - 1 || p.s > picture.s1 + 1) continue;
        const double in = into_gate(picture, p);
        Exposure here;
        here.share = inner(in + soft, px_mm_);
        if (here.share <= found[1].share) continue;
        here.light = picture_light(picture, p);
        if (soft > 0 && in < soft) {
            const auto dimmed = static_cast<float>(std::clamp((in / soft + 1) / 2, 1e-4, 1.0));
            for (float& x : here.light) x *= dimmed;
        }
        found[1] = here;
        if (found[1].share > found[0].share) std::swap(found[0], found[1]);
    }
}

std::array<float, 4> StripPainter::film(Place p, std::optional<std::uint64_t> grain_seed) const {
    std::array<Exposure, 2> pictures;
    expose(p, pictures);
    const std::array<float, 3> leaked = stray(p);
    const bool leaks = leaked[0] + leaked[1] + leaked[2] > 1e-5f;
    std::array<float, 4> out{};
    const auto add = [&](std::array<float, 3> dye, double share) {
        if (share <= 0) return;
        if (grain_seed) add_grain(dye, *grain_seed);
        const std::array<float, 4> t = optics_.transmittance(dye);
        for (int i = 0; i < 4; ++i) out[i] += static_cast<float>(share) * t[i];
    };
    const auto lit = [&](std::array<float, 3> light) {
        for (std::size_t i = 0; i < 3; ++i) light[i] += leaked[i];
        return exposed_dye(light);
    };
    // Where two pictures share a pixel their areas meet edge to edge, or overlap by what is more than a whole.
    const double first = pictures[0].share, second = pictures[1].share, both = std::max(0.0, first + second - 1), covered = first + second - both;
    if (first > both) add(lit(pictures[0].light), first - both);
    if (second > both) add(lit(pictures[1].light), second - both);
    if (both > 0) {
        std::array<float, 3> sum = pictures[0].light;
        for (std::size_t i = 0; i < 3; ++i) sum[i] += pictures[1].light[i];
        add(lit(sum), both);
    }
    if (covered < 1) {
        const double marked = print_->at(p.s, p.t, px_mm_);
        const std::array<float, 3> clear = leaks ? exposed_dye(leaked) : clear_dye_;
        std::array<float, 3> dense = mark_dye_;
        for (std::size_t i = 0; i < 3; ++i) dense[i] = std::max(dense[i], clear[i]);
        add(dense, (1 - covered) * marked);
        add(clear, (1 - covered) * (1 - marked));
    }
    return out;
}

}  // namespace synthetic
