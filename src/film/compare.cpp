// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/compare.h"

#include "film/grain.h"

#include "basefog/film/speed.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace basefog::film {
namespace {

/// Two of the three slopes share the common slope's error, so that their ratio is free of it.
Measured<double> ratio(const FilmModel& model, int layer) {
    const Measured<double>&a = model.slope[layer], &green = model.slope[1];
    const double value = green.value > 0 ? a.value / green.value : 0;
    const double relative = a.value > 0 ? a.std_uncertainty / a.value : 0, common = model.common_slope_std;
    return {.value = value, .std_uncertainty = value * std::sqrt(std::max(relative * relative - common * common, 0.0)), .n = a.n, .flags = MeasureFlag::none};
}

double blue_fog(const RollSamples& roll) { return roll.base.b.value.value(); }

Measured<Density> above(const Measured<Density>& base, const Measured<Density>& clearest, bool same) {
    if (same) return {.value = Density(0), .std_uncertainty = Density(0), .n = base.n, .flags = base.flags};
    return {.value = base.value - clearest.value,
            .std_uncertainty = Density(std::hypot(base.std_uncertainty.value(), clearest.std_uncertainty.value())),
            .n = std::min(base.n, clearest.n),
            .flags = base.flags | clearest.flags};
}

RollComparison describe(const RollSamples& roll, const RollFilm& film, const RollSamples& clearest) {
    RollComparison out;
    out.roll = roll.facts.id, out.stock = roll.facts.stock;
    out.rating = roll.facts.rating, out.box_speed = roll.facts.box_speed;
    out.base = roll.base;
    for (int c = 0; c < 3; ++c) out.fog[c] = above(roll.base[c], clearest.base[c], &roll == &clearest);
    out.slope = film.model.slope;
    out.red_to_green = ratio(film.model, 0), out.blue_to_green = ratio(film.model, 2);
    for (int c = 0; c < 3; ++c) {
        out.granularity[c] = rms_granularity(roll.spot_noise[c]);
        const bool reaches = std::any_of(film.grain.begin(), film.grain.end(), [c](const GrainPoint& p) { return p.density[c] >= 0.9; });
        if (reaches) out.granularity_at_1[c] = rms_granularity(NoiseCurve(film.grain, c).at(1.0));
    }
    out.speed = film.speed;
    out.shadow_lost_percent = film.verdict.shadow_lost_percent, out.highlight_lost_percent = film.verdict.highlight_lost_percent;
    return out;
}

/// The most fogged roll against the clearest, where they differ by more than is open.
std::string in_words(const std::vector<RollComparison>& rolls) {
    const RollComparison &clear = rolls.front(), &fogged = rolls.back();
    constexpr double kSigmas = 2;
    const auto told = [](double value, double sigma) { return std::abs(value) > kSigmas * sigma; };
    std::string text;
    if (told(fogged.fog.b.value.value(), fogged.fog.b.std_uncertainty.value()) && fogged.fog.b.value.value() > 0.005)
        text += fmt::format("Roll {} has {:.2f}, {:.2f}, {:.2f} more base density (red, green, blue) than roll {}.", fogged.roll, fogged.fog.r.value.value(),
                            fogged.fog.g.value.value(), fogged.fog.b.value.value(), clear.roll);
    else
        text += "No roll is more fogged than another by more than can be measured.";
    const double slower = (fogged.speed.loss.value - clear.speed.loss.value).value(),
                 slower_std = std::hypot(fogged.speed.loss.std_uncertainty.value(), clear.speed.loss.std_uncertainty.value());
    if (told(slower, slower_std)) text += fmt::format(" It is {:.1f} ± {:.1f} stop {}.", std::abs(slower), slower_std, slower > 0 ? "slower" : "faster");
    const double flatter = fogged.slope.g.value / std::max(clear.slope.g.value, 1e-9) - 1,
                 flatter_std = std::hypot(fogged.slope.g.std_uncertainty / std::max(fogged.slope.g.value, 1e-9),
                                          clear.slope.g.std_uncertainty / std::max(clear.slope.g.value, 1e-9));
    if (told(flatter, flatter_std)) text += fmt::format(" Its contrast is {:.0f} % {}.", 100 * std::abs(flatter), flatter < 0 ? "lower" : "higher");
    return text;
}

}  // namespace

StockComparison compare_rolls(std::span<const RollSamples> rolls, const std::vector<RollFilm>& films) {
    std::vector<std::size_t> order(rolls.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return blue_fog(rolls[a]) < blue_fog(rolls[b]); });
    StockComparison out;
    std::vector<std::string> stocks;
    for (const RollSamples& r : rolls)
        if (!r.facts.stock.empty() && std::find(stocks.begin(), stocks.end(), r.facts.stock) == stocks.end()) stocks.push_back(r.facts.stock);
    for (const std::string& s : stocks) out.name += (out.name.empty() ? "" : " / ") + s;
    out.process = rolls.front().facts.process;
    out.clearest = rolls[order.front()].facts.id;
    for (const std::size_t i : order) out.rolls.push_back(describe(rolls[i], films[i], rolls[order.front()]));
    out.text = in_words(out.rolls);
    return out;
}

}  // namespace basefog::film
