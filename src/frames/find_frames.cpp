// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/find_frames.h"

#include "constants.h"
#include "place.h"
#include "robust.h"
#include "say.h"
#include "scale.h"

#include <algorithm>
#include <cmath>

namespace basefog {

namespace {

using namespace frames;

struct Found {
    std::vector<StripFit> strips;
    std::vector<bool> perforated;
    double px_per_mm = 0;
    ScaleOrigin origin = ScaleOrigin::assumed;
    std::vector<double> film_scale;  ///< measured by perforations, overview pixels per mm
    bool doubtful = false;           ///< strips side by side without perforations: more likely one strip at another scale
    [[nodiscard]] double confidence() const {
        double sum = 0;
        int n = 0;
        for (const StripFit& s : strips) {
            for (const FrameFit& f : s.frames) {
                sum += f.confidence();
                ++n;
            }
        }
        return n > 0 ? sum / n : 0;
    }
};

Found find_at_scale(const Overview& overview, const SheetLight& light, const cv::Mat& shades, int step, double px_per_mm, const FindOptions& options) {
    Found found;
    found.px_per_mm = px_per_mm;
    const std::vector<StripPlace> places = place_strips(find_pieces(shades, px_per_mm / step), shades, step, px_per_mm, options);
    std::vector<std::optional<StripFit>> fits;
    for (const StripPlace& place : places) fits.push_back(fit_strip(overview, light, place, options));
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (!fits[i]) continue;
        if (places[i].rival >= 0) {
            const auto& other = fits[static_cast<std::size_t>(places[i].rival)];
            const bool first = static_cast<int>(i) < places[i].rival;
            if (other && (other->score > fits[i]->score || (other->score == fits[i]->score && !first))) continue;
        }
        const auto holes = find_perforations(overview, light, places[i], 0.8 * kPerforationPitchMm, 1.25 * kPerforationPitchMm);
        found.doubtful = found.doubtful || (places[i].lanes > 1 && !holes);
        if (holes) found.film_scale.push_back(px_per_mm * holes->pitch / kPerforationPitchMm);
        found.strips.push_back(std::move(*fits[i]));
        found.perforated.push_back(holes.has_value());
    }
    return found;
}

FrameBox frame_box(const StripFit& strip, const FrameFit& f, double factor) {
    FrameBox box;
    double u0 = f.u, u1 = f.u + f.width;
    if (f.placed_by_pitch) {
        u0 = std::max(u0, strip.place.u0);
        u1 = std::min(u1, strip.place.u1);
    }
    box.corners = quad_from_mm(strip.pose, u0, f.top, u1, f.top + f.height);
    for (PointPx& p : box.corners) p = p * factor;
    box.kind = f.kind;
    box.confidence = f.confidence();
    box.edge_std = Millimetres(std::max(f.u_std, f.v_std));
    box.placed_by_pitch = f.placed_by_pitch;
    return box;
}

StripBox strip_box(const StripFit& strip, bool perforated, double factor) {
    StripBox box;
    box.corners = strip.place.quad();
    for (PointPx& p : box.corners) p = p * factor;
    box.direction = strip.place.direction();
    box.angle_deg = degrees(strip.pose.angle()) - (box.direction == StripDirection::vertical ? 90 : 0);
    box.perforations_seen = perforated;
    double sum = 0;
    for (const FrameFit& f : strip.frames) {
        box.frames.push_back(frame_box(strip, f, factor));
        sum += box.frames.back().confidence;
    }
    box.confidence = strip.frames.empty() ? 0 : sum / static_cast<double>(strip.frames.size());
    return box;
}

/// Top to bottom (left to right within a row), or left to right for strips that lie vertically.
std::vector<std::size_t> scan_order(const std::vector<StripFit>& strips) {
    std::vector<std::size_t> order(strips.size());
    std::size_t vertical = 0;
    std::vector<PointPx> at;
    for (std::size_t i = 0; i < strips.size(); ++i) {
        order[i] = i;
        vertical += strips[i].place.direction() == StripDirection::vertical ? 1 : 0;
        at.push_back(centre(strips[i].place.quad()) * (1 / strips[i].pose.px_per_mm()));
    }
    const bool across = 2 * vertical > strips.size();
    const auto lane = [&](std::size_t i) { return across ? at[i].x : at[i].y; };
    const auto along = [&](std::size_t i) { return across ? at[i].y : at[i].x; };
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return lane(a) < lane(b); });
    constexpr double kSameLaneMm = 12;  // Chosen: a third of a strip's width
    for (std::size_t first = 0; first < order.size();) {
        std::size_t last = first + 1;
        while (last < order.size() && lane(order[last]) - lane(order[first]) < kSameLaneMm) ++last;
        std::stable_sort(order.begin() + static_cast<std::ptrdiff_t>(first), order.begin() + static_cast<std::ptrdiff_t>(last),
                         [&](std::size_t a, std::size_t b) { return along(a) < along(b); });
        first = last;
    }
    return order;
}

