// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_strip.h"

#include "support/synthetic_defects.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <cmath>

namespace synthetic {
namespace {

constexpr double kApertureSide = 0.0425;  ///< mm: the square of the same area as a 48 um disc, which granularity is stated for [ISO10505]
constexpr double kFinestGrain = 0.008;    ///< mm: below this, grain no longer averages as the square root of the area
constexpr double kMarkLogH = 0.55;        ///< exposure of latent edge marks; chosen to print at about mid density

double pitch_of(const StripSpec& strip) { return strip.frame_pitch > 0 ? strip.frame_pitch : 8 * strip.perforations.pitch; }

/// The middle of a scene, cut to the frame's proportions: scenes come as 3 : 2.
cv::Mat framed(const cv::Mat& scene, double aspect) {
    constexpr double kSame = 0.05;
    const double has = static_cast<double>(scene.cols) / scene.rows;
    if (std::abs(aspect / has - 1) < kSame) return scene;
    const int w = aspect > has ? scene.cols : std::max(8, static_cast<int>(std::lround(scene.rows * aspect)));
    const int h = aspect > has ? std::max(8, static_cast<int>(std::lround(scene.cols / aspect))) : scene.rows;
    return scene(cv::Rect((scene.cols - w) / 2, (scene.rows - h) / 2, w, h));
}

cv::Mat darkened(const cv::Mat& scene, const DarkEdge& edge, double px_mm, std::uint64_t seed) {
    cv::Mat out = scene.clone();
    for (int row = 0; row < out.rows; ++row) {
        for (int col = 0; col < out.cols; ++col) {
            const double x = (col + 0.5) * px_mm, y = (row + 0.5) * px_mm;
            const double in = edge.side == 0 ? x : edge.side == 1 ? y : edge.side == 2 ? out.cols * px_mm - x : out.rows * px_mm - y;
            const double reach = edge.reach + edge.ragged * rough_noise((edge.side % 2 ? x : y) / 5, 0.5, seed);
            const auto dark = static_cast<float>(inner(reach - in, px_mm));
            auto& light = out.ptr<cv::Vec3f>(row)[col];
            for (int i = 0; i < 3; ++i) light[i] += dark * (static_cast<float>(edge.light) - light[i]);
        }
    }
    return out;
}

}  // namespace

Perforations long_pitch_perforations() { return {}; }
Perforations short_pitch_perforations() { return {4.740, 1.854, 2.794, 2.01, 0.0, true}; }

double strip_length(const StripSpec& spec) {
    const auto n = static_cast<double>(std::max<std::size_t>(spec.frames.size(), 1));
    double moved = 0;
    for (const FrameSpec& frame : spec.frames) moved += frame.advance;
    return (spec.lead + (n - 1) * pitch_of(spec) + moved + spec.frame_width + spec.tail) * (1 - spec.shrinkage);
}

StripPainter::StripPainter(const StripSpec& strip, const SheetSpec& sheet, std::uint64_t seed)
    : strip_(strip),
      sheet_(sheet),
      seed_(seed),
      optics_(strip.stock, sheet.scanner),
      px_mm_(25.4 / sheet.dpi),
      px_mm_x_(px_mm_ / (1 + sheet.stretch)),
      length_(strip_length(strip)),
      film_length_(length_ / (1 - strip.shrinkage)),
      width_(strip.film_width * (1 - strip.shrinkage)) {
    const bool upright = strip.direction == Direction::vertical;
    const double angle = ((upright ? 90 : 0) + strip.tilt_deg) * CV_PI / 180;
    cos_ = std::cos(angle);
    sin_ = std::sin(angle);
    centre_x_ = strip.x + (upright ? width_ : length_) / 2;
    centre_y_ = strip.y + (upright ? length_ : width_) / 2;
    offset_log_h_ = strip.stock.light_offset(strip.light_kelvin);
    if (strip.stock.silver) offset_log_h_ = {0, 0, 0};
    for (std::size_t i = 0; i < 4; ++i) gate_lean_[i] = std::tan(strip.gate.lean_deg[i] * CV_PI / 180);
    tabulate_curves();
    place_frames();
    print_.emplace(strip, pictures_.empty() ? 1 : pictures_.front().number, pitch_of(strip), film_length_, seed_);
    const double grain_side = std::max(px_mm_, kFinestGrain);
    for (int i = 0; i < 3; ++i) grain_[i] = strip.stock.layers[i].granularity / 1000 * kApertureSide / grain_side;
    residue_ = draw_residue(strip.residue, film_length_, strip.film_width, static_cast<int>(strip.frames.size()), mix(seed_, 3));
}

void StripPainter::tabulate_curves() {
    for (int i = 0; i < 3; ++i) {
        const Layer& layer = strip_.stock.layers[i];
        for (double h = kCurveFrom; h <= kCurveTo + kCurveStep; h += kCurveStep) curve_[i].push_back(static_cast<float>(layer.fog + layer.dye(h)));
        clear_dye_[i] = static_cast<float>(layer.fog);
        mark_dye_[i] = static_cast<float>(layer.fog + layer.dye(kMarkLogH));
    }
}

void StripPainter::place_frames() {
    Random random(mix(seed_, 1));
    const double px_per_mm = 1 / px_mm_;
    double advance = strip_.lead;
    int number = 0;
    for (const FrameSpec& frame : strip_.frames) {
        Picture picture;
        number = frame.number > 0 ? frame.number : number + 1;
        picture.number = number;
        picture.scene = frame.scene;
        picture.stops = frame.stops + strip_.rated_over;
        picture.difficulties = frame.difficulties;
        const double jitter = pictures_.empty() && advance == strip_.lead ? 0 : strip_.gap_jitter * random.normal();
        advance += frame.advance;
        picture.s0 = advance + frame.shift + jitter;
        picture.s1 = picture.s0 + strip_.frame_width;
        picture.t0 = (strip_.film_width - strip_.frame_height) / 2 + strip_.frame_shift_across;
        picture.t1 = picture.t0 + strip_.frame_height;
        picture.exposed = frame.scene.kind != SceneKind::blank;
        const int wanted = frame.scene.width > 0 ? frame.scene.width : std::clamp(static_cast<int>(std::lround(strip_.frame_width * px_per_mm)), 120, 1440);
        if (picture.exposed && !frame.skip) {
            picture.light = framed(render_scene(frame.scene, wanted), strip_.frame_width / strip_.frame_height);
            for (const DarkEdge& edge : frame.dark_edges) picture.light = darkened(picture.light, edge, strip_.frame_width / picture.light.cols, random.bits());
        }
        advance += pitch_of(strip_);
        if (!frame.skip) pictures_.push_back(std::move(picture));
    }
}

double StripPainter::bend(double s) const {
    const double u = s / length_;
    return strip_.bow * 4 * u * (1 - u) + strip_.sway * std::sin(2 * CV_PI * u);
}

double StripPainter::bend_slope(double s) const {
    const double u = s / length_;
    return (strip_.bow * 4 * (1 - 2 * u) + strip_.sway * 2 * CV_PI * std::cos(2 * CV_PI * u)) / length_;
}

StripPainter::Place StripPainter::on_film(double x, double y) const {
    const double dx = x - centre_x_, dy = y - centre_y_;
    const double along = dx * cos_ + dy * sin_ + length_ / 2, off = -dx * sin_ + dy * cos_;
    double s = along, t = off + width_ / 2;
    if (strip_.bow != 0 || strip_.sway != 0) {
        // The foot of the normal on the strip's curved axis: the slope is a hundredth or so, so this settles at once.
        for (int i = 0; i < 3; ++i) {
            const double slope = bend_slope(s), stretch = std::sqrt(1 + slope * slope), out = (off - bend(s)) * stretch;
            s = along + out * slope / stretch;
            t = out + width_ / 2;
        }
    }
    if (strip_.turned) {
        s = length_ - s;
        t = width_ - t;
    }
    if (strip_.mirrored) t = width_ - t;
    return {s / (1 - strip_.shrinkage), t / (1 - strip_.shrinkage)};
}

PointMm StripPainter::on_sheet(double s, double t) const {
    const double slope = bend_slope(s), stretch = std::sqrt(1 + slope * slope), out = t - width_ / 2;
    const double ds = s - length_ / 2 - out * slope / stretch, dt = bend(s) + out / stretch;
    return {centre_x_ + ds * cos_ - dt * sin_, centre_y_ + ds * sin_ + dt * cos_};
}

PointMm StripPainter::film_on_sheet(Place p) const {
    double s = p.s * (1 - strip_.shrinkage), t = p.t * (1 - strip_.shrinkage);
    if (strip_.mirrored) t = width_ - t;
    if (strip_.turned) {
        s = length_ - s;
        t = width_ - t;
    }
    return on_sheet(s, t);
}

double StripPainter::holes(Place p) const {
    const Perforations& hole = strip_.perforations;
    const double from_edge = std::min(p.t, strip_.film_width - p.t);
    const double across = std::abs(from_edge - hole.edge_distance - hole.width / 2);
    if (across > hole.width / 2 + px_mm_) return 0;
    const double along = std::abs(p.s - strip_.perforation_phase - hole.pitch * std::round((p.s - strip_.perforation_phase) / hole.pitch));
    if (hole.curved_sides) return inner(hole.height / 2 - along, px_mm_) * inner(hole.width / 2 - std::hypot(along, across), px_mm_);
    const double r = hole.corner_radius;
    const double ox = along - (hole.height / 2 - r), oy = across - (hole.width / 2 - r);
    const double outside = std::hypot(std::max(ox, 0.0), std::max(oy, 0.0)) + std::min(std::max(ox, oy), 0.0) - r;
    return inner(-outside, px_mm_);
}

void StripPainter::paint(std::vector<cv::Mat>& planes, cv::Mat& residue, const cv::Mat& open) {
    constexpr float kInfraredShare = 0.95f;  // carbon absorbs a little less towards infrared
    const Corners all = corners(0, length_, 0, width_);
    double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9;
    for (const auto& [x, y] : all) {
        x0 = std::min(x0, x);
        x1 = std::max(x1, x);
        y0 = std::min(y0, y);
        y1 = std::max(y1, y);
    }
    const double margin = 2 + (std::abs(strip_.bow) + std::abs(strip_.sway)) / px_mm_;
    const int left = std::max(0, static_cast<int>(x0 - margin)), right = std::min(residue.cols, static_cast<int>(x1 + margin) + 1);
    const int top = std::max(0, static_cast<int>(y0 - margin)), bottom = std::min(residue.rows, static_cast<int>(y1 + margin) + 1);
    for (int row = top; row < bottom; ++row) {
        const std::uint64_t row_seed = mix(seed_, 0x93a1, static_cast<std::uint64_t>(row));
        for (int col = left; col < right; ++col) {
            const float visible = open.ptr<float>(row)[col];
            if (visible <= 0) continue;
            const Place p = on_film((col + 0.5) * px_mm_x_, (row + 0.5) * px_mm_);
            double cover = inner(p.s, px_mm_) * inner(film_length_ - p.s, px_mm_) * inner(p.t, px_mm_) * inner(strip_.film_width - p.t, px_mm_);
            if (cover <= 0) continue;
            cover *= 1 - holes(p);
            if (cover <= 0) continue;
            const auto grain_seed = sheet_.noise ? std::optional(mix(row_seed + static_cast<std::uint64_t>(col))) : std::nullopt;
            const std::array<float, 4> t = film(p, grain_seed);
            const float dirt = residue_at(p);
            const auto share = static_cast<float>(cover);
            for (std::size_t i = 0; i < planes.size(); ++i) {
                const float pass = dirt > 0 ? std::pow(10.0f, -dirt * (i == 3 ? kInfraredShare : 1.0f)) : 1.0f;
                planes[i].ptr<float>(row)[col] *= (1 - share) + share * t[i] * pass;
            }
            residue.ptr<float>(row)[col] = std::max(residue.ptr<float>(row)[col], dirt * share * visible);
            film_area_ += share * visible;
            density_sum_ += share * visible * dirt;
            if (dirt > 0.05f) dense_area_ += share * visible;
        }
    }
}

Corners StripPainter::corners(double s0, double s1, double t0, double t1) const {
    Corners out{};
    const std::array<PointMm, 4> mm{on_sheet(s0, t0), on_sheet(s1, t0), on_sheet(s1, t1), on_sheet(s0, t1)};
    for (std::size_t i = 0; i < 4; ++i) out[i] = {mm[i][0] / px_mm_x_, mm[i][1] / px_mm_};
    return out;
}

StripTruth StripPainter::truth() const {
    StripTruth truth;
    truth.roll = strip_.roll;
    truth.stock = strip_.stock.name;
    truth.angle_deg = strip_.tilt_deg;
    truth.base_density = optics_.base_density();
    truth.layer_offset_log_h = offset_log_h_;
    for (int i = 0; i < 3; ++i) {
        truth.gamma[i] = strip_.stock.layers[i].gamma;
        truth.fog[i] = strip_.stock.layers[i].fog;
        truth.toe_log_h[i] = strip_.stock.layers[i].toe_log_h;
    }
    truth.film_corners_px = corners(0, length_, 0, width_);
    double s0 = 0, s1 = length_, t0 = 0, t1 = width_;
    if (sheet_.holder.kind != HolderKind::none) {
        const double across = sheet_.holder.opening > 0 ? sheet_.holder.opening : sheet_.holder.kind == HolderKind::hides_perforations ? 27.0 : 35.6;
        const double along = sheet_.holder.opening_length > 0 ? sheet_.holder.opening_length : length_ + 2 * sheet_.holder.beyond_ends;
        s0 = std::max(s0, -sheet_.holder.beyond_ends);
        s1 = std::min(s1, along - sheet_.holder.beyond_ends);
        t0 = std::max(t0, (strip_.film_width - across) / 2);
        t1 = std::min(t1, (strip_.film_width + across) / 2);
    }
    truth.corners_px = corners(s0, s1, t0, t1);
    for (const Picture& picture : pictures_) truth.frames.push_back(frame_truth(picture));
    if (strip_.turned) std::reverse(truth.frames.begin(), truth.frames.end());
    for (KeyCodeTruth code : print_->codes()) {
        const double outer = strip_.film_width - kCodeNearEdge, inward = strip_.film_width - kCodeFarEdge;
        const std::array<Place, 4> places{Place{code.s0, outer}, Place{code.s1, outer}, Place{code.s1, inward}, Place{code.s0, inward}};
        for (std::size_t i = 0; i < 4; ++i) code.corners_px[i] = {film_on_sheet(places[i])[0] / px_mm_x_, film_on_sheet(places[i])[1] / px_mm_};
        truth.codes.push_back(code);
    }
    truth.difficulties = strip_.difficulties;
    return truth;
}

std::array<StripPainter::Place, 4> StripPainter::gate_corners(const Picture& picture) const {
    const double ms = (picture.s0 + picture.s1) / 2, mt = (picture.t0 + picture.t1) / 2;
    const std::array<double, 4>& k = gate_lean_;
    // An upright side is s = s_side + k (t - mt), a level one t = t_side + k (s - ms).
    const auto meet = [&](double s_side, double upright, double t_side, double level) {
        const double s = (s_side - ms + upright * (t_side - mt)) / (1 - upright * level);
        return Place{ms + s, t_side + level * s};
    };
    return {meet(picture.s0, k[0], picture.t0, k[1]), meet(picture.s1, k[2], picture.t0, k[1]), meet(picture.s1, k[2], picture.t1, k[3]),
            meet(picture.s0, k[0], picture.t1, k[3])};
}

double StripPainter::step_across(Place from, Place to, Place inwards) const {
    constexpr int kPoints = 48;
    constexpr double kOff = 0.15;  // mm: beyond roughness and penumbra
    double sum = 0;
    int used = 0;
    for (int i = 0; i < kPoints; ++i) {
        const double u = (i + 0.5) / kPoints;
        const Place p{from.s + u * (to.s - from.s), from.t + u * (to.t - from.t)};
        if (p.s < kOff || p.s > film_length_ - kOff) continue;
        const auto in = film({p.s + kOff * inwards.s, p.t + kOff * inwards.t}, std::nullopt),
                   out = film({p.s - kOff * inwards.s, p.t - kOff * inwards.t}, std::nullopt);
        const double step = std::log10(out[1] / in[1]);
        sum += step * step;
        ++used;
    }
    return used > 0 ? std::sqrt(sum / used) : 0;
}

Corners StripPainter::as_it_lies(const std::array<Place, 4>& film_corners) const {
    // Read order is that of the scan: turning moves the first corner to the opposite end, mirroring swaps upper and lower.
    std::array<std::size_t, 4> order{0, 1, 2, 3};
    if (strip_.mirrored) order = {3, 2, 1, 0};
    if (strip_.turned) std::rotate(order.begin(), order.begin() + 2, order.end());
    Corners out{};
    for (std::size_t i = 0; i < 4; ++i) {
        const PointMm mm = film_on_sheet(film_corners[order[i]]);
        out[i] = {mm[0] / px_mm_x_, mm[1] / px_mm_};
    }
    return out;
}

/// Moved along the film to where the holder's opening ends, if it lies beyond.
StripPainter::Place StripPainter::within_opening(Place p) const {
    const std::size_t axis = strip_.direction == Direction::horizontal ? 0 : 1;
    const double along = sheet_.holder.opening_length > 0 ? sheet_.holder.opening_length : length_ + 2 * sheet_.holder.beyond_ends;
    const double from = (axis == 0 ? strip_.x : strip_.y) - sheet_.holder.beyond_ends, to = from + along;
    const double at = film_on_sheet(p)[axis], sign = film_on_sheet({p.s + 1, p.t})[axis] > at ? 1 : -1;
    p.s += sign * (std::clamp(at, from, to) - at);  // tilts are small here: one step is exact to a micrometre
    return p;
}

double StripPainter::visible_share(const Picture& picture) const {
    constexpr int kGrid = 40;
    const auto open = sheet_.holder.kind == HolderKind::none ? std::vector<std::array<double, 4>>{{0, 0, sheet_.width, sheet_.height}} : openings(sheet_);
    int seen = 0;
    for (int i = 0; i < kGrid * kGrid; ++i) {
        const Place p{picture.s0 + (i % kGrid + 0.5) / kGrid * (picture.s1 - picture.s0), picture.t0 + (i / kGrid + 0.5) / kGrid * (picture.t1 - picture.t0)};
        if (p.s < 0 || p.s > film_length_) continue;
        const auto [x, y] = film_on_sheet(p);
        if (x < 0 || y < 0 || x > sheet_.width || y > sheet_.height) continue;
        seen += std::any_of(open.begin(), open.end(),
                            [&, px = x, py = y](const auto& o) { return px > o[0] && px < o[0] + o[2] && py > o[1] && py < o[1] + o[3]; });
    }
    return static_cast<double>(seen) / (kGrid * kGrid);
}

/// Is most of it so fogged that no picture is left?
bool StripPainter::under_leader(const Picture& picture) const {
    constexpr double kShare = 0.6, kDenseLogH = 0.8;
    const FoggedLeader& leader = strip_.fogged_leader;
    return leader.log_h > kDenseLogH && leader.until - leader.soft > std::max(0.0, picture.s0) * (1 - kShare) + kShare * picture.s1;
}

FrameTruth StripPainter::frame_truth(const Picture& picture) const {
    FrameTruth truth;
    truth.number = picture.number;
    truth.scene = name(picture.scene);
    truth.stops = picture.stops;
    truth.content = is_picture(picture.scene.kind) ? FrameContent::picture : picture.exposed ? FrameContent::fogged : FrameContent::blank;
    if (under_leader(picture)) truth.content = FrameContent::fogged;
    std::array<Place, 4> gate = gate_corners(picture);
    truth.corners_px = as_it_lies(gate);
    truth.cut_off = picture.s0 < 0 || picture.s1 > film_length_;
    const std::array<double, 4> steps{step_across(gate[0], gate[1], {0, 1}), step_across(gate[1], gate[2], {-1, 0}), step_across(gate[2], gate[3], {0, -1}),
                                      step_across(gate[3], gate[0], {1, 0})};
    truth.edge_step = steps;
    if (strip_.mirrored) truth.edge_step = {steps[2], steps[1], steps[0], steps[3]};
    if (strip_.turned) std::rotate(truth.edge_step.begin(), truth.edge_step.begin() + 2, truth.edge_step.end());
    for (Place& p : gate) p.s = std::clamp(p.s, 0.0, film_length_);
    truth.on_film_px = as_it_lies(gate);
    if (truth.cut_off && sheet_.holder.kind != HolderKind::none && sheet_.holder.beyond_ends < 0) {
        std::transform(gate.begin(), gate.end(), gate.begin(), [&](Place p) { return within_opening(p); });
        truth.in_opening_px = as_it_lies(gate);
    }
    truth.visible_share = visible_share(picture);
    truth.difficulties = picture.difficulties;
    for (const Picture& other : pictures_)
        truth.overlapped |= &other != &picture && picture.exposed && other.exposed && overlap(picture.s0, picture.s1, other.s0, other.s1) > 0;
    return truth;
}

}  // namespace synthetic
