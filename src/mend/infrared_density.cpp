// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/infrared_density.h"

#include "basefog/core/wide.h"
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

constexpr int kTaps = 4;

/// Catmull-Rom weights of the four samples about a fraction.
BASEFOG_INLINE std::array<float, kTaps> cubic(double t) {
    return {static_cast<float>(0.5 * t * (-1 + t * (2 - t))), static_cast<float>(0.5 * (2 + t * t * (-5 + 3 * t))),
            static_cast<float>(0.5 * t * (1 + t * (4 - 3 * t))), static_cast<float>(0.5 * t * t * (t - 1))};
}

/// Infrared of a part of the picture. `all` is the picture itself; beyond it its edge is repeated.
class Window {
public:
    Window(PxRect all, PxRect part, View<const LinearRgbi> pixels) : all_(all), part_(part), light_(pixels.width(), pixels.height()) {
        for (std::int64_t y = 0; y < pixels.height(); ++y) {
            const LinearRgbi* const in = pixels.row(y);
            float* const out = light_.row(y);
            for (std::int64_t x = 0; x < pixels.width(); ++x) out[x] = in[x].ir;
        }
    }
    /// `n` pixels of a row whose first one's centre is met at `first` of the picture, `step` from one to the next.
    void row(PointPx first, PointPx step, float* out, std::int64_t n) const {
        for (std::int64_t done = 0; done < n; done += kBlock) {
            const PointPx from{first.x + double(done) * step.x, first.y + double(done) * step.y};
            block(from, step, out + done, static_cast<int>(std::min<std::int64_t>(kBlock, n - done)));
        }
    }

private:
    static constexpr int kBlock = 256;
    /// Where pixels fall, and how much the samples about them weigh.
    struct Places {
        std::array<std::int32_t, kBlock> x, y;  ///< the second of the taps, from the picture's corner on
        float wx[kTaps][kBlock], wy[kTaps][kBlock];
    };
    static void find(PointPx first, PointPx step, int n, Places& places);
    void block(PointPx first, PointPx step, float* out, int n) const;
    [[nodiscard]] float at(const Places& places, int i) const;
    [[nodiscard]] const float* line(std::int64_t y) const { return light_.view().row(y - (part_.y0 - all_.y0)) - (part_.x0 - all_.x0); }

    PxRect all_, part_;
    Image<float> light_;
};

BASEFOG_WIDE void Window::find(PointPx first, PointPx step, int n, Places& places) {
    constexpr double kOutside = 1e6;  // positions beyond are as good as there
    for (int i = 0; i < n; ++i) {
        const double x = first.x + double(i) * step.x - 0.5, y = first.y + double(i) * step.y - 0.5;
        const double hx = x > -kOutside ? (x < kOutside ? x : kOutside) : -kOutside, hy = y > -kOutside ? (y < kOutside ? y : kOutside) : -kOutside;
        const auto ix = static_cast<std::int32_t>(hx), iy = static_cast<std::int32_t>(hy);  // towards zero
        const std::int32_t fx = ix - static_cast<std::int32_t>(static_cast<double>(ix) > hx), fy = iy - static_cast<std::int32_t>(static_cast<double>(iy) > hy);
        const auto wx = cubic(hx - static_cast<double>(fx)), wy = cubic(hy - static_cast<double>(fy));
        places.x[static_cast<std::size_t>(i)] = fx;
        places.y[static_cast<std::size_t>(i)] = fy;
        for (std::size_t t = 0; t < kTaps; ++t) {
            places.wx[t][i] = wx[t];
            places.wy[t][i] = wy[t];
        }
    }
}

float Window::at(const Places& places, int i) const {
    float sum = 0;
    for (int t = 0; t < kTaps; ++t) {
        const float* const row = line(std::clamp<std::int64_t>(places.y[static_cast<std::size_t>(i)] + t - 1, 0, all_.height() - 1));
        float across = 0;
        for (int s = 0; s < kTaps; ++s)
            across += places.wx[s][i] * row[std::clamp<std::int64_t>(places.x[static_cast<std::size_t>(i)] + s - 1, 0, all_.width() - 1)];
        sum += places.wy[t][i] * across;
    }
    return sum;
}

/// Neighbours that are met at neighbours of one row are done together: nearly always all of the block, as the two pictures lie nearly alike.
BASEFOG_WIDE void Window::block(PointPx first, PointPx step, float* __restrict out, int n) const {
    Places places;
    find(first, step, n, places);
    for (int begin = 0, end = 0; begin < n; begin = end) {
        const std::int64_t x = places.x[static_cast<std::size_t>(begin)], y = places.y[static_cast<std::size_t>(begin)];
        for (end = begin + 1; end < n && places.x[static_cast<std::size_t>(end)] == x + end - begin && places.y[static_cast<std::size_t>(end)] == y;) ++end;
        if (x < 1 || x + (end - begin) + 2 > all_.width() || y < 1 || y + 3 > all_.height()) {
            for (int i = begin; i < end; ++i) out[i] = at(places, i);
            continue;
        }
        const float* const a = line(y - 1) + x - begin;
        const float* const b = line(y) + x - begin;
        const float* const c = line(y + 1) + x - begin;
        const float* const d = line(y + 2) + x - begin;
        const auto across = [&](const float* row, int i) {
            return places.wx[0][i] * row[i - 1] + places.wx[1][i] * row[i] + places.wx[2][i] * row[i + 1] + places.wx[3][i] * row[i + 2];
        };
        for (int i = begin; i < end; ++i)
            out[i] = places.wy[0][i] * across(a, i) + places.wy[1][i] * across(b, i) + places.wy[2][i] * across(c, i) + places.wy[3][i] * across(d, i);
    }
}

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
            constexpr double kFarthest = 3;
            const auto held = [](double at, std::int64_t low, std::int64_t high) {
                return std::clamp(static_cast<std::int64_t>(std::floor(std::clamp(at, -1e9, 1e9))), low, high);
            };
            needed.x0 = std::min(needed.x0, held(p.x - kFarthest, all.x0, all.x1 - 1));
            needed.y0 = std::min(needed.y0, held(p.y - kFarthest, all.y0, all.y1 - 1));
            needed.x1 = std::max(needed.x1, held(p.x + kFarthest, all.x0, all.x1 - 1) + 1);
            needed.y1 = std::max(needed.y1, held(p.y + kFarthest, all.y0, all.y1 - 1) + 1);
        }
    return needed;
}

