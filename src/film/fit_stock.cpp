// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/fit_stock.h"

#include "film/balance.h"
#include "film/chart_fit.h"
#include "film/compare.h"
#include "film/curves.h"
#include "film/departure.h"
#include "film/exposure.h"
#include "film/findings.h"
#include "film/lights.h"
#include "film/scale.h"
#include "film/speed_of_roll.h"
#include "film/toe.h"
#include "film/unmix.h"
#include "film/verdict.h"

#include <algorithm>
#include <cmath>

namespace basefog {
namespace {

using namespace film;

constexpr double kThird = 1.0 / 3;
constexpr int kLeastPasses = 3, kMostPasses = 8;
/// Tilt, log10 H per log10 H, that leaves curves as they are: a step of 2 log10 H is neutral to .02. Chosen: well under what pictures tell of it.
constexpr double kStraight = 0.01;
/// Later passes take this much of a tilt off: what is near neutral and the curves that say so can take turns overshooting. Chosen: without, three of
/// 24 rolls swung about, each turn three quarters of the one before; .6 ends that at once.
constexpr double kLaterStep = 0.6;
/// How well a frame's level is read, log10 H: from its own upper points, and against frames of the same scene. Chosen; the coverage test
/// moves them.
constexpr double kAloneStd = 0.05, kMatchedStd = 0.009;
constexpr double kShoulderFactor = 4;  // where highlights lie on the shoulder
constexpr double kCardLevelStd = 0.02;

/// May stand for a film's colour: layers dominate their own channels, and greys stay.
bool is_sound(const ChartColour& colour) {
    constexpr double kRounding = 1e-3;
    for (const Matrix3* m : {&colour.neutral_share, &colour.scene_from_layer}) {
        if (!each_sees_its_own(*m)) return false;
        for (const auto& row : *m)
            if (!(std::abs(row[0] + row[1] + row[2] - 1) < kRounding)) return false;
    }
    return true;
}

/// Everything before the pictures are asked.
FilmModel assumed_model(const CurvePrior& prior, const Mix& share, bool silver) {
    FilmModel model;
    model.silver = silver;
    model.curves = prior.curves;
    model.dye_from_channel =
        silver ? Matrix3{{{kThird, kThird, kThird}, {kThird, kThird, kThird}, {kThird, kThird, kThird}}} : inverse(channel_from_dye(share, prior.curves));
    if (!silver) model.scene_from_layer = scene_from_layer();
    return model;
}

/// The work on all rolls of a stock: what is assumed, what was found so far.
struct Work {
    std::span<const RollSamples> rolls;
    std::vector<CurvePrior> priors;
    std::vector<FilmModel> models;
    std::vector<Neutral> neutrals;
    std::vector<Picture> pictures;  ///< of all rolls
    Lights lights;
    std::vector<FoundShift> shifts;  ///< of the lights' groups
    Targets targets;
    bool camera_channels = false;  ///< of all rolls
    ShareFit mixing;
    std::optional<ChartFit> charts;
    std::optional<ChartColour> earlier;  ///< from charts on earlier rolls; none where charts are at hand
    ForEach for_each;
};

Work begin(std::span<const RollSamples> rolls, const ForEach& for_each) {
    Work work;
    work.for_each = for_each;
    work.rolls = rolls;
    work.camera_channels = std::all_of(rolls.begin(), rolls.end(), [](const RollSamples& roll) { return roll.camera_channels; });
    work.mixing.share = assume_share(work.camera_channels).mean;
    for (std::size_t r = 0; r < rolls.size(); ++r) {
        const bool silver = rolls[r].silver_image || rolls[r].facts.black_and_white_told;
        work.priors.push_back(assume_curves(rolls[r].facts, silver));
        work.models.push_back(assumed_model(work.priors.back(), work.mixing.share, silver));
        std::vector<Picture> pictures = reduce_pictures(rolls[r], r);
        std::move(pictures.begin(), pictures.end(), std::back_inserter(work.pictures));
    }
    work.neutrals.resize(rolls.size());
    work.lights = told_lights(rolls);
    work.targets = read_targets(rolls);
    if (work.targets.charts.empty())
        for (const RollSamples& roll : rolls)
            if (!work.earlier && roll.facts.earlier_colour && is_sound(*roll.facts.earlier_colour)) work.earlier = roll.facts.earlier_colour;
    return work;
}

std::vector<LayerPicture> layers_of(const Work& work) {
    std::vector<std::array<CurveTable, 3>> curves;
    for (const FilmModel& m : work.models) curves.push_back(tabulate(m.curves));
    std::vector<LayerPicture> layers(work.pictures.size());
    work.for_each.all(layers.size(), [&](std::size_t i) {
        const Picture& p = work.pictures[i];
        layers[i] = to_layers(p, work.models[p.roll].dye_from_channel, curves[p.roll]);
    });
    return layers;
}

/// What a roll's subjects may share in colour; greys that were photographed as such have no subject.
double subjects_std(const Neutral& found, std::size_t axis) { return found.n_neutrals > 0 || found.n_votes == 0 ? 0.0 : kSubjectsStd[axis]; }

/// Puts the mixing into the models: as charts have it where there are any, else as the pictures have it.
void mix_dyes(Work& work) {
    if (work.earlier) work.mixing.share = work.earlier->neutral_share;
    if ((work.charts = fit_charts(work.targets.charts, work.models, work.mixing, scene_from_layer()))) work.mixing.share = work.charts->share;
    for (FilmModel& model : work.models) {
        model.dye_from_channel = inverse(channel_from_dye(work.mixing.share, model.curves));
        if (work.earlier) model.scene_from_layer = work.earlier->scene_from_layer;
        if (!work.charts) continue;
        model.scene_from_layer = work.charts->scene_from_layer;
        model.by_chart = ChartColour{work.charts->share, work.charts->scene_from_layer};
    }
}

/// Zero where the weighted mean of the layers is.
Rgb<LogExposure> to_balance(const Pair& speed) {
    const double mean = kLayerWeights[0] * speed[0] + kLayerWeights[2] * speed[1];
    return {LogExposure(speed[0] - mean), LogExposure(-mean), LogExposure(speed[1] - mean)};
}

/// Have the curves been straight already?
bool is_straight(const Neutral& found) { return std::max(std::abs(found.tilt[0]), std::abs(found.tilt[1])) < kStraight; }

/// Finds the stock's mixing and each roll's neutral, and puts them into the models: slopes straightened, speeds as balance. In passes, as the
/// pictures are read through the models they correct.
void find_neutrals(Work& work) {
    const Lights told = work.lights;
    const std::vector<Neutral> none;
    bool settled = false;
    for (int pass = 0; pass < kMostPasses; ++pass) {
        const bool last = settled || pass + 1 == kMostPasses;
        const std::vector<LayerPicture> layers = layers_of(work);
        const Scenes scenes = find_scenes(layers);
        std::vector<NeutralPrior> assumed;
        for (std::size_t r = 0; r < work.rolls.size(); ++r) {
            assumed.push_back(assume_neutral(work.rolls[r].facts, tilt_covariance(work.priors[r].channel_std, work.mixing.share)));
            assumed.back().tilt = tilt_of(work.priors[r].curves, work.models[r].curves, work.mixing.share);
        }
        const std::vector<KnownNeutral> known = known_neutrals(work.targets, work.models);
        NeutralFit fit = fit_neutrals(assumed, {work.rolls, layers, scenes, known, work.lights, pass == 0 ? none : work.neutrals, work.for_each});
        work.neutrals = std::move(fit.rolls), work.shifts = std::move(fit.lights);
        if (!last) work.lights = recognise_lights(told, {work.rolls, layers, scenes, fit.casts, work.neutrals});
        std::vector<Rgb<LayerCurve>> curves;
        for (std::size_t r = 0; r < work.rolls.size(); ++r) {
            Pair tilt = work.neutrals[r].tilt;
            if (pass > 0 && !settled)
                for (double& t : tilt) t *= kLaterStep;
            curves.push_back(straightened(work.models[r].curves, work.mixing.share, tilt));
        }
        if (!last && !work.earlier) work.mixing = fit_share(work.pictures, layers, scenes.share, curves, assume_share(work.camera_channels));
        for (std::size_t r = 0; r < work.rolls.size(); ++r) work.models[r].curves = curves[r];
        mix_dyes(work);
        if (last) break;
        settled = pass + 2 >= kLeastPasses && std::all_of(work.neutrals.begin(), work.neutrals.end(), is_straight);
    }
    for (std::size_t r = 0; r < work.rolls.size(); ++r) {
        const Neutral& found = work.neutrals[r];
        work.models[r].balance = to_balance(found.speed);
        const Pair std = found.std_at(-kToe);  // at mid-grey, where it is looked at
        work.models[r].balance_std = {std::hypot(std[0], subjects_std(found, 0)), 0.0, std::hypot(std[1], subjects_std(found, 1))};
    }
}

/// The toes' widths, stock by stock.
void find_toes(Work& work) {
    const std::vector<LayerPicture> layers = layers_of(work);
    Scenes scenes = find_scenes(layers);
    const auto in_own_light = [&](std::size_t picture) { return work.lights.is_own(layers[picture].roll, layers[picture].frame); };
    // Greys in another light look coloured.
    std::erase_if(scenes.brackets, [&](const Bracket& b) { return !in_own_light(b.first) || !in_own_light(b.second); });
    const std::vector<ToePoint> points = toe_points(work.pictures, layers, scenes, work.targets, work.models, work.rolls);
    std::vector<FilmModel> fitted = work.models;
    for (std::size_t r = 0; r < work.rolls.size(); ++r) {
        std::vector<char> of_stock;
        for (std::size_t q = 0; q < work.rolls.size(); ++q) of_stock.push_back(kinship(work.rolls, r, q) == Kinship::alike ? 0 : 1);
        const ToeFit toe = fit_toe(points, of_stock, work.models[r].curves.g.toe_width, work.models, work.rolls);
        for (int l = 0; l < 3; ++l) fitted[r].curves[l].toe_width = toe.width;
    }
    work.models = std::move(fitted);
    if (work.charts) mix_dyes(work);
}

/// How far the charts find the slopes off.
std::vector<StretchReading> chart_stretches(const Work& work) {
    /// What a chart's light and gloss leave open beside what its patches show. Chosen.
    constexpr double kChartStretchStd = 0.02;
    std::vector<StretchReading> out;
    if (!work.charts) return out;
    for (std::size_t c = 0; c < work.targets.charts.size(); ++c)
        out.push_back({work.targets.charts[c].roll, work.charts->stretch[c], std::hypot(work.charts->stretch_std[c], kChartStretchStd)});
    return out;
}

/// Every picture's height above the toe, and the cards'.
std::vector<PlacedPicture> place_pictures(const Work& work, const Scenes& scenes) {
    std::vector<PlacedPicture> out;
    const auto extra = [&](std::size_t roll, std::size_t frame) {
        const auto& told = work.rolls[roll].frames[frame].note.extra;
        return told ? std::optional(to_log_exposure(*told).value()) : std::nullopt;
    };
    for (std::size_t i = 0; i < work.pictures.size(); ++i) {
        const Picture& p = work.pictures[i];
        const FilmModel& model = work.models[p.roll];
        out.push_back({p.roll, scenes.scene_of[i], level_of(p, model, tabulate(model.curves)).value - kToe, extra(p.roll, p.frame)});
    }
    for (const CardReading& c : work.targets.cards) {
        const FilmModel& model = work.models[c.roll];
        const Triple h = layer_exposures(c.density, model.dye_from_channel, tabulate(model.curves));
        double level = 0;
        for (int l = 0; l < 3; ++l) level += kLayerWeights[static_cast<std::size_t>(l)] * (h[static_cast<std::size_t>(l)] - model.balance[l].value());
        out.push_back({c.roll, kNoScene, level - kToe, extra(c.roll, c.frame)});
    }
    return out;
}

/// The true exposure scale, put into a roll's curves. Differences between its layers are exposures as well.
void apply_scale(FilmModel& model, const RollScale& scale) {
    for (int i = 0; i < 3; ++i) {
        model.balance_std[i] = std::hypot(model.balance_std[i] * (1 + scale.stretch), model.balance[i].value() * scale.stretch_std);
        model.balance[i] = model.balance[i] * (1 + scale.stretch);
        model.curves[i].slope /= 1 + scale.stretch;
        model.curves[i].toe = model.curves[i].toe + LogExposure(scale.loss);
        model.curves[i].shoulder = model.curves[i].shoulder + LogExposure(scale.loss);
    }
    model.common_slope_std = scale.stretch_std;
}

void state_slopes(FilmModel& model, const Neutral& neutral, const RollScale& scale) {
    for (int i = 0; i < 3; ++i) {
        const Eigen::Index axis = i == 0 ? 1 : 3;
        const double ratio = model.silver || i == 1 ? 0.0 : std::sqrt(std::max(neutral.covariance(axis, axis), 0.0));
        model.slope[i] = {.value = model.curves[i].slope,
                          .std_uncertainty = model.curves[i].slope * std::hypot(scale.stretch_std, ratio),
                          .n = scale.basis.empty() ? neutral.n_votes : scale.n,
                          .flags = scale.basis.empty() ? MeasureFlag::assumed : MeasureFlag::none};
    }
}

std::string basis_of_mixing(const Work& work) {
    if (work.charts) return "measured on the patches of " + counted(static_cast<int>(work.targets.charts.size()), "colour chart");
    if (work.earlier) return "as the patches of a colour chart on an earlier roll of the stock have it";
    const std::string assumed = std::string("assumed: block dyes through a ") + (work.camera_channels ? "camera's broad bands" : "scanner's bands");
    return work.mixing.n_votes == 0 ? assumed : assumed + "; corrected by the colours of " + counted(work.mixing.n_votes, "picture");
}

/// Levels on the common scale, of the pictures and cards of one roll.
std::vector<FoundLevel> levels_of_roll(const Work& work, std::size_t roll, const std::vector<PlacedPicture>& placed, const Scenes& scenes, const Scale& scale) {
    std::vector<FoundLevel> out;
    const FilmModel& model = work.models[roll];
    const RollScale& s = scale.rolls[roll];
    const auto curves = tabulate(model.curves);
    for (std::size_t i = 0; i < work.pictures.size(); ++i) {
        const Picture& p = work.pictures[i];
        if (p.roll != roll) continue;
        const Level level = level_of(p, model, curves);
        const bool matched = std::any_of(scenes.brackets.begin(), scenes.brackets.end(), [i](const Bracket& b) { return b.first == i || b.second == i; });
        const double reading = (matched ? kMatchedStd : kAloneStd) * (level.on_shoulder ? kShoulderFactor : 1.0);
        out.push_back({p.frame, level.value + (scale.height[i] - placed[i].height) * (1 + s.stretch), reading, to_log_exposure(Stops(kSceneStops)).value(),
                       p.n_usable, scenes.scene_of[i]});
    }
    for (std::size_t k = 0; k < work.targets.cards.size(); ++k) {
        const CardReading& c = work.targets.cards[k];
        if (c.roll != roll) continue;
        out.push_back({c.frame, kToe + s.loss + placed[work.pictures.size() + k].height * (1 + s.stretch), kCardLevelStd, 0.0, 1, std::nullopt});
    }
    return out;
}

/// The roll's frames in other lights, and what these move; frames get it as their own.
std::vector<OtherLight> other_lights_of(const Work& work, std::size_t roll, const RollScale& scale, std::vector<FrameExposure>& frames) {
    std::vector<OtherLight> out;
    for (std::size_t g = 0; g < work.shifts.size(); ++g) {
        const LightGroup& group = work.lights.groups[g];
        if (group.roll != roll) continue;
        const double to_scale = 1 + scale.stretch;
        OtherLight light{.frames = {},
                         .shift = to_balance({to_scale * work.shifts[g].shift[0], to_scale * work.shifts[g].shift[1]}),
                         .shift_std = {std::hypot(to_scale * work.shifts[g].sigma[0], work.shifts[g].shift[0] * scale.stretch_std), 0,
                                       std::hypot(to_scale * work.shifts[g].sigma[1], work.shifts[g].shift[1] * scale.stretch_std)},
                         .told = group.told,
                         .probability = group.probability,
                         .basis = describe_light(group, work.shifts[g])};
        for (std::size_t f = 0; f < frames.size(); ++f)
            if (work.lights.of(roll, f) == static_cast<int>(g)) light.frames.push_back(static_cast<int>(f)), frames[f].light_shift = light.shift;
        out.push_back(std::move(light));
    }
    return out;
}

}  // namespace

bool are_alike(const RollFacts& a, const RollFacts& b) {
    if (a.process != b.process || a.black_and_white_told != b.black_and_white_told || a.stock.empty() || b.stock.empty()) return false;
    if (a.stock == b.stock) return true;
    return a.box_speed && a.box_speed == b.box_speed && a.stock_balance && a.stock_balance == b.stock_balance && !a.own_process.empty() &&
           a.own_process == b.own_process;
}

Result<StockFilm> fit_stock(std::span<const RollSamples> rolls, const FilmOptions& options, const ForEach& for_each) {
    if (const auto ok = validate(options); !ok) return Failure(ok.error());
    StockFilm out;
    if (rolls.empty()) return out;
    Work work = begin(rolls, for_each);
    if (!work.models.front().silver) find_neutrals(work);
    find_toes(work);
    const Scenes scenes = find_scenes(layers_of(work));
    const std::vector<PlacedPicture> placed = place_pictures(work, scenes);
    std::vector<double> common_std;
    for (const CurvePrior& p : work.priors) common_std.push_back(p.common_std);
    const Scale scale = fit_scale(rolls, common_std, placed, scenes, work.targets, work.models, chart_stretches(work));
    for (std::size_t r = 0; r < rolls.size(); ++r) {
        RollFilm film;
        FilmModel& model = work.models[r];
        apply_scale(model, scale.rolls[r]);
        bend_to_neutrals(model, seen_neutrals(work.targets, work.lights, r, model));
        state_slopes(model, work.neutrals[r], scale.rolls[r]);
        model.basis = describe_basis(rolls[r].facts, work.priors[r], work.neutrals[r], scale.rolls[r], basis_of_mixing(work), model.silver);
        film.grain = measure_grain(rolls[r]);
        const LossMeter meter(model, rolls[r].base, film.grain, options);
        const std::vector<FoundLevel> levels = levels_of_roll(work, r, placed, scenes, scale);
        film.frames = place_frames(rolls[r], levels, model.common_slope_std, kToe + scale.rolls[r].loss, meter, options, for_each);
        film.other_lights = other_lights_of(work, r, scale.rolls[r], film.frames);
        film.limits = meter.limits();
        film.speed = speed_of(rolls[r].facts, model, scale.rolls[r]);
        for (const WedgeReading& w : work.targets.wedges)
            if (w.roll == r) film.wedges.push_back({static_cast<int>(w.frame), w.steps});
        film.verdict = judge(rolls[r], film.frames);
        film.model = model;
        film.findings = find_news(rolls[r], work.priors[r], work.neutrals[r], scale.rolls[r], film);
        for (Finding& f : unread_charts(rolls[r], r, work.targets)) film.findings.push_back(std::move(f));
        out.rolls.push_back(std::move(film));
    }
    if (rolls.size() > 1) out.comparison = compare_rolls(rolls, out.rolls);
    return out;
}

}  // namespace basefog
