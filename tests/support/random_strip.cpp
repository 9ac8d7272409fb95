// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/random_sheet.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace synthetic {
namespace {

constexpr int kCostlyWidth = 170;  ///< pixels of the scenes that take rays to compute: enough to look like a picture

bool chance(Random& random, double share) { return random.unit() < share; }
double either_way(Random& random, double size) { return random.between(-size, size); }

FilmStock random_stock(Random& random, std::vector<std::string>& difficulties) {
    if (chance(random, 0.15)) {
        FilmStock stock = black_and_white_400();
        difficulties.emplace_back("black-and-white");
        if (chance(random, 0.5)) {  // a support without grey dye: the rebate is nearly as bright as no film
            stock.support = {{}, 0.03, 0.03};
            stock.layers[0].fog = 0.02;
            difficulties.emplace_back("bright rebate");
        }
        return stock;
    }
    FilmStock (*const kinds[])() = {daylight_50, daylight_250, tungsten_200, tungsten_500};
    FilmStock stock = kinds[random.below(4)]();
    if (chance(random, 0.75)) stock = cross_processed(stock);
    if (chance(random, 0.4)) {
        Ageing ageing;
        const double how = random.between(0.2, 2.5);
        for (std::size_t i = 0; i < 3; ++i) {
            ageing.fog[i] *= how;
            ageing.speed_loss[i] *= how;
        }
        ageing.granularity_factor = 1 + 0.3 * how;
        stock = aged(stock, ageing);
        if (how > 1.3) difficulties.emplace_back("heavy fog");
    }
    return stock;
}

SceneSpec random_scene(Random& random, FrameSpec& frame, double scene_width) {
    constexpr std::array kOutdoors{SceneKind::hills,  SceneKind::coast,  SceneKind::meadow,     SceneKind::forest, SceneKind::snow,
                                   SceneKind::dusk,   SceneKind::room,   SceneKind::still_life, SceneKind::crates, SceneKind::portrait,
                                   SceneKind::houses, SceneKind::stairs, SceneKind::blocks};
    SceneSpec scene;
    scene.seed = 1 + random.bits() % 1000000;
    scene.width = static_cast<int>(scene_width);
    const double lot = random.unit();
    if (lot < 0.05) {
        scene.kind = SceneKind::blank;
        frame.difficulties.emplace_back("blank frame");
    } else if (lot < 0.07) {
        scene.kind = SceneKind::fogged;
        frame.difficulties.emplace_back("fogged frame");
    } else if (lot < 0.14) {
        scene.kind = chance(random, 0.8) ? SceneKind::night : SceneKind::street;
        if (scene.kind == SceneKind::street) scene.width = kCostlyWidth;
        frame.difficulties.emplace_back("dark scene");
    } else if (lot < 0.19) {
        scene.kind = SceneKind::high_key;
        frame.difficulties.emplace_back("high key");
    } else if (lot < 0.22) {
        scene.kind = SceneKind::chart;
    } else if (lot < 0.50) {
        scene.kind = SceneKind::texture;
    } else if (lot < 0.78) {
        scene.kind = SceneKind::shapes;
    } else {
        scene.width = kCostlyWidth;
        scene.kind = kOutdoors[static_cast<std::size_t>(random.below(static_cast<int>(kOutdoors.size())))];
    }
    return scene;
}

void darken_edges(Random& random, FrameSpec& frame) {
    if (chance(random, 0.10)) {
        frame.dark_edges.push_back({random.below(4), random.between(3, 11), random.between(0, 3), std::pow(10.0, random.between(-3.5, -2.3))});
        frame.difficulties.emplace_back("black edge");
    }
    if (chance(random, 0.06)) {
        frame.dark_edges.push_back({random.below(4), random.between(0.3, 2.5), 0, std::pow(10.0, random.between(-3.5, -2.5))});
        frame.difficulties.emplace_back("black bar on edge");
    }
}

/// `alone`: on a strip so short that nothing but the frame itself tells where it is; then it must show.
FrameSpec random_frame(Random& random, double scene_width, bool alone) {
    FrameSpec frame;
    frame.scene = random_scene(random, frame, scene_width);
    frame.stops = random.between(alone ? 0 : -1.2, 2.2);
    if (is_picture(frame.scene.kind) && chance(random, 0.06) && !alone) {
        frame.stops = random.between(-3, -1.2);
        frame.difficulties.emplace_back("underexposed");
    }
    if (is_picture(frame.scene.kind)) darken_edges(random, frame);
    return frame;
}

/// The camera: its gate, and how it winds.
void set_camera(Random& random, Format format, StripSpec& strip) {
    constexpr std::array<double, 6> kAlong{36.0, 18.0, 65.0, 41.5, 56.0, 69.5}, kAcross{24.0, 24.0, 24.0, 56.0, 56.0, 56.0};
    const auto f = static_cast<std::size_t>(format);
    strip.frame_width = kAlong[f] + either_way(random, 0.3);
    strip.frame_height = kAcross[f] + either_way(random, 0.25);
    strip.frame_shift_across = either_way(random, 0.35);
    const double pitch = strip.perforations.pitch;
    switch (format) {
        case Format::full_frame:
            strip.frame_pitch = chance(random, 0.75) ? 8 * pitch : random.between(37.3, 39.2);
            break;
        case Format::half_frame:
            strip.frame_pitch = 4 * pitch;
            break;
        case Format::panoramic:
            strip.frame_pitch = (14 + random.below(3)) * pitch;
            break;
        default:
            strip.frame_pitch = strip.frame_width + random.between(2.0, 7.0);
    }
    strip.gap_jitter = random.between(0.02, 0.2);
    if (chance(random, 0.10)) {
        strip.gap_jitter = std::min(random.between(0.25, 0.6), 0.3 * (strip.frame_pitch - strip.frame_width));
        strip.difficulties.emplace_back("uneven advance");
    }
    for (double& lean : strip.gate.lean_deg) lean = 0.05 * random.normal();
    strip.gate.soft = random.between(0, 0.04);
    if (chance(random, 0.25)) {
        strip.gate.rough = random.between(0.02, 0.06);
        strip.difficulties.emplace_back("rough gate");
    }
}

/// Gaps that closed, and frames wound on too little.
void close_gaps(Random& random, StripSpec& strip) {
    const double gap = strip.frame_pitch - strip.frame_width;
    if (strip.frames.size() < 2) return;
    const std::size_t k = 1 + static_cast<std::size_t>(random.below(static_cast<int>(strip.frames.size()) - 1));
    FrameSpec& frame = strip.frames[k];
    const double lot = random.unit();
    if (lot < 0.05) {
        frame.advance = -gap + random.between(0, 0.25);
        for (const std::size_t i : {k - 1, k}) strip.frames[i].difficulties.emplace_back("zero gap");
    } else if (lot < 0.10) {
        frame.advance = -gap - random.between(0.2, std::min(8.0, 0.3 * strip.frame_width));
        for (const std::size_t i : {k - 1, k}) strip.frames[i].difficulties.emplace_back("overlap");
    } else if (lot < 0.15) {
        frame.advance = random.between(1, 12);
        frame.difficulties.emplace_back("wide gap");
    }
}

void cut(Random& random, const StripPlace& place, StripSpec& strip) {
    const double gap = strip.frame_pitch - strip.frame_width;
    const double least = 0.25 + std::max(0.0, place.hidden_end);
    const auto in_gap = [&] { return std::max(least, random.between(0.15, 0.85) * gap); };
    strip.lead = in_gap();
    strip.tail = in_gap();
    if (chance(random, 0.12)) {
        strip.lead = random.between(3, 35);
        strip.difficulties.emplace_back("long lead");
    }
    if (chance(random, 0.10)) strip.tail = random.between(3, 30);
    if (strip.frames.size() > 1 && chance(random, 0.06)) {
        strip.lead = -random.between(0.05, 0.9) * strip.frame_width;
        strip.frames.front().difficulties.emplace_back("cut off");
    }
    if (strip.frames.size() > 1 && chance(random, 0.06)) {
        strip.tail = -random.between(0.05, 0.9) * strip.frame_width;
        strip.frames.back().difficulties.emplace_back("cut off");
    }
}

void let_light_in(Random& random, StripSpec& strip) {
    const double length = strip_length(strip);
    if (chance(random, 0.08)) {
        strip.difficulties.emplace_back("light leak");
        for (int i = 1 + random.below(3); i > 0; --i) {
            Leak leak;
            leak.s = random.unit() * length;
            leak.log_h = random.between(-0.6, 0.9);
            leak.colour = {1.5, 1.0, random.between(0.3, 0.8)};
            if (chance(random, 0.5)) {  // a seal that gave way: a band from edge to edge
                leak.half_s = random.between(0.6, 5);
            } else {  // from one edge inwards
                leak.t = chance(random, 0.5) ? 0 : strip.film_width;
                leak.half_s = random.between(1.5, 14);
                leak.half_t = random.between(2, 9);
            }
            strip.leaks.push_back(leak);
        }
    }
    if (chance(random, 0.06)) {
        strip.fogged_leader = {random.between(2, std::min(60.0, 0.7 * length)), random.between(0.4, 4), random.between(0.9, 2.2)};
        if (strip.fogged_leader.until > strip.lead + 0.5 * strip.frame_width) strip.frames.front().difficulties.emplace_back("under fogged leader");
        strip.difficulties.emplace_back("fogged leader");
    }
}

void soil(Random& random, StripSpec& strip) {
    if (!chance(random, 0.35)) return;
    strip.residue.density = random.between(0.1, 0.6);
    if (chance(random, 0.6)) strip.residue.veil = random.between(0.003, 0.04);
    if (chance(random, 0.5)) {
        strip.residue.edge_smears = random.between(0.2, 1);
        if (strip.residue.edge_smears > 0.4) strip.difficulties.emplace_back("residue on edge");
    }
    strip.residue.spots_per_frame = random.between(0, 14);
    strip.residue.streaks = random.between(0, 4);
    strip.difficulties.emplace_back("residue");
}

void lay(Random& random, const StripPlace& place, StripSpec& strip) {
    const double length = strip_length(strip), loose = place.holder == HolderKind::none ? 1.0 : 0.3;
    if (chance(random, 0.5)) {
        // The same curvature whatever the length: 0.6 mm over six frames; wider film bends less in its plane.
        const double most = loose * 0.6 * std::min(1.0, length * length / (228.0 * 228.0)) * (perforated(place.format) ? 1.0 : 0.4);
        strip.bow = either_way(random, most);
        if (chance(random, 0.3)) strip.sway = either_way(random, 0.2 * most);
        if (std::abs(strip.bow) > 0.15) strip.difficulties.emplace_back("bow");
    }
    strip.turned = chance(random, 0.25);
    strip.mirrored = chance(random, 0.10);
    if (strip.turned) strip.difficulties.emplace_back("turned");
    if (strip.mirrored) strip.difficulties.emplace_back("mirrored");
}

void set_marks(Random& random, StripSpec& strip, bool code_allowed) {
    const double lot = random.unit();
    strip.marks = lot < 0.25 ? EdgeMarks::none : lot < 0.6 || !code_allowed ? EdgeMarks::numbers : EdgeMarks::code;
    strip.key.prefix = 100000 + random.below(900000);
    strip.key.first_foot = random.below(10000);
    strip.key.spacing = chance(random, 0.5) ? 64 : 32;
    strip.key.first_s = random.between(-20, 120);
    strip.key.module = random.between(0.18, 0.21);
}

}  // namespace

