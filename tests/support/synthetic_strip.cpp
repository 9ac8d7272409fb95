// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_strip.h"

#include "support/synthetic_defects.h"
#include "support/synthetic_random.h"

#include <cmath>

namespace synthetic {
namespace {

constexpr double kLog10Of2 = 0.30102999566398119521;
constexpr double kGrey = 0.18;
constexpr double kApertureSide = 0.0425;  ///< mm: the square of the same area as a 48 um disc, which granularity is stated for [ISO10505]
constexpr double kFinestGrain = 0.008;    ///< mm: below this, grain no longer averages as the square root of the area
constexpr double kMarkLogH = 0.55;        ///< exposure of latent edge marks; chosen to print at about mid density

constexpr double kCurveFrom = -5, kCurveTo = 4, kCurveStep = 0.004;

/// Share of a pixel on the inner side of an edge `distance` mm away.
double inner(double distance, double px_mm) { return std::clamp(distance / px_mm + 0.5, 0.0, 1.0); }

/// Dots of digits and "A", 5 x 7, one row of five bits after another from the top.
constexpr std::array<std::array<std::uint8_t, 7>, 11> kGlyphs{{
    {0x0e, 0x11, 0x11, 0x11, 0x11, 0x11, 0x0e},
    {0x04, 0x0c, 0x04, 0x04, 0x04, 0x04, 0x0e},
    {0x0e, 0x11, 0x01, 0x06, 0x08, 0x10, 0x1f},
    {0x1f, 0x02, 0x04, 0x06, 0x01, 0x11, 0x0e},
    {0x02, 0x06, 0x0a, 0x12, 0x1f, 0x02, 0x02},
    {0x1f, 0x10, 0x1e, 0x01, 0x01, 0x11, 0x0e},
    {0x06, 0x08, 0x10, 0x1e, 0x11, 0x11, 0x0e},
    {0x1f, 0x01, 0x02, 0x04, 0x04, 0x08, 0x08},
    {0x0e, 0x11, 0x11, 0x0e, 0x11, 0x11, 0x0e},
    {0x0e, 0x11, 0x11, 0x0f, 0x01, 0x02, 0x0c},
    {0x0e, 0x11, 0x11, 0x1f, 0x11, 0x11, 0x11},
}};

double pitch_of(const StripSpec& strip) { return strip.frame_pitch > 0 ? strip.frame_pitch : 8 * strip.perforations.pitch; }

}  // namespace

Perforations long_pitch_perforations() { return {}; }
Perforations short_pitch_perforations() { return {4.740, 1.854, 2.794, 2.01, 0.0, true}; }

double strip_length(const StripSpec& spec) {
    const auto n = static_cast<double>(std::max<std::size_t>(spec.frames.size(), 1));
    return (spec.lead + (n - 1) * pitch_of(spec) + spec.frame_width + spec.tail) * (1 - spec.shrinkage);
}

StripPainter::StripPainter(const StripSpec& strip, const SheetSpec& sheet, std::uint64_t seed)
    : strip_(strip),
      sheet_(sheet),
      seed_(seed),
      optics_(strip.stock, sheet.scanner),
      px_mm_(25.4 / sheet.dpi),
      length_(strip_length(strip)),
      width_(strip.film_width * (1 - strip.shrinkage)) {
    const bool upright = strip.direction == Direction::vertical;
    const double angle = ((upright ? 90 : 0) + strip.tilt_deg) * CV_PI / 180;
    cos_ = std::cos(angle);
    sin_ = std::sin(angle);
    centre_x_ = strip.x + (upright ? width_ : length_) / 2;
    centre_y_ = strip.y + (upright ? length_ : width_) / 2;
    offset_log_h_ = strip.stock.light_offset(strip.light_kelvin);
    if (strip.stock.silver) offset_log_h_ = {0, 0, 0};
    tabulate_curves();
    place_frames();
    const double grain_side = std::max(px_mm_, kFinestGrain);
    for (int i = 0; i < 3; ++i) grain_[i] = strip.stock.layers[i].granularity / 1000 * kApertureSide / grain_side;
    residue_ = draw_residue(strip.residue, length_ / (1 - strip.shrinkage), strip.film_width, static_cast<int>(strip.frames.size()), mix(seed_, 3));
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
        const double jitter = pictures_.empty() && advance == strip_.lead ? 0 : strip_.gap_jitter * random.normal();
        picture.s0 = advance + frame.shift + jitter;
        picture.s1 = picture.s0 + strip_.frame_width;
        picture.t0 = (strip_.film_width - strip_.frame_height) / 2 + strip_.frame_shift_across;
        picture.t1 = picture.t0 + strip_.frame_height;
        picture.exposed = frame.scene.kind != SceneKind::blank;
        const int wanted = frame.scene.width > 0 ? frame.scene.width : std::clamp(static_cast<int>(std::lround(strip_.frame_width * px_per_mm)), 120, 1440);
        if (picture.exposed && !frame.skip) picture.light = render_scene(frame.scene, wanted);
        advance += pitch_of(strip_);
        if (!frame.skip) pictures_.push_back(std::move(picture));
    }
}

