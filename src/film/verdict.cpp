// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr int kLeastFrames = 3;
/// Shares of the picture, percent. Chosen: two points of shadow are seen side by side, one is not; a tenth lost is a thin negative.
constexpr double kWorthIt = 2.0, kUnseen = 1.0, kThin = 10.0;
/// Ratings nearer than this to the box are the box speed (a third of a stop is a camera's dial). Chosen.
constexpr double kAtBoxStops = 0.17;

/// Shadow share at an exposure between the what-ifs' steps; beyond them the last one's.
double shadow_at(const std::vector<WhatIf>& curve, double stops) {
    if (curve.empty()) return 0;
    const auto after = std::find_if(curve.begin(), curve.end(), [&](const WhatIf& w) { return w.stops.value() >= stops; });
    if (after == curve.end()) return curve.back().shadow_lost_percent;
    if (after == curve.begin()) return curve.front().shadow_lost_percent;
    const auto before = after - 1;
    const double t = (stops - before->stops.value()) / (after->stops - before->stops).value();
    return before->shadow_lost_percent + t * (after->shadow_lost_percent - before->shadow_lost_percent);
}

/// The roll's pictures: their mean over the what-ifs, and the one that lost most.
struct RollCurve {
    std::vector<WhatIf> mean;  ///< by stops, increasing
    int n = 0;
    std::optional<std::size_t> worst;
    double worst_lost = -1, highlight = 0;
};

RollCurve average(const RollSamples& roll, const std::vector<FrameExposure>& frames) {
    RollCurve out;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        const FrameExposure& f = frames[i];
        if (f.what_if.empty() || roll.frames[i].note.use != FrameUse::picture) continue;
        if (out.mean.empty()) {
            out.mean.resize(f.what_if.size());
            for (std::size_t k = 0; k < out.mean.size(); ++k) out.mean[k].stops = f.what_if[k].stops;
        }
        for (std::size_t k = 0; k < out.mean.size(); ++k) {
            out.mean[k].shadow_lost_percent += f.what_if[k].shadow_lost_percent;
            out.mean[k].highlight_lost_percent += f.what_if[k].highlight_lost_percent;
        }
        out.highlight += f.highlight_lost_percent.value;
        if (f.shadow_lost_percent.value > out.worst_lost) out.worst = i, out.worst_lost = f.shadow_lost_percent.value;
        ++out.n;
    }
    const double n = std::max(out.n, 1);
    out.highlight /= n;
    for (WhatIf& w : out.mean) w.shadow_lost_percent /= n, w.highlight_lost_percent /= n;
    return out;
}

/// The most exposure that could go with no more than an unseen share of shadow going with it.
double spare_stops(const RollCurve& roll) {
    const double now = shadow_at(roll.mean, 0);
    double spare = 0;
    for (const WhatIf& w : roll.mean)
        if (w.stops.value() <= 0 && w.shadow_lost_percent <= now + kUnseen) spare = std::max(spare, -w.stops.value());
    return spare;
}

