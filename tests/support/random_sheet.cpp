// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/random_sheet.h"

#include "support/synthetic_random.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace synthetic {
namespace {

bool chance(Random& random, double share) { return random.unit() < share; }

double random_dpi(Random& random) {
    const double lot = random.unit();
    return lot < 0.10 ? 150 : lot < 0.35 ? 200 : lot < 0.70 ? 300 : lot < 0.87 ? 400 : lot < 0.96 ? 600 : lot < 0.993 ? 1200 : 4800;
}

Format random_format(Random& random) {
    const double lot = random.unit();
    return lot < 0.66   ? Format::full_frame
           : lot < 0.74 ? Format::half_frame
           : lot < 0.80 ? Format::panoramic
           : lot < 0.86 ? Format::six_by_four_and_a_half
           : lot < 0.94 ? Format::six_by_six
                        : Format::six_by_seven;
}

Scanner random_scanner(Random& random, SheetSpec& spec) {
    Scanner (*const kinds[])() = {lamp_flatbed, diode_flatbed, camera_stand};
    Scanner s = kinds[random.below(3)]();
    s.white = chance(random, 0.1) ? random.between(1.0, 1.1) : random.between(0.6, 0.97);
    s.falloff = random.between(0, 0.06);
    s.flare = random.between(0, 0.004);
    s.blur_px = random.between(0.4, 1.2);
    const double noisy = random.between(1, 4);
    s.read_noise *= noisy;
    s.shot_noise *= noisy;
    if (s.white > 1) spec.difficulties.emplace_back("bare light clipped");
    if (chance(random, 0.15)) {
        s.falloff = random.between(0.08, 0.2);
        spec.difficulties.emplace_back("falloff");
    }
    if (chance(random, 0.15)) {
        s.flare = random.between(0.006, 0.02);
        spec.difficulties.emplace_back("flare");
    }
    return s;
}

void set_file(Random& random, SheetSpec& spec) {
    spec.bits = chance(random, 0.2) ? 8 : 16;
    const double lot = random.unit();
    spec.encoding = spec.bits == 8 ? (lot < 0.7 ? Encoding::srgb : Encoding::gamma22)
                    : lot < 0.5    ? Encoding::linear
                    : lot < 0.8    ? Encoding::srgb
                                   : Encoding::gamma22;
    constexpr const char* kNames[] = {"linear", "gamma", "sRGB"};
    spec.difficulties.emplace_back(kNames[static_cast<int>(spec.encoding)]);
    spec.difficulties.emplace_back(spec.bits == 8 ? "8 bits" : "16 bits");
    spec.infrared = chance(random, 0.3);
    if (spec.infrared) spec.difficulties.emplace_back("infrared");
    if (chance(random, 0.05)) {
        spec.encoding_told = false;
        spec.difficulties.emplace_back("encoding untold");
    }
    const double how = random.unit();
    if (how < 0.07) {
        spec.stated_dpi = 0;
        spec.difficulties.emplace_back("resolution missing");
    } else if (how < 0.14) {
        spec.stated_dpi = spec.dpi * (1 + (chance(random, 0.5) ? 1 : -1) * random.between(0.01, 0.06));
        spec.difficulties.emplace_back("resolution some per cent off");
    } else if (how < 0.20) {
        constexpr std::array kFactors{0.5, 2.0, 0.25};
        spec.stated_dpi = chance(random, 0.5) ? 72 : spec.dpi * kFactors[static_cast<std::size_t>(random.below(3))];
        spec.difficulties.emplace_back("resolution off by a factor");
    }
    if (chance(random, 0.4)) spec.stretch = random.between(-0.002, 0.002);
    if (std::abs(spec.stretch) > 0.001) spec.difficulties.emplace_back("anisotropic scale");
}

void set_holder(Random& random, Format format, SheetSpec& spec) {
    Holder& holder = spec.holder;
    const double lot = random.unit();
    holder.kind = lot < 0.45 ? HolderKind::none : lot < 0.80 && perforated(format) ? HolderKind::hides_perforations : HolderKind::shows_perforations;
    holder.density = random.between(2.4, 3.8);
    holder.beyond_ends = chance(random, 0.75) ? random.between(0.8, 6) : -random.between(0, 0.7);
    if (perforated(format)) {
        holder.opening = holder.kind == HolderKind::hides_perforations ? random.between(25.4, 29.5) : random.between(35.2, 37);
    } else {
        holder.opening = random.between(57.5, 62.5);
    }
    constexpr const char* kNames[] = {"bare glass", "holder hides perforations", "holder shows perforations"};
    spec.difficulties.emplace_back(perforated(format) || holder.kind == HolderKind::none ? kNames[static_cast<int>(holder.kind)] : "holder for roll film");
}

/// How far a strip may lean before the holder would cover its pictures.
double most_tilt(const SheetSpec& spec, const StripSpec& strip, double length) {
    if (spec.holder.kind == HolderKind::none) return std::min(2.5, 2.5 * 60 / length + 0.4);
    const double spare = (spec.holder.opening - strip.frame_height) / 2 - std::abs(strip.frame_shift_across) - std::abs(strip.bow) - 0.15;
    return std::clamp(std::atan2(std::max(0.0, spare), length / 2) * 180 / CV_PI, 0.0, 0.5);
}

/// Lays the strips side by side; `beside` is their spacing's free part.
void lay_out(Random& random, SheetSpec& spec, bool vertical) {
    const bool held = spec.holder.kind != HolderKind::none;
    const bool touching = !held && spec.strips.size() > 1 && chance(random, 0.12);
    if (touching) spec.difficulties.emplace_back("strips touch");
    const double shared_tilt = random.between(-0.5, 0.5), spacing = random.between(4, 14);
    double across = random.between(4, 15), longest = 0;
    for (StripSpec& strip : spec.strips) {
        const double length = strip_length(strip), width = strip.film_width * (1 - strip.shrinkage);
        const double most = most_tilt(spec, strip, length);
        strip.tilt_deg = touching ? shared_tilt : random.between(-most, most);
        if (std::abs(strip.tilt_deg) > 1) strip.difficulties.emplace_back("tilt");
        if (touching) strip.bow = strip.sway = 0;
        const double swing = touching ? 0 : length / 2 * std::sin(std::abs(strip.tilt_deg) * CV_PI / 180) + std::abs(strip.bow);
        const double along = (touching ? 8 : random.between(4, 16)) + std::max(0.0, spec.holder.beyond_ends);
        across += swing;
        strip.direction = vertical ? Direction::vertical : Direction::horizontal;
        strip.x = vertical ? across : along;
        strip.y = vertical ? along : across;
        across += width + swing +
                  (touching ? random.between(0, 0.1)
                   : held   ? spacing + std::max(0.0, spec.holder.opening - width)
                            : random.between(0.5, spacing));
        longest = std::max(longest, along + length + std::max(0.0, spec.holder.beyond_ends));
    }
    const double swing = touching ? longest / 2 * std::sin(std::abs(shared_tilt) * CV_PI / 180) : 0;
    for (StripSpec& strip : spec.strips) (vertical ? strip.x : strip.y) += swing;
    const double end = longest + random.between(4, 16), side = across + swing + random.between(2, 12);
    spec.width = vertical ? side : end;
    spec.height = vertical ? end : side;
}

/// Leaves 1.5 mm of holder around the only strip's opening.
void crop_to_opening(SheetSpec& spec) {
    constexpr double kRim = 1.5;
    StripSpec& strip = spec.strips.front();
    spec.holder.beyond_ends = std::min(spec.holder.beyond_ends, 1.5);
    const bool vertical = strip.direction == Direction::vertical;
    const double along = kRim + std::max(0.0, spec.holder.beyond_ends), across = kRim - (strip.film_width - spec.holder.opening) / 2;
    strip.x = vertical ? across : along;
    strip.y = vertical ? along : across;
    (vertical ? spec.height : spec.width) = strip_length(strip) + 2 * along;
    (vertical ? spec.width : spec.height) = spec.holder.opening + 2 * kRim;
}

/// The scan's edge goes through a strip, along it or across.
void push_outside(Random& random, SheetSpec& spec, bool vertical) {
    if (spec.holder.kind != HolderKind::none || spec.dpi > 1000) return;
    if (chance(random, 0.06)) {
        StripSpec& first = spec.strips.front();
        const double by = random.between(0.15, 0.65) * first.film_width + (vertical ? first.x : first.y);
        for (StripSpec& strip : spec.strips) (vertical ? strip.x : strip.y) -= by;
        (vertical ? spec.width : spec.height) = std::max(25.0, (vertical ? spec.width : spec.height) - by);
        first.difficulties.emplace_back("partly outside");
    } else if (chance(random, 0.06)) {
        (vertical ? spec.height : spec.width) -= random.between(0.05, 0.2) * (vertical ? spec.height : spec.width);
        for (StripSpec& strip : spec.strips) {
            if ((vertical ? strip.y : strip.x) + strip_length(strip) > (vertical ? spec.height : spec.width)) strip.difficulties.emplace_back("partly outside");
        }
    }
}

void scatter_dust(Random& random, SheetSpec& spec) {
    const double lot = random.unit();
    if (lot < 0.2) return;
    spec.dust = lot < 0.85 ? Dust{random.between(0.1, 1.5), random.between(0, 0.15), random.between(0, 3)}
                           : Dust{random.between(2, 8), random.between(0.2, 0.8), random.between(2, 8)};
    if (lot >= 0.85) spec.difficulties.emplace_back("much dust");
}

}  // namespace

