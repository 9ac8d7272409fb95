// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/fit_roll.h"

#include "film/balance.h"
#include "film/curves.h"
#include "film/exposure.h"
#include "film/findings.h"
#include "film/unmix.h"
#include "film/verdict.h"

#include <cmath>

namespace basefog {
namespace {

using namespace film;

constexpr double kThird = 1.0 / 3;
constexpr int kPasses = 3;

/// Everything before the pictures are asked.
FilmModel assumed_model(const CurvePrior& prior, bool silver) {
    FilmModel model;
    model.silver = silver;
    model.curves = prior.curves;
    model.dye_from_channel = silver ? Matrix3{{{kThird, kThird, kThird}, {kThird, kThird, kThird}, {kThird, kThird, kThird}}}
                                    : inverse(channel_from_dye(kNeutralShare, prior.curves));
    if (!silver) model.scene_from_layer = scene_from_layer();
    return model;
}

void set_curves(FilmModel& model, const Rgb<LayerCurve>& curves, const Mix& share) {
    model.curves = curves;
    model.dye_from_channel = inverse(channel_from_dye(share, curves));
}

std::vector<LayerPicture> layers_of(const std::vector<Picture>& pictures, const FilmModel& model) {
    const auto curves = tabulate(model.curves);
    std::vector<LayerPicture> layers;
    for (const Picture& p : pictures) layers.push_back(to_layers(p, model.dye_from_channel, curves));
    return layers;
}

struct Found {
    Neutral neutral;
    ShareFit mixing;
};

/// Finds the roll's mixing and neutral and puts them into the model: slopes straightened, speeds as balance. In passes, as the
/// pictures are read through the model they correct.
Found find_neutral(FilmModel& model, const CurvePrior& prior, const RollFacts& facts, const std::vector<Picture>& pictures) {
    Found out;
    Neutral& found = out.neutral;
    for (int pass = 0; pass < kPasses; ++pass) {
        const std::vector<LayerPicture> layers = layers_of(pictures, model);
        const Scenes scenes = find_scenes(layers);
        Neutral assumed = assume_neutral(facts, tilt_covariance(prior.channel_std, out.mixing.share));
        assumed.tilt = tilt_of(prior.curves, model.curves, out.mixing.share);
        found = fit_neutral(assumed, layers, scenes);
        const Rgb<LayerCurve> curves = straightened(model.curves, out.mixing.share, found.tilt);
        if (pass + 1 < kPasses) out.mixing = fit_share(pictures, layers, scenes.share, curves);
        set_curves(model, curves, out.mixing.share);
    }
    // Balance zero where the weighted mean of the layers is.
    const double mean = kLayerWeights[0] * found.speed[0] + kLayerWeights[2] * found.speed[1];
    model.balance = {LogExposure(found.speed[0] - mean), LogExposure(-mean), LogExposure(found.speed[1] - mean)};
    const Pair std = found.std_at(-kToe);  // at mid-grey, where it is looked at
    model.balance_std = {std[0], 0.0, std[1]};
    return out;
}

void state_slopes(FilmModel& model, const CurvePrior& prior, const Neutral& neutral) {
    for (int i = 0; i < 3; ++i) {
        const double ratio = model.silver || i == 1 ? 0.0 : std::sqrt(neutral.covariance[i == 0 ? 1 : 3][i == 0 ? 1 : 3]);
        model.slope[i] = {.value = model.curves[i].slope,
                          .std_uncertainty = model.curves[i].slope * std::hypot(prior.common_std, ratio),
                          .n = neutral.n_votes,
                          .flags = MeasureFlag::assumed};
    }
}

}  // namespace

Result<void> validate(const FilmOptions& options) {
    constexpr double kMostStops = 10, kMostSteps = 100;
    const double range = options.what_if_range.value(), step = options.what_if_step.value();
    if (!(options.shadow_sigma > 0 && options.shadow_sigma < 100)) return fail(ErrorCode::usage, "the shadow limit must be a positive number of sigmas");
    if (!(range >= 0 && range <= kMostStops)) return fail(ErrorCode::usage, "the range of what-ifs must be 0 to 10 stops");
    if (!(step > 0 && range / step <= kMostSteps)) return fail(ErrorCode::usage, "the step of what-ifs must be positive and not tiny");
    return {};
}

Result<RollFilm> fit_roll(const RollSamples& roll, const FilmOptions& options) {
    if (const auto ok = validate(options); !ok) return Failure(ok.error());
    const bool silver = roll.silver_image || roll.facts.black_and_white_told;
    const CurvePrior prior = assume_curves(roll.facts, silver);
    const std::vector<Picture> pictures = reduce_pictures(roll);

    RollFilm film;
    film.model = assumed_model(prior, silver);
    Found found;
    if (!silver) found = find_neutral(film.model, prior, roll.facts, pictures);
    const Neutral& neutral = found.neutral;
    state_slopes(film.model, prior, neutral);
    film.model.basis = describe_basis(roll.facts, prior, neutral, silver);
    film.grain = measure_grain(roll);
    film.frames = place_frames(roll, pictures, film.model, prior.common_std, film.grain, options);
    film.verdict = judge(roll.facts, film.frames);
    film.findings = find_news(roll, pictures.size(), prior, neutral, film);
    return film;
}

}  // namespace basefog