/// The least more exposure that would have kept all shadow but an unseen share; none within the what-ifs.
std::optional<Stops> lacking_stops(const RollCurve& roll) {
    for (const WhatIf& w : roll.mean)
        if (w.stops.value() >= 0 && w.shadow_lost_percent <= kUnseen) return w.stops;
    return std::nullopt;
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

/// Names the frame that lost most, where that is worth looking at.
std::string worst_words(const Verdict& v, const RollSamples& roll, const std::vector<FrameExposure>& frames) {
    if (!v.worst_frame || v.worst_shadow_lost_percent < kUnseen) return {};
    const auto i = static_cast<std::size_t>(*v.worst_frame);
    const std::string name = roll.frames[i].number > 0 ? fmt::format("frame {}", roll.frames[i].number) : fmt::format("the roll's picture {}", i + 1);
    std::string text = fmt::format(" Worst is {}: {} lost", name, share(v.worst_shadow_lost_percent));
    if (v.rated_over && v.rated_over->value() > kAtBoxStops)
        text += fmt::format(", {} at box speed", share(shadow_at(frames[i].what_if, -v.rated_over->value())));
    return text + ".";
}

std::string more_words(const std::optional<Stops>& lacking) {
    return lacking ? fmt::format("about {} more would have kept all but {:.0f} % of it", stops_text(lacking->value()), kUnseen)
                   : std::string("not even the most exposure predicted for would have kept it");
}

void judge_slower(Verdict& v, double over) {
    const double kept = v.shadow_lost_at_box_percent - v.shadow_lost_percent;
    const double spare = v.spare->value();
    v.text = fmt::format("Rated {} slower than the box: {} of the picture area is lost in the base, against {} predicted at box speed ({} pictures).",
                         stops_text(over), share(v.shadow_lost_percent), share(v.shadow_lost_at_box_percent), v.frames);
    if (v.shadow_lost_percent > kThin) {
        v.outcome = Outcome::not_enough;
        v.text += fmt::format(" The extra exposure was not enough: {}.", more_words(v.lacking));
    } else if (spare >= over / 2 && kept < kWorthIt) {
        v.outcome = Outcome::more_than_needed;
        v.text += fmt::format(" More than needed: about {} could go before shadows do.", stops_text(std::min(spare, over)));
    } else if (kept >= kUnseen) {
        v.outcome = Outcome::paid_off;
        v.text += fmt::format(" The extra exposure paid off: it kept {} of the picture area.", share(kept));
        if (v.lacking && v.lacking->value() > 0) v.text += fmt::format(" Next time, {}.", more_words(v.lacking));
    } else {
        v.outcome = Outcome::more_than_needed;
        v.text += fmt::format(" The extra exposure kept little: {} of the picture area. Box speed would have done.", share(kept));
    }
}

void judge_at_box(Verdict& v, double over, const RollCurve& roll) {
    v.outcome = Outcome::at_box_speed;
    const std::string rated = over < -kAtBoxStops ? stops_text(-over) + " faster than the box" : std::string("at box speed");
    v.text = fmt::format("Rated {}: {} of the picture area is lost in the base ({} pictures)", rated, share(v.shadow_lost_percent), v.frames);
    v.text += v.shadow_lost_percent < kUnseen
                  ? "; more exposure would have kept hardly any more of it."
                  : fmt::format("; one stop more would have brought that to {}, and {}.", share(shadow_at(roll.mean, 1.0)), more_words(v.lacking));
}

}  // namespace

Verdict judge(const RollSamples& samples, const std::vector<FrameExposure>& frames) {
    Verdict v;
    const RollCurve roll = average(samples, frames);
    const auto over = stops_over_box(samples.facts);
    v.frames = roll.n;
    if (over) v.rated_over = Stops(*over);
    if (roll.n > 0) {
        v.shadow_lost_percent = shadow_at(roll.mean, 0);
        v.shadow_lost_at_box_percent = shadow_at(roll.mean, over ? -*over : 0.0);
        v.highlight_lost_percent = roll.highlight;
        v.spare = Stops(spare_stops(roll));
        v.lacking = lacking_stops(roll);
        v.worst_frame = static_cast<int>(*roll.worst);
        v.worst_shadow_lost_percent = roll.worst_lost;
        v.what_if = roll.mean;
    }
    if (roll.n < kLeastFrames) {
        v.text = fmt::format("Cannot tell: {} picture{} to judge on, at least {} are needed.", roll.n, roll.n == 1 ? "" : "s", kLeastFrames);
        return v;
    }
    if (!over) {
        v.text = fmt::format("Cannot tell whether extra exposure paid off: {} told. As shot, {} of the picture area is lost in the base.",
                             samples.facts.box_speed ? "the rating is not"
                             : samples.facts.rating  ? "the box speed is not"
                                                     : "neither box speed nor rating is",
                             share(v.shadow_lost_percent));
    } else if (-*over < roll.mean.front().stops.value() - kAtBoxStops) {
        v.text = fmt::format("Cannot tell: rated {} slower than the box, and predictions reach {} only. As shot, {} of the picture area is lost in the base.",
                             stops_text(*over), stops_text(-roll.mean.front().stops.value()), share(v.shadow_lost_percent));
    } else if (*over > kAtBoxStops) {
        judge_slower(v, *over);
    } else {
        judge_at_box(v, *over, roll);
    }
    v.text += worst_words(v, samples, frames) + highlights(v.highlight_lost_percent);
    return v;
}

}  // namespace basefog::film