SheetSpec random_sheet(std::uint64_t seed) {
    constexpr double kMostPixels = 3e6;  // of film, so that a sheet costs a second or two
    Random random(mix(0x5eed5, seed));
    SheetSpec spec;
    spec.file = "sheet-" + std::to_string(seed) + ".tif";
    spec.seed = seed;
    spec.dpi = random_dpi(random);
    Format format = random_format(random);
    const bool tiny = spec.dpi > 2000;
    if (tiny) format = Format::half_frame;
    spec.scanner = random_scanner(random, spec);
    set_file(random, spec);
    set_holder(random, format, spec);
    if (tiny && spec.holder.kind != HolderKind::hides_perforations) {  // to keep its hundreds of pixels a millimetre few
        spec.difficulties.back() = "holder hides perforations";
        spec.holder.kind = HolderKind::hides_perforations;
        spec.holder.opening = 26.5;
    }
    const bool vertical = chance(random, 0.35);
    spec.difficulties.emplace_back(vertical ? "vertical strips" : "horizontal strips");
    spec.difficulties.push_back(std::to_string(static_cast<int>(spec.dpi)) + " dpi");

    StripPlace place;
    place.holder = spec.holder.kind;
    place.opening = spec.holder.opening;
    place.hidden_end = -spec.holder.beyond_ends;
    const int strips = tiny || spec.dpi > 1000 ? 1 : 1 + random.below(6);
    const int most = perforated(format) ? 8 : 4;
    const int usual = 1 + random.below(format == Format::panoramic ? 4 : most);
    const double px_per_mm = spec.dpi / 25.4;
    double pixels = 0;
    for (int i = 0; i < strips; ++i) {
        place.format = format;
        if (i > 0 && chance(random, 0.04))
            place.format = perforated(format) ? (format == Format::full_frame ? Format::half_frame : Format::full_frame) : Format::six_by_six;
        place.frames = tiny ? 1 : chance(random, 0.6) ? usual : 1 + random.below(usual);
        place.scene_width = std::clamp(36 * px_per_mm, 200.0, 420.0);
        const std::uint64_t strip_seed = mix(0x57219, seed, static_cast<std::uint64_t>(i));
        StripSpec strip = random_strip(place, strip_seed);
        const auto cost = [&] { return strip_length(strip) * strip.film_width * px_per_mm * px_per_mm; };
        while (pixels + cost() > 2 * kMostPixels && place.frames > 1) {
            --place.frames;
            strip = random_strip(place, strip_seed);
        }
        if (tiny) strip.lead = strip.tail = 0.8;
        if (place.format != format) strip.difficulties.emplace_back("other format beside");
        strip.roll = std::string(1, static_cast<char>('A' + i));
        if (i > 0 && pixels + cost() > kMostPixels) break;
        pixels += cost();
        spec.strips.push_back(std::move(strip));
    }
    lay_out(random, spec, vertical);
    if (tiny) crop_to_opening(spec);
    push_outside(random, spec, vertical);
    scatter_dust(random, spec);
    return spec;
}

}  // namespace synthetic
