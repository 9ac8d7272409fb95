// SPDX-License-Identifier: GPL-3.0-or-later
#include "winding.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

bool seen(const StripFit& fit, std::size_t i) { return !fit.frames[i].placed_by_pitch; }

/// The commonest step; steps over a frame tell as well, as that frame may be the one astray, and so does what is usual.
Mode commonest_step(const StripFit& fit) {
    std::vector<double> steps{fit.gauge.pitch};
    for (std::size_t by : {1U, 2U}) {
        for (std::size_t i = by; i < fit.frames.size(); ++i) {
            if (seen(fit, i) && seen(fit, i - by)) steps.push_back((fit.frames[i].u - fit.frames[i - by].u) / static_cast<double>(by));
        }
    }
    return crowd(steps, std::vector<double>(steps.size(), 1.0), kEvenStepMm);
}

}  // namespace

std::optional<EvenAdvance> even_advance(const StripFit& fit) {
    constexpr std::ptrdiff_t kLeast = 2;
    constexpr double kShare = 0.6;  // Chosen: of the frames; three of four, but not one of two
    const Mode mode = commonest_step(fit);
    EvenAdvance out{mode.at, std::vector<bool>(fit.frames.size(), false)};
    std::ptrdiff_t pictures = 0;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        pictures += seen(fit, i) ? 1 : 0;
        for (std::size_t by = 1; by <= 2 && by <= i && seen(fit, i); ++by) {
            const double off = fit.frames[i].u - fit.frames[i - by].u - static_cast<double>(by) * mode.at;
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
    if (i > 0 && even.kept[i - 1]) at.push_back(fit.frames[i - 1].u + even.step);
    if (i + 1 < fit.frames.size() && even.kept[i + 1]) at.push_back(fit.frames[i + 1].u - even.step);
    if (at.empty() || std::abs(at.front() - at.back()) > kAgree) return std::nullopt;
    return Expected{0.5 * (at.front() + at.back()), at.size() == 2};
}

}  // namespace basefog::frames
