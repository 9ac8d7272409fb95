// SPDX-License-Identifier: GPL-3.0-or-later
#include "constants.h"
#include "light.h"

#include "basefog/frames/find_frames.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

namespace basefog {

namespace {

using namespace frames;

/// Distance from a convex quad's nearest side, pixels; positive inside.
class InnerDistance {
public:
    InnerDistance(const Quad& quad, double scale) {
        double area = 0;
        for (int i = 0; i < 4; ++i) {
            const PointPx a = quad[i] * scale, b = quad[(i + 1) % 4] * scale;
            area += a.x * b.y - b.x * a.y;
            const double length = std::max(1e-9, distance(a, b));
            // Left of a -> b is inside for positive area (y down, reading order).
            sides_[i] = {-(b.y - a.y) / length, (b.x - a.x) / length, 0};
            sides_[i][2] = -(sides_[i][0] * a.x + sides_[i][1] * a.y);
        }
        if (area >= 0) return;
        for (auto& side : sides_) {
            for (double& k : side) k = -k;
        }
    }
    [[nodiscard]] double operator()(double x, double y) const {
        double least = std::numeric_limits<double>::infinity();
        for (const auto& s : sides_) least = std::min(least, s[0] * x + s[1] * y + s[2]);
        return least;
    }

private:
    std::array<std::array<double, 3>, 4> sides_{};
};

/// The film's outline where its long sides bow between its corners: places are moved back onto the straight outline.
class FilmOutline {
public:
    FilmOutline(const StripBox& strip, double scale, double px_per_mm) : straight_(strip.corners, scale) {
        const PointPx from = (strip.corners[0] + strip.corners[3]) * (0.5 * scale), to = (strip.corners[1] + strip.corners[2]) * (0.5 * scale);
        const double length = distance(from, to);
        bow_px_ = strip.film_edges_seen ? strip.bow.value.value() * px_per_mm : 0;
        if (length < 1) return;
        from_ = from;
        along_ = (to - from) * (1 / (length * length));
        across_ = PointPx{-(to - from).y, (to - from).x} * (1 / length);
        // Towards the read picture's lower edge, however the strip was turned or mirrored.
        const PointPx down = strip.corners[3] - strip.corners[0];
        if (down.x * across_.x + down.y * across_.y < 0) across_ = across_ * -1;
    }
    [[nodiscard]] double operator()(double x, double y) const {
        if (bow_px_ == 0) return straight_(x, y);
        const double t = (x - from_.x) * along_.x + (y - from_.y) * along_.y, off = 4 * bow_px_ * t * (1 - t);
        return straight_(x - off * across_.x, y - off * across_.y);
    }
    /// Pixels by which it may reach beyond its corners' box.
    [[nodiscard]] double beyond() const { return std::abs(bow_px_); }

private:
    InnerDistance straight_;
    PointPx from_, along_, across_;
    double bow_px_ = 0;
};

struct Masks {
    cv::Mat bare, dark;  ///< CV_8U, 255 where the pixel is so
};

/// Light levels compared straight, as a logarithm per pixel would cost more than everything else.
Masks light_masks(const Overview& overview, const SheetLight& light) {
    constexpr std::int64_t kRun = 32;  // pixels over which falloff does not change
    const std::int64_t w = overview.pixels.width(), h = overview.pixels.height();
    Masks masks{cv::Mat(static_cast<int>(h), static_cast<int>(w), CV_8U, cv::Scalar(0)),
                cv::Mat(static_cast<int>(h), static_cast<int>(w), CV_8U, cv::Scalar(0))};
    const double bare_share = std::pow(10, -light.bare_density()), dark_share = std::pow(10, -light.dark_density());
    for (std::int64_t y = 0; y < h; ++y) {
        const LinearRgbi* in = overview.pixels.row(y);
        auto* bare = masks.bare.ptr<unsigned char>(static_cast<int>(y));
        auto* dark = masks.dark.ptr<unsigned char>(static_cast<int>(y));
        for (std::int64_t first = 0; first < w; first += kRun) {
            const std::array<double, 3> level = light.bare_log(static_cast<double>(first) + kRun / 2.0, static_cast<double>(y) + 0.5);
            std::array<float, 3> bright{}, dim{};
            for (int c = 0; c < 3; ++c) {
                bright[c] = static_cast<float>(std::pow(10, level[c]) * bare_share);
                dim[c] = static_cast<float>(std::pow(10, level[c]) * dark_share);
            }
            for (std::int64_t x = first; x < std::min(w, first + kRun); ++x) {
                const std::array<float, 3> p = clean_light(in[x]);
                bare[x] = light.bare_seen() && p[0] > bright[0] && p[1] > bright[1] && p[2] > bright[2] ? 255 : 0;
                dark[x] = p[0] <= dim[0] && p[1] <= dim[1] && p[2] <= dim[2] ? 255 : 0;
            }
        }
    }
    // Single noisy pixels follow their neighbours.
    for (cv::Mat* mask : {&masks.bare, &masks.dark}) {
        cv::blur(*mask, *mask, {3, 3});
        cv::threshold(*mask, *mask, 127, 255, cv::THRESH_BINARY);
    }
    return masks;
}

struct FrameShape {
    InnerDistance inside;
    FrameKind kind;
};

/// What a pixel inside a strip's outline is, apart from bare light.
Region film_region(const std::vector<FrameShape>& frames, double x, double y, double margin) {
    Region region = Region::clear_film;
    for (const FrameShape& f : frames) {
        const double d = f.inside(x, y);
        if (d <= -margin) continue;
        if (d < margin) return Region::unsure;
        region = f.kind == FrameKind::fogged ? Region::fogged : Region::picture;
        break;
    }
    return region;
}

}  // namespace

RegionMap label_regions(const Overview& overview, const SheetLayout& layout, const FindOptions& options) {
    const std::int64_t w = overview.pixels.width(), h = overview.pixels.height();
    RegionMap map{Image<Region>(w, h, Region::unsure), Image<std::int16_t>(w, h, std::int16_t{-1})};
    if (map.labels.empty()) return map;
    static_cast<void>(options);
    const double factor = std::max(1, overview.factor), scale = 1 / factor;
    const SheetLight light = measure_light(overview, layout.scale.value() / factor);
    if (!light.any_light()) return map;
    const double margin = std::max(kRegionMarginPx, kRegionMarginMm * layout.scale.value() / factor);
    const int reach = static_cast<int>(std::ceil(margin));
    const Masks masks = light_masks(overview, light);
    const cv::Mat disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1});
    cv::Mat bare_core, bare_near, dark_core, dark_near;
    cv::erode(masks.bare, bare_core, disc);
    cv::dilate(masks.bare, bare_near, disc);
    cv::erode(masks.dark, dark_core, disc);
    cv::dilate(masks.dark, dark_near, disc);

    for (std::int64_t y = 0; y < h; ++y) {
        const auto* bare = bare_core.ptr<unsigned char>(static_cast<int>(y));
        const auto* dark = dark_core.ptr<unsigned char>(static_cast<int>(y));
        Region* out = map.labels.row(y);
        for (std::int64_t x = 0; x < w; ++x) out[x] = bare[x] != 0 ? Region::bare_light : dark[x] != 0 ? Region::holder : Region::unsure;
    }
    for (std::size_t s = 0; s < layout.strips.size(); ++s) {
        const StripBox& strip = layout.strips[s];
        const FilmOutline film(strip, scale, layout.scale.value() / factor);
        std::vector<FrameShape> shapes;
        for (const FrameBox& f : strip.frames) {
            if (f.kind != FrameKind::blank) shapes.push_back({InnerDistance(f.corners, scale), f.kind});
        }
        Quad quad = strip.corners;
        for (PointPx& p : quad) p = p * scale;
        const PxRect box = intersection(bounds(quad, film.beyond()), {0, 0, w, h});
        for (std::int64_t y = box.y0; y < box.y1; ++y) {
            const auto* bare = masks.bare.ptr<unsigned char>(static_cast<int>(y));
            const auto* near_bare = bare_near.ptr<unsigned char>(static_cast<int>(y));
            const auto* near_dark = dark_near.ptr<unsigned char>(static_cast<int>(y));
            for (std::int64_t x = box.x0; x < box.x1; ++x) {
                const double px = static_cast<double>(x) + 0.5, py = static_cast<double>(y) + 0.5, in = film(px, py);
                if (in <= 0) continue;
                Region& region = map.labels(x, y);
                const Region shown = in < margin ? Region::unsure : film_region(shapes, px, py, margin);
                const bool frame = shown == Region::picture || shown == Region::fogged;
                if (region == Region::bare_light && !frame) continue;
                // Within a frame everything is its own, however dark or light; on clear film holes and opaque things are not.
                region = frame || (near_bare[x] == 0 && near_dark[x] == 0) ? shown : Region::unsure;
                if (frame || bare[x] == 0) map.strip(x, y) = static_cast<std::int16_t>(s);
            }
        }
    }
    return map;
}

}  // namespace basefog