std::string name(Format format) {
    constexpr const char* kNames[] = {"full frame", "half frame", "panoramic", "6 x 4.5", "6 x 6", "6 x 7"};
    return kNames[static_cast<int>(format)];
}

bool perforated(Format format) { return format <= Format::panoramic; }

StripSpec random_strip(const StripPlace& place, std::uint64_t seed) {
    Random random(seed);
    StripSpec strip;
    strip.difficulties.push_back(name(place.format));
    strip.stock = random_stock(random, strip.difficulties);
    strip.light_kelvin = chance(random, 0.2) ? 3200 : 5500;
    strip.rated_over = random.between(0, 2);
    if (perforated(place.format)) {
        const bool short_pitch = chance(random, 0.6);
        strip.perforations = short_pitch ? short_pitch_perforations() : long_pitch_perforations();
        strip.perforation_phase = random.between(0, strip.perforations.pitch);
        strip.difficulties.emplace_back(short_pitch ? "short pitch" : "long pitch");
    } else {
        strip.film_width = 61.5;
        strip.perforations.width = strip.perforations.corner_radius = 0;
    }
    strip.shrinkage = chance(random, 0.15) ? random.between(0.002, 0.006) : random.between(0, 0.001);
    if (strip.shrinkage > 0.002) strip.difficulties.emplace_back("shrunk");
    set_camera(random, place.format, strip);
    int number = 1 + random.below(30);
    for (int i = 0; i < place.frames; ++i) strip.frames.push_back(random_frame(random, place.scene_width * strip.frame_width / 36, place.frames < 3));
    strip.frames.front().number = number;
    close_gaps(random, strip);
    cut(random, place, strip);
    let_light_in(random, strip);
    soil(random, strip);
    lay(random, place, strip);
    set_marks(random, strip, perforated(place.format));
    return strip;
}

}  // namespace synthetic
