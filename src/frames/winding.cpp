// SPDX-License-Identifier: GPL-3.0-or-later
#include "winding.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

/// Frames over which steps tell: a blank one and one astray may lie in between. Chosen.
constexpr std::size_t kReach = 3;

bool seen(const StripFit& fit, std::size_t i) { return !fit.frames[i].placed_by_pitch; }

/// The commonest step; steps over a frame tell as well, as that frame may be the one astray, and so, a little, does what is usual.
double commonest_step(const StripFit& fit) {
    constexpr double kUsual = 0.5;  // Chosen: weight beside a step's 1: it decides between steps, but is none
    const Gauge& gauge = fit.gauge;
    std::vector<double> steps, weights;
    for (std::size_t by : {1U, 2U}) {
        for (std::size_t i = by; i < fit.frames.size(); ++i) {
            const double step = (fit.frames[i].u - fit.frames[i - by].u) / static_cast<double>(by);
            const bool usual = step > gauge.pitch - gauge.advance_less && step < gauge.pitch + gauge.advance_more;
            if (usual && seen(fit, i) && seen(fit, i - by)) steps.push_back(step);
        }
    }
    if (steps.empty()) return gauge.pitch;
    weights.assign(steps.size(), 1.0);
    steps.push_back(gauge.pitch);
    weights.push_back(kUsual);
    const double at = crowd(steps, weights, kEvenStepMm).at;
    steps.pop_back();
    steps.erase(std::remove_if(steps.begin(), steps.end(), [&](double s) { return std::abs(s - at) > 1.5 * kEvenStepMm; }), steps.end());
    return steps.empty() ? at : median(steps);
}

}  // namespace

std::optional<EvenAdvance> even_advance(const StripFit& fit) {
    constexpr std::ptrdiff_t kLeast = 2;
    constexpr double kShare = 0.5;  // Chosen: of the frames; the others may be astray
    EvenAdvance out{commonest_step(fit), std::vector<bool>(fit.frames.size(), false)};
    std::ptrdiff_t pictures = 0;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        pictures += seen(fit, i) ? 1 : 0;
        for (std::size_t by = 1; by <= kReach && by <= i && seen(fit, i); ++by) {
            const double off = fit.frames[i].u - fit.frames[i - by].u - static_cast<double>(by) * out.step;
            if (seen(fit, i - by) && std::abs(off) < kEvenStepMm) out.kept[i] = out.kept[i - by] = true;
        }
    }
    const auto kept = std::count(out.kept.begin(), out.kept.end(), true);
    if (kept < kLeast || static_cast<double>(kept) < kShare * static_cast<double>(pictures)) return std::nullopt;
    return out;
}

std::optional<Expected> expected_at(const StripFit& fit, const EvenAdvance& even, std::size_t i) {
    constexpr double kAgree = 0.4;  // Chosen: mm; two steps' jitter
    std::vector<double> at;
    std::size_t furthest = 1;
    const auto add = [&](std::size_t neighbour, std::size_t by, double sign) {
        if (!even.kept[neighbour]) return false;
        at.push_back(fit.frames[neighbour].u + sign * static_cast<double>(by) * even.step);
        furthest = std::max(furthest, by);
        return true;
    };
    for (std::size_t by = 1; by < kReach && by <= i; ++by)
        if (add(i - by, by, 1)) break;
    for (std::size_t by = 1; by < kReach && i + by < fit.frames.size(); ++by)
        if (add(i + by, by, -1)) break;
    if (at.empty() || std::abs(at.front() - at.back()) > kAgree) return std::nullopt;
    return Expected{0.5 * (at.front() + at.back()), at.size() == 2 && furthest == 1};
}

}  // namespace basefog::frames