StripPainter::Place StripPainter::on_film(double x, double y) const {
    const double dx = x - centre_x_, dy = y - centre_y_;
    double s = dx * cos_ + dy * sin_ + length_ / 2;
    double t = -dx * sin_ + dy * cos_ + width_ / 2;
    const double u = s / length_;
    t -= strip_.bow * 4 * u * (1 - u);
    if (strip_.turned) {
        s = length_ - s;
        t = width_ - t;
    }
    if (strip_.mirrored) t = width_ - t;
    return {s / (1 - strip_.shrinkage), t / (1 - strip_.shrinkage)};
}

PointMm StripPainter::on_sheet(double s, double t) const {
    const double u = s / length_;
    const double ds = s - length_ / 2, dt = t + strip_.bow * 4 * u * (1 - u) - width_ / 2;
    return {centre_x_ + ds * cos_ - dt * sin_, centre_y_ + ds * sin_ + dt * cos_};
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

double StripPainter::number_mark(Place p) const {
    constexpr double kDot = 0.20, kTop = 0.30;
    if (p.t < kTop || p.t > kTop + 7 * kDot) return 0;
    const double half_pitch = pitch_of(strip_) / 2;
    const double from_first = p.s - strip_.lead - strip_.frame_width / 2;
    const int halves = static_cast<int>(std::floor(from_first / half_pitch + 0.25));
    const int first = pictures_.empty() ? 1 : pictures_.front().number;
    const int number = first + (halves >= 0 ? halves / 2 : 0);
    if (halves < 0) return 0;
    const std::string text = std::to_string(number);
    const int letters = static_cast<int>(text.size()) + (halves % 2);
    const double x = (from_first - halves * half_pitch) / kDot;
    const int letter = static_cast<int>(std::floor(x / 6));
    const int column = static_cast<int>(std::floor(x)) - 6 * letter, row = static_cast<int>((p.t - kTop) / kDot);
    if (x < 0 || letter >= letters || column >= 5 || row > 6) return 0;
    const auto& glyph = letter < static_cast<int>(text.size()) ? kGlyphs[static_cast<std::size_t>(text[static_cast<std::size_t>(letter)] - '0')] : kGlyphs[10];
    return (glyph[static_cast<std::size_t>(row)] >> (4 - column)) & 1;
}

double StripPainter::bar_mark(Place p) const {
    constexpr double kBar = 0.34, kRun = 304.0, kLength = 58.0;  // bars along the lower edge, once in 64 perforations
    const double from_edge = strip_.film_width - p.t;
    if (from_edge < 0.35 || from_edge > 1.65) return 0;
    const double place = std::fmod(p.s + 40, kRun);
    if (place > kLength) return 0;
    return mix(seed_ ^ 0xba5, static_cast<std::uint64_t>(place / kBar)) & 1;
}

double StripPainter::mark(Place p) const {
    if (strip_.marks == EdgeMarks::none) return 0;
    if (p.t > 2.0 && p.t < strip_.film_width - 2.0) return 0;
    double sum = 0;
    for (int i = 0; i < 4; ++i) {
        const Place q{p.s + px_mm_ * (i % 2 - 0.5) / 2, p.t + px_mm_ * (i / 2 - 0.5) / 2};
        sum += strip_.marks == EdgeMarks::numbers ? number_mark(q) : bar_mark(q);
    }
    return sum / 4;
}

std::array<float, 3> StripPainter::exposed_dye(const std::array<float, 3>& scene, double stops) const {
    std::array<float, 3> dye{};
    for (int i = 0; i < 3; ++i) {
        const Triple& w = strip_.stock.sensitivity[i];
        const double light = std::max(1e-6, w[0] * scene[0] + w[1] * scene[1] + w[2] * scene[2]);
        const double log_h = std::log10(light / kGrey) + stops * kLog10Of2 + offset_log_h_[i];
        const double place = (std::clamp(log_h, kCurveFrom, kCurveTo) - kCurveFrom) / kCurveStep;
        const auto k = static_cast<std::size_t>(place);
        const auto rest = static_cast<float>(place - static_cast<double>(k));
        dye[i] = curve_[i][k] + rest * (curve_[i][k + 1] - curve_[i][k]);
    }
    return dye;
}

std::array<float, 3> StripPainter::picture_dye(const Picture& picture, Place p) const {
    const cv::Mat& image = picture.light;
    const double x = std::clamp((p.s - picture.s0) / (picture.s1 - picture.s0) * image.cols - 0.5, 0.0, image.cols - 1.001);
    const double y = std::clamp((p.t - picture.t0) / (picture.t1 - picture.t0) * image.rows - 0.5, 0.0, image.rows - 1.001);
    const int ix = static_cast<int>(x), iy = static_cast<int>(y);
    const auto u = static_cast<float>(x - ix), v = static_cast<float>(y - iy);
    const auto *top = image.ptr<cv::Vec3f>(iy) + ix, *below = image.ptr<cv::Vec3f>(iy + 1) + ix;
    std::array<float, 3> scene{};
    for (int c = 0; c < 3; ++c) scene[c] = (top[0][c] * (1 - u) + top[1][c] * u) * (1 - v) + (below[0][c] * (1 - u) + below[1][c] * u) * v;
    return exposed_dye(scene, picture.stops);
}

void StripPainter::add_grain(std::array<float, 3>& dye, std::uint64_t seed) const {
    for (int i = 0; i < 3; ++i) {
        if (grain_[i] > 0)
            dye[i] += static_cast<float>(grain_[i] * std::sqrt(std::max(dye[i], 0.01f)) * normal_from(mix(seed + static_cast<std::uint64_t>(i))));
    }
}

float StripPainter::residue_at(Place p) const {
    if (residue_.empty()) return 0;
    const double x = std::clamp(p.s * kResiduePxPerMm - 0.5, 0.0, residue_.cols - 1.001),
                 y = std::clamp(p.t * kResiduePxPerMm - 0.5, 0.0, residue_.rows - 1.001);
    const int ix = static_cast<int>(x), iy = static_cast<int>(y);
    const auto u = static_cast<float>(x - ix), v = static_cast<float>(y - iy);
    const auto *top = residue_.ptr<float>(iy) + ix, *below = residue_.ptr<float>(iy + 1) + ix;
    return (top[0] * (1 - u) + top[1] * u) * (1 - v) + (below[0] * (1 - u) + below[1] * u) * v;
}

std::array<float, 4> StripPainter::film(Place p, std::uint64_t seed) const {
    const Picture* picture = nullptr;
    double covered = 0;
    for (const Picture& candidate : pictures_) {
        if (!candidate.exposed) continue;
        const double c =
            inner(p.s - candidate.s0, px_mm_) * inner(candidate.s1 - p.s, px_mm_) * inner(p.t - candidate.t0, px_mm_) * inner(candidate.t1 - p.t, px_mm_);
        if (c > covered) {
            covered = c;
            picture = &candidate;
        }
    }
    std::array<float, 4> out{};
    const auto add = [&](std::array<float, 3> dye, double share) {
        if (sheet_.noise) add_grain(dye, seed);
        const std::array<float, 4> t = optics_.transmittance(dye);
        for (int i = 0; i < 4; ++i) out[i] += static_cast<float>(share) * t[i];
    };
    if (covered > 0) add(picture_dye(*picture, p), covered);
    if (covered < 1) {
        const double marked = mark(p);
        if (marked > 0) add(mark_dye_, (1 - covered) * marked);
        if (marked < 1) add(clear_dye_, (1 - covered) * (1 - marked));
    }
    return out;
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
    const double margin = 2 + std::abs(strip_.bow) / px_mm_;
    const int left = std::max(0, static_cast<int>(x0 - margin)), right = std::min(residue.cols, static_cast<int>(x1 + margin) + 1);
    const int top = std::max(0, static_cast<int>(y0 - margin)), bottom = std::min(residue.rows, static_cast<int>(y1 + margin) + 1);
    for (int row = top; row < bottom; ++row) {
        const std::uint64_t row_seed = mix(seed_, 0x93a1, static_cast<std::uint64_t>(row));
        for (int col = left; col < right; ++col) {
            const float visible = open.ptr<float>(row)[col];
            if (visible <= 0) continue;
            const Place p = on_film((col + 0.5) * px_mm_, (row + 0.5) * px_mm_);
            double cover =
                inner(p.s, px_mm_) * inner(length_ / (1 - strip_.shrinkage) - p.s, px_mm_) * inner(p.t, px_mm_) * inner(strip_.film_width - p.t, px_mm_);
            if (cover <= 0) continue;
            cover *= 1 - holes(p);
            if (cover <= 0) continue;
            const std::array<float, 4> t = film(p, mix(row_seed + static_cast<std::uint64_t>(col)));
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
    for (std::size_t i = 0; i < 4; ++i) out[i] = {mm[i][0] / px_mm_, mm[i][1] / px_mm_};
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
    const double k = 1 - strip_.shrinkage;
    for (const Picture& picture : pictures_) {
        double a = picture.s0 * k, b = picture.s1 * k, c = picture.t0 * k, d = picture.t1 * k;
        if (strip_.turned) {
            a = length_ - picture.s1 * k;
            b = length_ - picture.s0 * k;
        }
        if (strip_.turned != strip_.mirrored) {
            c = width_ - picture.t1 * k;
            d = width_ - picture.t0 * k;
        }
        truth.frames.push_back({picture.number, name(picture.scene), picture.stops, corners(a, b, c, d)});
    }
    if (strip_.turned) std::reverse(truth.frames.begin(), truth.frames.end());
    return truth;
}

}  // namespace synthetic
