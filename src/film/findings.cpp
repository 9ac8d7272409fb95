// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr std::size_t kFewPictures = 4;
/// log10 H, a fifth of a stop or more in a layer: seen as a cast. Chosen.
constexpr double kUncertainBalance = 0.06;

Finding news(Severity severity, std::string code, std::string message, const std::string& roll, std::vector<std::pair<std::string, double>> numbers = {}) {
    return {.severity = severity,
            .code = std::move(code),
            .message = std::move(message),
            .where = {.scan = {}, .strip = -1, .frame = -1, .roll = roll},
            .numbers = std::move(numbers)};
}

/// "3, 5 to 8".
std::string numbers_of(const RollSamples& roll, const std::vector<int>& frames) {
    const auto number = [&](std::size_t k) { return roll.frames[static_cast<std::size_t>(frames[k])].number; };
    std::string text;
    for (std::size_t i = 0; i < frames.size();) {
        std::size_t last = i;
        while (last + 1 < frames.size() && number(last + 1) == number(last) + 1) ++last;
        text += (i > 0 ? ", " : "") + std::to_string(number(i));
        if (last > i) text += (last > i + 1 ? " to " : ", ") + std::to_string(number(last));
        i = last + 1;
    }
    return text;
}

/// The frames in a light that was recognised; what a ledger told is no news.
std::optional<Finding> mixed_light(const RollSamples& roll, const OtherLight& light) {
    if (light.told || light.frames.empty()) return std::nullopt;
    const double red = to_stops(light.shift.r - light.shift.g).value(), blue = to_stops(light.shift.b - light.shift.g).value();
    const bool warmer = blue < 0, one = light.frames.size() == 1;
    Finding finding = news(
        Severity::note, "mixed-light",
        fmt::format(
            "Frame{} {} {} taken in a {} light than the roll's others ({}): red lies {:.1f} stop {} and blue {:.1f} stop {} against green, as {} has it. "
            "{} balanced by {}. Were it the subjects instead, {} \"light\" among the roll's \"frames\" in the ledger.",
            one ? "" : "s", numbers_of(roll, light.frames), one ? "was" : "were", warmer ? "warmer" : "cooler", light.basis, std::abs(red),
            red > 0 ? "higher" : "lower", std::abs(blue), blue > 0 ? "higher" : "lower", warmer ? "a lamp's light" : "daylight beside a lamp's",
            one ? "It is" : "They are", one ? "itself" : "themselves",
            std::string(roll.facts.light ? "give " : "tell the roll's \"light\", and give ") + (one ? "it" : "them") +
                (roll.facts.light ? " the roll's own" : " the same")),
        roll.facts.id,
        {{"frames", static_cast<double>(light.frames.size())}, {"probability_percent", 100 * light.probability}, {"red_stops", red}, {"blue_stops", blue}});
    finding.where.frame = light.frames.front();
    return finding;
}

}  // namespace

