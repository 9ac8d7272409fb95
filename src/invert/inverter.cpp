// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/inverter.h"

#include "invert/film_light.h"
#include "invert/tone.h"

namespace basefog {

struct Inverter::Impl {
    invert::FilmLight film;
    invert::Tone tone;
};

Inverter::Inverter(const FilmModel& model, const Rgb<Density>& base, LogExposure render_level, const InvertOptions& options, std::optional<Density> base_noise)
    : impl_(std::make_shared<Impl>(
          Impl{invert::FilmLight(model, base, render_level, base_noise.value_or(Density(invert::kAssumedBaseNoise)).value()), invert::Tone(options)})) {}

SceneRgb Inverter::scene(DensityRgbi density) const { return impl_->film.scene(density); }

SceneRgb Inverter::display(SceneRgb scene) const { return impl_->tone.apply(scene); }

void Inverter::display_row(float* r, float* g, float* b, std::int64_t n) const {
    impl_->film.scene_row(r, g, b, n);
    impl_->tone.apply_row(r, g, b, n);
}

}  // namespace basefog
