// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr std::size_t kLeastFrames = 3;
/// Shares of the picture, percent. Chosen: two points of shadow are seen side by side, one is not; a tenth lost is a thin negative.
constexpr double kWorthIt = 2.0, kUnseen = 1.0, kThin = 10.0;
/// Ratings nearer than this to the box are the box speed (a third of a stop is a camera's dial). Chosen.
constexpr double kAtBoxStops = 0.17;

struct RollCurve {
    std::vector<WhatIf> mean;  ///< over the frames, by stops, increasing
    std::size_t n = 0;
    [[nodiscard]] double shadow_at(double stops) const {
        if (mean.empty()) return 0;
        const auto after = std::find_if(mean.begin(), mean.end(), [&](const WhatIf& w) { return w.stops.value() >= stops; });
        if (after == mean.end()) return mean.back().shadow_lost_percent;
        if (after == mean.begin()) return mean.front().shadow_lost_percent;
        const auto before = after - 1;
        const double t = (stops - before->stops.value()) / (after->stops - before->stops).value();
        return before->shadow_lost_percent + t * (after->shadow_lost_percent - before->shadow_lost_percent);
    }
    [[nodiscard]] double highlight_now() const {
        for (const WhatIf& w : mean)
            if (std::abs(w.stops.value()) < 1e-9) return w.highlight_lost_percent;
        return 0;
    }
};

RollCurve average(const std::vector<FrameExposure>& frames) {
    RollCurve out;
    for (const FrameExposure& f : frames) {
        if (f.what_if.empty()) continue;
        if (out.mean.empty()) {
            out.mean = f.what_if;
            out.n = 1;
            continue;
        }
        if (f.what_if.size() != out.mean.size()) continue;
        for (std::size_t i = 0; i < out.mean.size(); ++i) {
            out.mean[i].shadow_lost_percent += f.what_if[i].shadow_lost_percent;
            out.mean[i].highlight_lost_percent += f.what_if[i].highlight_lost_percent;
        }
        ++out.n;
    }
    for (WhatIf& w : out.mean) {
        w.shadow_lost_percent /= static_cast<double>(std::max<std::size_t>(out.n, 1));
        w.highlight_lost_percent /= static_cast<double>(std::max<std::size_t>(out.n, 1));
    }
    return out;
}

/// The most exposure that could go with no more than an unseen share of shadow going with it.
double spare_stops(const RollCurve& roll) {
    const double now = roll.shadow_at(0);
    double spare = 0;
    for (const WhatIf& w : roll.mean)
        if (w.stops.value() <= 0 && w.shadow_lost_percent <= now + kUnseen) spare = std::max(spare, -w.stops.value());
    return spare;
}

std::optional<double> stops_over_box(const RollFacts& facts) {
    if (!facts.box_speed || !facts.rating || !(*facts.box_speed > 0) || !(*facts.rating > 0)) return std::nullopt;
    const double stops = std::log2(*facts.box_speed / *facts.rating);
    return std::isfinite(stops) ? std::optional(stops) : std::nullopt;
}

/// A share of the picture area in words: less than the last digit shown is "none".
std::string share(double percent) { return percent < 0.05 ? std::string("none") : fmt::format("{:.1f} %", percent); }

std::string stops_text(double stops) { return fmt::format("{:.1f} stop{}", stops, std::abs(stops - 1) < 0.05 ? "" : "s"); }

std::string highlights(double percent) {
    return percent < 0.5 ? std::string(" No highlights are lost.") : fmt::format(" {:.1f} % of it lies on the shoulder, where highlights merge.", percent);
}

void judge_slower(Verdict& v, double over, double highlight) {
    const double kept = v.shadow_lost_at_box_percent - v.shadow_lost_percent;
    const double spare = v.spare->value();
    const std::string numbers = fmt::format("Rated {} slower than the box: {} of the picture area is lost in the base, against {} predicted at box speed.",
                                            stops_text(over), share(v.shadow_lost_percent), share(v.shadow_lost_at_box_percent));
    if (v.shadow_lost_percent > kThin) {
        v.outcome = Outcome::not_enough;
        v.text = numbers + " The extra exposure was not enough: give more next time." + highlights(highlight);
    } else if (spare >= over / 2 && kept < kWorthIt) {
        v.outcome = Outcome::more_than_needed;
        v.text = numbers + fmt::format(" More than needed: about {} could go before shadows do.", stops_text(std::min(spare, over))) + highlights(highlight);
    } else if (kept >= kUnseen) {
        v.outcome = Outcome::paid_off;
        v.text = numbers + fmt::format(" The extra exposure paid off: it kept {} of the picture area.", share(kept)) + highlights(highlight);
    } else {
        v.outcome = Outcome::more_than_needed;
        v.text =
            numbers + fmt::format(" The extra exposure kept little: {} of the picture area. Box speed would have done.", share(kept)) + highlights(highlight);
    }
}

}  // namespace

Verdict judge(const RollFacts& facts, const std::vector<FrameExposure>& frames) {
    Verdict v;
    const RollCurve roll = average(frames);
    const auto over = stops_over_box(facts);
    if (over) v.rated_over = Stops(*over);
    if (roll.n > 0) {
        v.shadow_lost_percent = roll.shadow_at(0);
        v.shadow_lost_at_box_percent = roll.shadow_at(over ? -*over : 0.0);
        v.spare = Stops(spare_stops(roll));
    }
    if (roll.n < kLeastFrames) {
        v.text = fmt::format("Cannot tell: {} picture{} to judge on, at least {} are needed.", roll.n, roll.n == 1 ? "" : "s", kLeastFrames);
    } else if (!over) {
        v.text =
            fmt::format("Cannot tell whether extra exposure paid off: box speed or rating is not told. As shot, {} of the picture area is lost in the base.",
                        share(v.shadow_lost_percent)) +
            highlights(roll.highlight_now());
    } else if (*over > kAtBoxStops) {
        judge_slower(v, *over, roll.highlight_now());
    } else {
        v.outcome = Outcome::at_box_speed;
        const std::string rated = *over < -kAtBoxStops ? stops_text(-*over) + " faster than the box" : std::string("at box speed");
        v.text = fmt::format("Rated {}: {} of the picture area is lost in the base", rated, share(v.shadow_lost_percent));
        v.text += v.shadow_lost_percent < kUnseen ? "; more exposure would have kept hardly any more of it."
                                                  : fmt::format("; one stop more would have brought that to {}.", share(roll.shadow_at(1.0)));
        v.text += highlights(roll.highlight_now());
    }
    return v;
}

}  // namespace basefog::film
