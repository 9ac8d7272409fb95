// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/infrared_density.h"

#include "mend/constants.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace basefog::mending {
namespace {

/// Most that infrared is sharpened, pixels squared: more would amplify its noise. It may be softened by as much in one step.
constexpr double kMostSharpened = 0.6;
constexpr double kLeastSoftened = -0.05;  ///< nearer to 0 it is left as it is

/// Catmull-Rom weights of the four samples about a fraction.
std::array<float, 4> cubic(double t) {
    return {static_cast<float>(0.5 * t * (-1 + t * (2 - t))), static_cast<float>(0.5 * (2 + t * t * (-5 + 3 * t))),
            static_cast<float>(0.5 * t * (1 + t * (4 - 3 * t))), static_cast<float>(0.5 * t * t * (t - 1))};
}

/// A part of the picture and where it lies; `all` is the picture itself. Beyond the picture its edge is repeated.
struct Window {
    PxRect all, part;
    View<const LinearRgbi> pixels;

    [[nodiscard]] float infrared_at(PointPx p) const {
        const double x = p.x - static_cast<double>(all.x0) - 0.5, y = p.y - static_cast<double>(all.y0) - 0.5;
        const double fx = std::floor(x), fy = std::floor(y);
        const auto wx = cubic(x - fx), wy = cubic(y - fy);
        const auto clamped = [](double first, int offset, std::int64_t size) {
            return std::clamp<std::int64_t>(static_cast<std::int64_t>(first) + offset - 1, 0, size - 1);
        };
        float sum = 0;
        for (int j = 0; j < 4; ++j) {
            const LinearRgbi* const row = pixels.row(clamped(fy, j, all.height()) - (part.y0 - all.y0)) - (part.x0 - all.x0);
            float line = 0;
            for (int i = 0; i < 4; ++i) line += wx[static_cast<std::size_t>(i)] * row[clamped(fx, i, all.width())].ir;
            sum += wy[static_cast<std::size_t>(j)] * line;
        }
        return sum;
    }
};

/// Pixels about one that sharpness reaches.
int reach_of(const InfraredMatch& match) {
    if (match.places == 0) return 0;
    if (match.focus > 0) return 1;
    return match.focus < kLeastSoftened ? static_cast<int>(std::ceil(4 * std::sqrt(-match.focus))) + 1 : 0;
}

/// What infrared_at needs for every pixel of a part, and the part itself.
PxRect needed_for(PxRect part, PxRect all, const InfraredMatch& match) {
    PxRect needed = part;
    for (const std::int64_t x : {part.x0, part.x1})
        for (const std::int64_t y : {part.y0, part.y1}) {
            const PointPx p = match.at({static_cast<double>(x), static_cast<double>(y)});
            constexpr double kTaps = 3;
            const auto held = [](double at, std::int64_t low, std::int64_t high) {
                return std::clamp(static_cast<std::int64_t>(std::floor(std::clamp(at, -1e9, 1e9))), low, high);
            };
            needed.x0 = std::min(needed.x0, held(p.x - kTaps, all.x0, all.x1 - 1));
            needed.y0 = std::min(needed.y0, held(p.y - kTaps, all.y0, all.y1 - 1));
            needed.x1 = std::max(needed.x1, held(p.x + kTaps, all.x0, all.x1 - 1) + 1);
            needed.y1 = std::max(needed.y1, held(p.y + kTaps, all.y0, all.y1 - 1) + 1);
        }
    return needed;
}

/// Infrared light where the colours are, then as sharp as they are; right but for `reach_of` pixels at the borders of the part.
cv::Mat matched_infrared(const Window& window, PxRect part, const InfraredMatch& match) {
    cv::Mat plane(static_cast<int>(part.height()), static_cast<int>(part.width()), CV_32F);
    for (int y = 0; y < plane.rows; ++y) {
        auto* const out = plane.ptr<float>(y);
        for (int x = 0; x < plane.cols; ++x)
            out[x] = window.infrared_at(match.at({static_cast<double>(part.x0) + x + 0.5, static_cast<double>(part.y0) + y + 0.5}));
    }
    if (match.places == 0) return plane;
    if (match.focus > 0) {
        cv::Mat curvature;
        cv::Laplacian(plane, curvature, CV_32F, 1);
        plane -= std::min(match.focus, kMostSharpened) / 2 * curvature;
    } else if (match.focus < kLeastSoftened) {
        cv::GaussianBlur(plane, plane, cv::Size(), std::sqrt(-match.focus));
    }
    return plane;
}

float median(std::vector<float>& values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace

PxRect on_scan(const cv::Rect& part, PxRect all) { return {all.x0 + part.x, all.y0 + part.y, all.x0 + part.x + part.width, all.y0 + part.y + part.height}; }

namespace {

/// Of one tile.
Result<cv::Mat> neutral_density(const PixelSource& source, const Tiles& tiles, const cv::Rect& tile, const MendFacts& facts) {
    const InfraredModel& model = *facts.infrared;
    const cv::Rect around = tiles.grown(tile, reach_of(model.match));
    const PxRect all = source.rect(), part = on_scan(around, all), needed = needed_for(part, all, model.match);
    Image<LinearRgbi> pixels(needed.width(), needed.height());
    if (auto read = source.read(needed, pixels.view()); !read) return Failure(std::move(read.error()));
    cv::Mat plane = matched_infrared({all, needed, pixels.view()}, part, model.match)(tile - around.tl()).clone();
    const auto& k = model.leak;
    const double scale = model.carbon_gain / std::max(0.5, 1 - k[0] - k[1] - k[2]);
    const double zero = facts.base_infrared.value() - k[0] * facts.base.r.value() - k[1] * facts.base.g.value() - k[2] * facts.base.b.value();
    const PxRect own = on_scan(tile, all);
    for (int y = 0; y < plane.rows; ++y) {
        auto* const out = plane.ptr<float>(y);
        const LinearRgbi* const in = pixels.row(own.y0 + y - needed.y0) + (own.x0 - needed.x0);
        for (int x = 0; x < plane.cols; ++x) {
            const PointPx here{static_cast<double>(own.x0) + x + 0.5, static_cast<double>(own.y0) + y + 0.5};
            const DensityRgbi d = facts.light.density({in[x].r, in[x].g, in[x].b, out[x]}, here);
            const double above =
                static_cast<double>(d.ir) - k[0] * static_cast<double>(d.r) - k[1] * static_cast<double>(d.g) - k[2] * static_cast<double>(d.b) - zero;
            out[x] = static_cast<float>(scale * above - facts.veil.value());
        }
    }
    return plane;
}

/// Where a pixel lies between the centres of blocks: the first of the two, and the second's share.
struct Between {
    int first = 0;
    float share = 0;
};
Between between(int pixel, int pixels, int blocks) {
    const double scale = static_cast<double>(blocks) / pixels;
    const auto at = static_cast<float>((pixel + 0.5) * scale - 0.5);
    const int first = static_cast<int>(std::floor(at));
    if (first < 0) return {0, 0};
    if (first >= blocks - 1) return {blocks - 1, 0};
    return {first, at - static_cast<float>(first)};
}

}  // namespace

Result<NeutralDensity> NeutralDensity::make(const PixelSource& source, const Tiles& tiles, const MendFacts& facts, const MendMeans& means) {
    auto plane = Plane<float>::make(means.scratch, {tiles.width, tiles.height});
    if (!plane) return Failure(std::move(plane.error()));
    NeutralDensity made(std::move(*plane));
    const auto tile_of = [&](int, const cv::Rect& tile) -> Result<void> {
        const auto density = neutral_density(source, tiles, tile, facts);
        if (!density) return Failure(density.error());
        return made.plane_.put(tile, *density);
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, kSmoothReach), tile_of); !done) return Failure(std::move(done.error()));
    return made;
}

