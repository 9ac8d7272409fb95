// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/drawn_sheet.h"

#include "basefog/core/result.h"
#include "basefog/density/measure_density.h"
#include "basefog/frames/find_frames.h"
#include "basefog/residue/measure_residue.h"
#include "support/synthetic_random.h"

#include <opencv2/imgproc.hpp>

#include <array>
#include <cmath>
#include <stdexcept>

namespace drawn_sheet {

using namespace synthetic;

namespace {

FilmStock stock(Random& random, int kind) {
    FilmStock (*const kinds[])() = {daylight_50, daylight_250, tungsten_200, tungsten_500};
    FilmStock out = kinds[kind]();
    if (random.unit() < 0.75) out = cross_processed(out);
    if (random.unit() < 0.4) out = aged(out);
    return out;
}

/// How dirty a grade may be. Areas follow from the numbers; the truth says which grade came of it.
Residue backing(Random& random, int grade) {
    Residue r;
    if (grade == 0) return r;
    r.density = random.between(0.2, 0.5);
    if (grade == 1) {
        r.edge_smears = random.between(0.05, 0.22);
        r.spots_per_frame = random.between(0.5, 3);
        r.streaks = random.unit() < 0.3 ? 1 : 0;
    } else if (grade == 2) {
        r.veil = random.unit() < 0.5 ? random.between(0.011, 0.022) : 0;
        r.edge_smears = random.between(0.35, 0.55);
        r.spots_per_frame = random.between(2, 8);
        r.streaks = random.between(0, 2);
    } else {
        r.veil = random.unit() < 0.6 ? random.between(0.015, 0.06) : 0;
        r.edge_smears = random.between(0.75, 1);
        r.spots_per_frame = random.between(6, 16);
        r.streaks = random.between(1, 6);
    }
    return r;
}

SceneSpec scene(Random& random, double dpi) {
    constexpr std::array kKinds{SceneKind::texture, SceneKind::texture, SceneKind::shapes, SceneKind::shapes, SceneKind::hills, SceneKind::coast,
                                SceneKind::meadow,  SceneKind::houses,  SceneKind::blocks, SceneKind::night};
    SceneSpec s;
    s.kind = kKinds[static_cast<std::size_t>(random.below(static_cast<int>(kKinds.size())))];
    s.seed = 1 + random.bits() % 1000000;
    const bool costly = s.kind != SceneKind::texture && s.kind != SceneKind::shapes && s.kind != SceneKind::night;
    s.width = costly ? 200 : static_cast<int>(36 * dpi / 25.4);
    return s;
}

}  // namespace

SheetSpec dirty_sheet(std::uint64_t seed, bool infrared, int frames, double dpi) {
    Random random(seed * 2 + 1);
    SheetSpec sheet;
    sheet.seed = seed;
    sheet.dpi = dpi;
    sheet.infrared = infrared;
    Scanner (*const scanners[])() = {lamp_flatbed, diode_flatbed, camera_stand};
    sheet.scanner = scanners[random.below(3)]();
    sheet.scanner.infrared_shift_x_px = random.between(-1, 1);
    sheet.scanner.infrared_shift_y_px = random.between(-1, 1);
    sheet.scanner.infrared_blur_px = random.between(0, 0.6);
    sheet.holder.kind = HolderKind::hides_perforations;
    sheet.dust = {random.between(0.1, 0.5), random.between(0.02, 0.08), random.between(0, 3)};
    std::array<int, 4> grades{0, 1, 2, 3};
    for (int i = 3; i > 0; --i) std::swap(grades[static_cast<std::size_t>(i)], grades[static_cast<std::size_t>(random.below(i + 1))]);
    const bool one_stock = random.unit() < 0.8;  // a sheet is mostly one person's roll or two
    const FilmStock shared = stock(random, static_cast<int>(seed % 4));
    for (int i = 0; i < 4; ++i) {
        StripSpec strip;
        strip.roll = std::string(1, static_cast<char>('A' + i));
        const FilmStock own = stock(random, i);
        strip.stock = one_stock ? shared : own;
        strip.rated_over = random.between(0, 1.5);
        strip.marks = random.unit() < 0.5 ? EdgeMarks::numbers : EdgeMarks::code;
        strip.x = 12;
        strip.y = 8 + 42.0 * i;
        strip.tilt_deg = random.between(-0.3, 0.3);
        for (int f = 0; f < frames; ++f) {
            FrameSpec frame;
            frame.scene = scene(random, dpi);
            frame.number = f + 1;
            frame.stops = random.between(-0.7, 1);
            strip.frames.push_back(frame);
        }
        strip.residue = backing(random, grades[static_cast<std::size_t>(i)]);
        sheet.strips.push_back(strip);
    }
    sheet.width = strip_length(sheet.strips[0]) + 26;
    sheet.height = 8 + 42.0 * 4;
    return sheet;
}

namespace {

template <class T>
T must(basefog::Result<T> result) {
    if (!result) throw std::runtime_error(basefog::describe(result.error()));
    return std::move(*result);
}

basefog::Overview overview_of(const Sheet& sheet, const SheetSpec& spec, int factor) {
    basefog::Overview o;
    o.factor = factor;
    o.scan_width = sheet.light.cols;
    o.scan_height = sheet.light.rows;
    o.scan_resolution = basefog::px_per_mm_from_dpi(spec.dpi);
    o.has_infrared = spec.infrared;
    cv::Mat small = sheet.light(cv::Rect(0, 0, sheet.light.cols / factor * factor, sheet.light.rows / factor * factor));
    if (factor > 1) cv::resize(small.clone(), small, {}, 1.0 / factor, 1.0 / factor, cv::INTER_AREA);
    o.pixels = basefog::Image<basefog::LinearRgbi>(small.cols, small.rows);
    const int channels = small.channels();
    for (int y = 0; y < small.rows; ++y) {
        const auto* in = small.ptr<float>(y);
        for (int x = 0; x < small.cols; ++x, in += channels) o.pixels(x, y) = {in[0], in[1], in[2], channels > 3 ? in[3] : 0.0F};
    }
    return o;
}

}  // namespace

Measured measure(const SheetSpec& spec, int factor) {
    Measured m;
    m.sheet = draw_sheet(spec);
    m.overview = overview_of(m.sheet, spec, factor);
    m.layout = must(basefog::find_frames(m.overview, {}));
    m.regions = basefog::label_regions(m.overview, m.layout, {});
    m.density = must(basefog::measure_density(m.overview, m.layout, m.regions, {}));
    basefog::ResidueOptions options;
    // Only what a ledger would say: strips of one stock are named alike.
    for (std::size_t i = 0; i < m.layout.strips.size() && i < spec.strips.size(); ++i) options.stock_of_strip.push_back(spec.strips[i].stock.name);
    m.residue = must(basefog::measure_residue(m.overview, m.layout, m.regions, m.density, options));
    return m;
}

}  // namespace drawn_sheet
