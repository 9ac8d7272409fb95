// SPDX-License-Identifier: GPL-3.0-or-later
#include "fuzz/memory_file.h"
#include "fuzz/targets.h"

#include "basefog/core/assert.h"
#include "basefog/invert/inverter.h"

#include <array>

namespace basefog::fuzz {

void feed_output_profile(std::string_view bytes) {
    const MemoryFile file(bytes);
    InvertOptions invert;
    invert.output = OutputSpace::profile_file;
    invert.profile_path = file.path();
    const auto output = OutputProfile::make(invert);
    if (!output) return BASEFOG_ASSERT(!output.error().what.empty());
    const std::array<SceneRgb, 2> scene{SceneRgb{0.2F, 0.3F, 0.9F}, SceneRgb{-0.1F, 1.5F, 0.0F}};
    std::array<EncodedRgb16, 2> encoded{};
    output->encode(scene.data(), encoded.data(), 2);
}

}  // namespace basefog::fuzz