Result<void> NeutralDensity::level(double block_px, const MendMeans& means) {
    const cv::Size size = plane_.size();
    const int across = std::max(1, static_cast<int>(std::lround(size.width / block_px))),
              down = std::max(1, static_cast<int>(std::lround(size.height / block_px)));
    cv::Mat blocks(down, across, CV_32F);
    const auto block = [&](std::int64_t index) -> Result<void> {
        const int i = static_cast<int>(index % across), j = static_cast<int>(index / across);
        std::vector<float> values;
        cv::Mat row;
        const cv::Rect box(static_cast<int>(std::int64_t{i} * size.width / across), static_cast<int>(std::int64_t{j} * size.height / down),
                           std::max(1, size.width / across), std::max(1, size.height / down));
        const int step = std::max(1, box.width / 32);
        for (int y = box.y; y < box.y + box.height; y += step) {
            if (auto got = plane_.get({box.x, y, box.width, 1}, row); !got) return got;
            for (int x = 0; x < box.width; x += step) values.push_back(row.at<float>(0, x));
        }
        blocks.at<float>(j, i) = median(values);
        return {};
    };
    if (auto done = means.for_each(std::int64_t{across} * down, means.for_each.at_once, block); !done) return done;
    blocks_ = blocks;
    return {};
}