/// Infrared light where the colours are, then as sharp as they are; right but for `reach_of` pixels at the borders of the part.
cv::Mat matched_infrared(const Window& window, PxRect all, PxRect part, const InfraredMatch& match) {
    cv::Mat plane(static_cast<int>(part.height()), static_cast<int>(part.width()), CV_32F);
    const PointPx corner{static_cast<double>(all.x0), static_cast<double>(all.y0)};
    for (int y = 0; y < plane.rows; ++y) {
        const PointPx first{static_cast<double>(part.x0) + 0.5, static_cast<double>(part.y0) + y + 0.5};
        const PointPx met = match.at(first), next = match.at({first.x + 1, first.y});
        window.row(met - corner, next - met, plane.ptr<float>(y), plane.cols);
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

/// out = w0 out + w1 r + w2 g + w3 b + w4.
BASEFOG_WIDE void weigh(float* out, const float* r, const float* g, const float* b, const std::array<float, 5>& weights, int n) {
    const float w0 = weights[0], w1 = weights[1], w2 = weights[2], w3 = weights[3], w4 = weights[4];
    for (int i = 0; i < n; ++i) out[i] = w0 * out[i] + (w1 * r[i] + w2 * g[i] + w3 * b[i] + w4);
}

/// Of one tile.
Result<cv::Mat> neutral_density(const PixelSource& source, const Tiles& tiles, const cv::Rect& tile, const MendFacts& facts) {
    const InfraredModel& model = *facts.infrared;
    const cv::Rect around = tiles.grown(tile, reach_of(model.match));
    const PxRect all = source.rect(), part = on_scan(around, all), needed = needed_for(part, all, model.match);
    Image<LinearRgbi> pixels(needed.width(), needed.height());
    if (auto read = source.read(needed, pixels.view()); !read) return Failure(std::move(read.error()));
    cv::Mat plane = matched_infrared({all, needed, pixels.view()}, all, part, model.match)(tile - around.tl()).clone();
    const auto& k = model.leak;
    const double scale = model.carbon_gain / std::max(0.5, 1 - k[0] - k[1] - k[2]);
    const double zero = facts.base_infrared.value() - k[0] * facts.base.r.value() - k[1] * facts.base.g.value() - k[2] * facts.base.b.value();
    const std::array<float, 5> sums{static_cast<float>(scale), static_cast<float>(-scale * k[0]), static_cast<float>(-scale * k[1]),
                                    static_cast<float>(-scale * k[2]), static_cast<float>(-scale * zero - facts.veil.value())};
    const PxRect own = on_scan(tile, all);
    const auto n = static_cast<std::size_t>(plane.cols);
    std::array<std::vector<float>, 3> colours;
    for (std::vector<float>& colour : colours) colour.resize(n);
    for (int y = 0; y < plane.rows; ++y) {
        auto* const out = plane.ptr<float>(y);
        const LinearRgbi* const in = pixels.row(own.y0 + y - needed.y0) + (own.x0 - needed.x0);
        for (std::size_t x = 0; x < n; ++x) {
            colours[0][x] = in[x].r;
            colours[1][x] = in[x].g;
            colours[2][x] = in[x].b;
        }
        const PointPx first{static_cast<double>(own.x0) + 0.5, static_cast<double>(own.y0) + y + 0.5};
        for (std::size_t c = 0; c < 3; ++c) facts.light.density_row(c, colours[c].data(), plane.cols, first, {1, 0});
        facts.light.density_row(3, out, plane.cols, first, {1, 0});
        weigh(out, colours[0].data(), colours[1].data(), colours[2].data(), sums, plane.cols);
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
    std::vector<Between> columns;
    for (int x = 0; x < part.width; ++x) columns.push_back(between(part.x + x, size.width, blocks_.cols));
    std::vector<float> upper(columns.size()), lower(columns.size());
    for (int y = 0; y < part.height; ++y) {
        const Between row = between(part.y + y, size.height, blocks_.rows);
        if (y == 0 || row.first != between(part.y + y - 1, size.height, blocks_.rows).first) {
            const auto* const above = blocks_.ptr<float>(row.first);
            const auto* const below = blocks_.ptr<float>(std::min(row.first + 1, blocks_.rows - 1));
            for (std::size_t x = 0; x < columns.size(); ++x) {
                const Between& column = columns[x];
                const int second = std::min(column.first + 1, blocks_.cols - 1);
                upper[x] = above[column.first] * (1 - column.share) + above[second] * column.share;
                lower[x] = below[column.first] * (1 - column.share) + below[second] * column.share;
            }
        }
        auto* const out = values.ptr<float>(y);
        for (std::size_t x = 0; x < columns.size(); ++x) out[x] -= upper[x] * (1 - row.share) + lower[x] * row.share;
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