std::string counted(int n, const std::string& what) { return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s"); }

std::string describe_light(const LightGroup& group, const FoundShift& found) {
    const std::string pictures = counted(found.n_votes, "picture");
    if (group.told) return fmt::format("told: {:.0f} K; combined with {}", group.told->value(), pictures);
    return fmt::format("{} agree, to {:.0f} % in another light", pictures, 100 * group.probability);
}

std::array<std::string, 4> describe_basis(const RollFacts& facts, const CurvePrior& prior, const Neutral& neutral, const RollScale& scale,
                                          const std::string& mixing, bool silver) {
    const std::string zero = "convention: log10 H = 0 is an 18 % grey exposed by the stock's aim, counted from the toe";
    const std::string slope = scale.basis.empty() ? prior.basis + ", assumed" : prior.basis + "; common slope measured by " + scale.basis;
    if (silver) return {"silver image: channels averaged", slope, "none needed: silver is neutral", zero};
    const std::string pictures = neutral.n_votes == 0 ? "no picture" : counted(neutral.n_votes, "picture");
    std::string ratios = fmt::format("; ratios of the layers corrected by {}", pictures);
    if (neutral.n_brackets > 0) ratios += fmt::format(", {} of one scene at two exposures among them", counted(neutral.n_brackets, "pair"));
    std::string balance = basis_of_assumed(facts) + ", combined with " + pictures;
    if (neutral.n_neutrals > 0) {
        ratios += " and by the steps, card or chart photographed";
        balance += " and the greys photographed";
    }
    return {mixing, slope + ratios, balance, zero};
}

std::vector<Finding> find_news(const RollSamples& roll, const CurvePrior& prior, const Neutral& neutral, const RollScale& scale, const RollFilm& film) {
    std::vector<Finding> out;
    const std::string& id = roll.facts.id;
    const auto n_pictures = static_cast<std::size_t>(film.verdict.frames);
    if (n_pictures < kFewPictures)
        out.push_back(
            news(Severity::caution, "few-pictures",
                 fmt::format("Only {} to judge this roll's film by: curve and balance are mostly assumed.", counted(static_cast<int>(n_pictures), "picture")),
                 id, {{"pictures", static_cast<double>(n_pictures)}}));
    if (scale.basis.empty())
        out.push_back(
            news(Severity::note, "curve-assumed",
                 fmt::format("The curve's overall slope is assumed ({}), known to about {:.0f} %: these pictures cannot fix it. A photographed step wedge "
                             "would, or a bracket, or the same scene on rolls of this stock rated differently.",
                             prior.basis, 100 * scale.stretch_std),
                 id, {{"slope_std_percent", 100 * scale.stretch_std}}));
    for (std::size_t f = 0; f < roll.frames.size(); ++f) {
        const bool read = std::any_of(film.wedges.begin(), film.wedges.end(), [f](const Wedge& w) { return w.frame == static_cast<int>(f); });
        if (roll.frames[f].note.use != FrameUse::step_wedge || read) continue;
        Finding finding = news(Severity::caution, "wedge-not-read",
                               "The ledger names this frame as a step wedge, but no five steps climbing one way were found on it; it is not used.", id);
        finding.where.frame = static_cast<int>(f);
        out.push_back(std::move(finding));
    }
    const double worst = std::max(film.model.balance_std.r, film.model.balance_std.b);
    if (!film.model.silver && worst > kUncertainBalance) {
        const bool told = roll.facts.stock_balance && roll.facts.light;
        const std::string advice = told ? "A frame with a grey card, named in the ledger, would settle it."
                                        : "Tell the stock's balance and the light, or name a frame with a grey card.";
        const double stops = to_stops(LogExposure(worst)).value();
        out.push_back(news(told ? Severity::note : Severity::caution, "balance-uncertain",
                           fmt::format("Colour balance is known to {:.2f} stop only. {}", stops, advice), id,
                           {{"balance_std_stops", stops}, {"votes", static_cast<double>(neutral.n_votes)}}));
    }
    for (const OtherLight& light : film.other_lights)
        if (auto finding = mixed_light(roll, light)) out.push_back(std::move(*finding));
    if (roll.relative_densities)
        out.push_back(news(Severity::note, "relative-densities", "No bare light was in view: densities are relative to the clearest film.", id));
    return out;
}

std::vector<Finding> unread_charts(const RollSamples& roll, std::size_t index, const Targets& targets) {
    std::vector<Finding> out;
    for (std::size_t f = 0; f < roll.frames.size(); ++f) {
        const FrameSamples& frame = roll.frames[f];
        const bool read = std::any_of(targets.charts.begin(), targets.charts.end(), [&](const ChartReading& c) { return c.roll == index && c.frame == f; });
        if (frame.note.use != FrameUse::colour_chart || read) continue;
        out.push_back(news(Severity::caution, "chart-not-found",
                           fmt::format("Frame {} was named a colour chart, but no 24 patches, six by four, were found in it that rank as the chart's do; it "
                                       "is treated as a picture. The patches must be 1 mm wide or more on the film, evenly lit and on the straight part of "
                                       "the curve.",
                                       frame.number),
                           roll.facts.id));
        out.back().where.frame = static_cast<int>(f);
    }
    return out;
}

}  // namespace basefog::film
