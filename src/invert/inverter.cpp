// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/inverter.h"

#include "invert/film_light.h"
#include "invert/tone.h"

#include <cmath>

namespace basefog {

struct Inverter::Impl {
    invert::FilmLight film;
    invert::Tone tone;
    float gain;
};

Inverter::Inverter(const FilmModel& model, const Rgb<Density>& base, LogExposure render_level, const InvertOptions& options, std::optional<Density> base_noise,
                   std::optional<Density> colour_noise)
    : impl_(std::make_shared<Impl>(Impl{invert::FilmLight(model, base, render_level, base_noise.value_or(Density(invert::kAssumedBaseNoise)).value(),
                                                          colour_noise.value_or(base_noise.value_or(Density(invert::kAssumedBaseNoise))).value()),
                                        invert::Tone(options), static_cast<float>(std::exp2(options.exposure.value()))})) {}

SceneRgb Inverter::scene(DensityRgbi density) const { return impl_->film.scene(density); }

SceneRgb Inverter::display(SceneRgb scene) const { return impl_->tone.apply(scene); }

void Inverter::display_row(float* r, float* g, float* b, std::int64_t n) const {
    impl_->film.scene_row(r, g, b, n);
    impl_->tone.apply_row(r, g, b, n);
}

void Inverter::linear_row(float* r, float* g, float* b, std::int64_t n) const {
    impl_->film.scene_row(r, g, b, n);
    for (float* const channel : {r, g, b})
        for (std::int64_t i = 0; i < n; ++i) channel[i] *= impl_->gain;
}

}  // namespace basefog