Result<void> NeutralDensity::get(const cv::Rect& part, cv::Mat& values) const {
    if (auto got = plane_.get(part, values); !got || blocks_.empty()) return got;
    const cv::Size size = plane_.size();
    for (int y = 0; y < part.height; ++y) {
        const Between row = between(part.y + y, size.height, blocks_.rows);
        const auto* const upper = blocks_.ptr<float>(row.first);
        const auto* const lower = blocks_.ptr<float>(std::min(row.first + 1, blocks_.rows - 1));
        auto* const out = values.ptr<float>(y);
        for (int x = 0; x < part.width; ++x) {
            const Between column = between(part.x + x, size.width, blocks_.cols);
            const int second = std::min(column.first + 1, blocks_.cols - 1);
            const float above = upper[column.first] * (1 - column.share) + upper[second] * column.share;
            const float below = lower[column.first] * (1 - column.share) + lower[second] * column.share;
            out[x] -= above * (1 - row.share) + below * row.share;
        }
    }
    return {};
}

Result<float> pixel_noise(const NeutralDensity& density, const Tiles& tiles, const MendMeans& means) {
    std::vector<std::vector<float>> differences(static_cast<std::size_t>(tiles.count()));
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        constexpr int kApart = 2, kEveryRow = 2, kEveryColumn = 5;
        const cv::Rect around = tiles.grown(tile, kSmoothReach + kApart);
        cv::Mat smooth;
        if (auto got = density.get(around, smooth); !got) return got;
        smoothed(smooth, smooth);
        for (int y = tile.y + tile.y % kEveryRow; y < tile.y + tile.height; y += kEveryRow) {
            const auto* const row = smooth.ptr<float>(y - around.y) - around.x;
            for (int x = (tile.x + kEveryColumn - 1) / kEveryColumn * kEveryColumn; x < tile.x + tile.width && x + kApart < tiles.width; x += kEveryColumn)
                differences[static_cast<std::size_t>(index)].push_back(std::abs(row[x] - row[x + kApart]));
        }
        return {};
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, kSmoothReach), tile_of); !done) return Failure(std::move(done.error()));
    std::vector<float> all;
    for (std::vector<float>& some : differences) {
        all.insert(all.end(), some.begin(), some.end());
        some = {};
    }
    constexpr float kLeastNoise = 0.0005F, kSigmaPerMedian = 1.4826F / 1.41421356F;
    return all.empty() ? kLeastNoise : std::max(kLeastNoise, kSigmaPerMedian * median(all));
}

void smoothed(const cv::Mat& density, cv::Mat& smooth) { cv::GaussianBlur(density, smooth, cv::Size(), kSmoothPx); }

}  // namespace basefog::mending