struct Sheet {
    SheetLight light;
    cv::Mat shades;
    int step = 1;
};
Sheet look_at_sheet(const Overview& overview, double px_per_mm, const FindOptions& options) {
    Sheet sheet;
    sheet.step = coarse_step(overview, px_per_mm);
    const CoarseSheet coarse = reduce(overview, sheet.step);
    sheet.light = SheetLight::measure(coarse, static_cast<double>(overview.pixels.width()), static_cast<double>(overview.pixels.height()));
    sheet.shades = shade_map(coarse, sheet.light);
    if (px_per_mm > 0 && film_taken_for_bare(sheet.shades, px_per_mm / sheet.step, options)) {
        sheet.light.deny_bare();
        sheet.shades = shade_map(coarse, sheet.light);
    }
    return sheet;
}

/// With a stated resolution, that; unless the film itself says otherwise.
Found find_all(const Overview& overview, const FindOptions& options, double stated) {
    Found found;
    if (stated > 0) {
        const Sheet sheet = look_at_sheet(overview, stated, options);
        if (!sheet.light.any_light()) return found;
        found = find_at_scale(overview, sheet.light, sheet.shades, sheet.step, stated, options);
        found.origin = ScaleOrigin::file;
        const double measured = found.film_scale.empty() ? stated : median(found.film_scale);
        const bool contradicted = std::abs(measured / stated - 1) > kScaleContradiction;
        constexpr double kPoor = 0.2;  // Chosen: mean confidence at which the stated scale is doubted
        if (!contradicted && !found.doubtful && !found.strips.empty() && found.confidence() > kPoor) return found;
    }
    const Sheet sheet = look_at_sheet(overview, 0, options);
    if (!sheet.light.any_light()) return found;
    const auto scale = scale_from_film(overview, sheet.light, sheet.shades, sheet.step, options);
    if (!scale || (stated > 0 && std::abs(scale->px_per_mm / stated - 1) <= kScaleContradiction)) return found;
    const Sheet again = look_at_sheet(overview, scale->px_per_mm, options);
    Found other = find_at_scale(overview, again.light, again.shades, again.step, scale->px_per_mm, options);
    other.origin = scale->origin;
    if (stated > 0 && (other.strips.empty() || (!found.doubtful && other.confidence() <= found.confidence()))) return found;
    return other;
}

Result<void> check_size(const Overview& overview, double px_per_mm, const FindOptions& options) {
    constexpr double kLeastPx = 24;  // Chosen: a pixel a millimetre across a frame
    const auto w = static_cast<double>(overview.pixels.width()), h = static_cast<double>(overview.pixels.height());
    const double least = px_per_mm > 0 ? std::min(kLeastAcrossMm, options.frame_height.value()) * px_per_mm : kLeastPx;
    if (overview.factor < 1 || std::min(w, h) < std::max(kLeastPx, least)) {
        return fail(ErrorCode::malformed, "the scan is too small to hold a frame of film", {}, "check the resolution the file states");
    }
    return {};
}

}  // namespace

Result<SheetLayout> find_frames(const Overview& overview, const FindOptions& options) {
    if (auto ok = validate(options); !ok) return Failure(ok.error());
    const double factor = overview.factor;
    double stated = overview.scan_resolution ? overview.scan_resolution->value() / factor : 0;
    if (!(stated > 0.5 && stated < 1000)) stated = 0;
    if (auto ok = check_size(overview, stated, options); !ok) return Failure(ok.error());

    const Found found = find_all(overview, options, stated);
    SheetLayout layout;
    layout.scale = PixelsPerMm((found.px_per_mm > 0 ? found.px_per_mm : stated) * factor);
    layout.scale_origin = found.origin;
    for (const std::size_t i : scan_order(found.strips)) layout.strips.push_back(strip_box(found.strips[i], found.perforated[i], factor));
    say_scale(layout, stated * factor, overview.scan_resolution.has_value());
    say_strips(layout);
    return layout;
}

}  // namespace basefog
