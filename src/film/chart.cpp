// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/chart.h"

#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>
#include <vector>

namespace basefog::film {
namespace {

/// Patches this wide or wider are found, in spots. Chosen: of six by six spots the inner four are free of blur.
constexpr double kLeastSide = 6;
/// An even region is a patch if it fills its own rectangle this well and is no longer than this for its width. Chosen.
constexpr double kLeastFill = 0.80, kMostFill = 1.25, kMostAspect = 1.7;
/// Flatness is asked at several levels, as shares of all spots: a chart that fills the frame is even nearly everywhere.
constexpr std::array<double, 5> kFlatShares{0.30, 0.45, 0.60, 0.72, 0.82};
/// Neighbours on the lattice are alike in size within this ratio, and are found this near to where they should be, in pitches. Chosen.
constexpr double kSizeRatio = 1.7, kOffLattice = 0.22;
/// Patches that must be seen as such; the others' places follow. Chosen: the dark ones may melt into a dark mount, and dust may split some.
constexpr std::size_t kLeastSeen = 13;
/// Half the part of a patch that is read, in pitches. Chosen: patches fill .85 to .95 of the pitch, blur and slant take some.
constexpr double kReadHalf = 0.24;
constexpr std::size_t kLeastSpots = 8;
/// Correlations over the patches with what they reflect, of densities and of colour differences, for a lattice to be the chart. Chosen: other lattices of even
/// squares stay under .6; a chart under coloured light on odd film over .9.
constexpr double kLeastLikeness = 0.80;
constexpr double kLeastLead = 0.15;  // over the same lattice turned otherwise

struct Region {
    cv::Point2d centre;
    double side = 0;  // of a square as large
};

/// Mean density of each spot's 3 x 3 neighbourhood, channels apart; unusable spots are left out.
cv::Mat smooth_densities(const FrameSamples& f) {
    const auto width = static_cast<int>(f.above_base.width()), height = static_cast<int>(f.above_base.height());
    cv::Mat value(height, width, CV_32FC3, cv::Scalar::all(0)), weight(height, width, CV_32FC1, cv::Scalar(0));
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            const DensityRgbi& d = f.above_base(x, y);
            if (!is_usable(f, x, y)) continue;
            value.at<cv::Vec3f>(y, x) = {static_cast<float>(d.r), static_cast<float>(d.g), static_cast<float>(d.b)};
            weight.at<float>(y, x) = 1;
        }
    cv::blur(value, value, {3, 3});
    cv::blur(weight, weight, {3, 3});
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            const float w = weight.at<float>(y, x);
            if (w > 0.3F) value.at<cv::Vec3f>(y, x) *= 1 / w;
        }
    return value;
}

/// How much the densities change about each spot, all channels together.
cv::Mat unevenness(const cv::Mat& density) {
    cv::Mat most, least;
    const cv::Mat square = cv::getStructuringElement(cv::MORPH_RECT, {3, 3});
    cv::dilate(density, most, square);
    cv::erode(density, least, square);
    cv::Mat range = most - least, sum;
    cv::transform(range, sum, cv::Matx13f(1, 1, 1));
    return sum;
}

std::vector<Region> even_regions(const cv::Mat& uneven, double share) {
    std::vector<float> sorted(uneven.begin<float>(), uneven.end<float>());
    const auto at = sorted.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(sorted.size() - 1));
    std::nth_element(sorted.begin(), at, sorted.end());
    const cv::Mat flat = uneven <= *at;
    cv::Mat labels;
    const int n = cv::connectedComponents(flat, labels, 4, CV_32S);
    struct Sums {
        double n = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
    };
    std::vector<Sums> sums(static_cast<std::size_t>(n));
    for (int y = 0; y < labels.rows; ++y)
        for (int x = 0; x < labels.cols; ++x) {
            Sums& s = sums[static_cast<std::size_t>(labels.at<int>(y, x))];
            s.n += 1, s.x += x, s.y += y, s.xx += x * x, s.xy += x * y, s.yy += y * y;
        }
    std::vector<Region> out;
    const double most = uneven.rows * uneven.cols / 20.0;
    for (std::size_t i = 1; i < sums.size(); ++i) {
        const Sums& s = sums[i];
        if (s.n < kLeastSide * kLeastSide || s.n > most) continue;
        const double x = s.x / s.n, y = s.y / s.n, xx = s.xx / s.n - x * x, yy = s.yy / s.n - y * y, xy = s.xy / s.n - x * y;
        const double determinant = xx * yy - xy * xy, mean = 0.5 * (xx + yy), spread = std::sqrt(std::max(mean * mean - determinant, 0.0));
        if (!(determinant > 0) || !(mean - spread > 0)) continue;
        const double fill = s.n / (12 * std::sqrt(determinant));  // 1 for a rectangle, less with holes and tails
        if (fill < kLeastFill || fill > kMostFill || std::sqrt((mean + spread) / (mean - spread)) > kMostAspect) continue;
        out.push_back({{x, y}, std::sqrt(s.n)});
    }
    return out;
}

using Cell = std::pair<int, int>;  // column, row
using Lattice = std::map<Cell, std::size_t>;

/// Region nearest to a point, if near enough and alike in size.
std::optional<std::size_t> region_at(const std::vector<Region>& regions, cv::Point2d p, double pitch, double side) {
    std::optional<std::size_t> best;
    double least = kOffLattice * pitch;
    for (std::size_t i = 0; i < regions.size(); ++i) {
        const double ratio = regions[i].side / side, off = cv::norm(regions[i].centre - p);
        if (ratio > kSizeRatio || ratio < 1 / kSizeRatio || off >= least) continue;
        least = off, best = i;
    }
    return best;
}

/// Grows a lattice from a region and its neighbour to one side, each step seen from the last.
Lattice grow(const std::vector<Region>& regions, std::size_t first, std::size_t second) {
    constexpr int kMostSteps = 8;
    const cv::Point2d u0 = regions[second].centre - regions[first].centre;
    struct Node {
        Cell cell;
        cv::Point2d u, v;
    };
    Lattice lattice{{{0, 0}, first}};
    std::vector<Node> open{{{0, 0}, u0, {-u0.y, u0.x}}};
    std::vector<char> used(regions.size(), 0);
    used[first] = 1;
    while (!open.empty()) {
        const Node node = open.front();
        open.erase(open.begin());
        const Region& here = regions[lattice.at(node.cell)];
        for (int side = 0; side < 4; ++side) {
            const bool along = side < 2;
            const double sign = side % 2 == 0 ? 1 : -1;
            const Cell next{node.cell.first + (along ? static_cast<int>(sign) : 0), node.cell.second + (along ? 0 : static_cast<int>(sign))};
            if (lattice.contains(next) || std::abs(next.first) > kMostSteps || std::abs(next.second) > kMostSteps) continue;
            const cv::Point2d step = (along ? node.u : node.v) * sign;
            const auto found = region_at(regions, here.centre + step, cv::norm(step), here.side);
            if (!found || used[*found]) continue;
            used[*found] = 1;
            lattice[next] = *found;
            const cv::Point2d seen = (regions[*found].centre - here.centre) * sign;
            open.push_back({next, along ? seen : node.u, along ? node.v : seen});
        }
    }
    return lattice;
}

/// From chart coordinates (columns 0 to 5, rows 0 to 3) to the frame's; and what was seen of it.
struct Placed {
    cv::Matx33d to_frame;
    std::size_t seen = 0;
};

cv::Point2d map_point(const cv::Matx33d& h, double x, double y) {
    const cv::Vec3d p = h * cv::Vec3d(x, y, 1);
    return {p[0] / p[2], p[1] / p[2]};
}

/// The chart's six by four cells on a lattice from (`column`, `row`) on, by the cells seen; `upright` false for a chart lying on its side.
std::optional<Placed> place(const Lattice& lattice, const std::vector<Region>& regions, int column, int row, bool upright) {
    const int across = static_cast<int>(upright ? kChartColumns : kChartRows), down = static_cast<int>(upright ? kChartRows : kChartColumns);
    std::vector<cv::Point2d> from, to;
    for (const auto& [cell, region] : lattice) {
        const int i = cell.first - column, j = cell.second - row;
        if (i < 0 || j < 0 || i >= across || j >= down) continue;
        from.emplace_back(i, j);
        to.push_back(regions[region].centre);
    }
    if (from.size() < kLeastSeen) return std::nullopt;
    const cv::Mat h = cv::findHomography(from, to, 0);
    if (h.empty()) return std::nullopt;
    return Placed{cv::Matx33d(h), from.size()};
}

std::optional<Triple> read_patch(const FrameSamples& f, const cv::Matx33d& to_frame, double column, double row) {
    std::array<std::vector<double>, 3> v;
    const cv::Point2d middle = map_point(to_frame, column, row);
    const double pitch = std::min(cv::norm(map_point(to_frame, column + 0.5, row) - map_point(to_frame, column - 0.5, row)),
                                  cv::norm(map_point(to_frame, column, row + 0.5) - map_point(to_frame, column, row - 0.5)));
    const cv::Matx33d back = to_frame.inv();
    const auto reach = static_cast<std::int64_t>(std::ceil(pitch));
    for (auto y = static_cast<std::int64_t>(std::lround(middle.y)) - reach; static_cast<double>(y) <= middle.y + static_cast<double>(reach); ++y)
        for (auto x = static_cast<std::int64_t>(std::lround(middle.x)) - reach; static_cast<double>(x) <= middle.x + static_cast<double>(reach); ++x) {
            if (x < 0 || y < 0 || x >= f.above_base.width() || y >= f.above_base.height()) continue;
            const cv::Point2d p = map_point(back, static_cast<double>(x), static_cast<double>(y));
            if (std::abs(p.x - column) > kReadHalf || std::abs(p.y - row) > kReadHalf) continue;
            const DensityRgbi& d = f.above_base(x, y);
            if (!is_usable(f, x, y)) continue;
            v[0].push_back(static_cast<double>(d.r)), v[1].push_back(static_cast<double>(d.g)), v[2].push_back(static_cast<double>(d.b));
        }
    if (v[0].size() < kLeastSpots) return std::nullopt;
    Triple out{};
    for (std::size_t k = 0; k < 3; ++k) {
        const auto at = v[k].begin() + static_cast<std::ptrdiff_t>(v[k].size() / 2);
        std::nth_element(v[k].begin(), at, v[k].end());
        out[k] = *at;
    }
    return out;
}

double correlation(const std::vector<double>& a, const std::vector<double>& b) {
    const double n = static_cast<double>(a.size());
    double ma = 0, mb = 0, aa = 0, bb = 0, ab = 0;
    for (std::size_t i = 0; i < a.size(); ++i) ma += a[i] / n, mb += b[i] / n;
    for (std::size_t i = 0; i < a.size(); ++i) aa += (a[i] - ma) * (a[i] - ma), bb += (b[i] - mb) * (b[i] - mb), ab += (a[i] - ma) * (b[i] - mb);
    return aa > 0 && bb > 0 ? ab / std::sqrt(aa * bb) : 0;
}

/// How far the densities go with what the patches reflect: the least of three correlations, of density, of red - green, of blue - green.
double likeness(const ChartReading& c) {
    std::array<std::vector<double>, 3> seen, known;
    for (std::size_t i = 0; i < kPatches; ++i) {
        if (!c.density[i]) continue;
        const Triple& d = *c.density[i];
        Triple h;
        for (std::size_t k = 0; k < 3; ++k) h[k] = std::log10(std::max(chart_light()[i][k], 0.01));
        seen[0].push_back(d[0] + d[1] + d[2]), known[0].push_back(h[0] + h[1] + h[2]);
        seen[1].push_back(d[0] - d[1]), known[1].push_back(h[0] - h[1]);
        seen[2].push_back(d[2] - d[1]), known[2].push_back(h[2] - h[1]);
    }
    if (seen[0].size() < kPatches - 4) return -1;
    return std::min({correlation(seen[0], known[0]), correlation(seen[1], known[1]), correlation(seen[2], known[2])});
}

/// Chart cell (column, row) on the lattice's own grid, for each way the chart can lie.
std::array<double, 2> turned(int way, double column, double row) {
    constexpr double w = kChartColumns - 1, h = kChartRows - 1;
    switch (way) {
        case 0:
            return {column, row};
        case 1:
            return {w - column, h - row};
        case 2:
            return {h - row, column};  // a quarter turn clockwise
        default:
            return {row, w - column};
    }
}

struct Candidate {
    ChartReading reading;
    double like = -1, second = -1;
};

/// The chart on a placed lattice, the way round that fits best.
Candidate read_placed(const FrameSamples& f, const Placed& placed, bool upright) {
    Candidate best;
    for (int way = upright ? 0 : 2; way < (upright ? 2 : 4); ++way) {
        ChartReading c;
        for (std::size_t i = 0; i < kPatches; ++i) {
            const auto [x, y] = turned(way, static_cast<double>(i % kChartColumns), static_cast<double>(i / kChartColumns));
            const cv::Point2d middle = map_point(placed.to_frame, x, y);
            c.density[i] = read_patch(f, placed.to_frame, x, y);
            c.place[i] = {middle.x, middle.y};
        }
        const double like = likeness(c);
        if (like > best.like) {
            best.second = best.like;
            best.like = like;
            best.reading = c;
        } else {
            best.second = std::max(best.second, like);
        }
    }
    return best;
}

/// Windows of a lattice that hold as many patches as any.
void try_lattice(const FrameSamples& f, const Lattice& lattice, const std::vector<Region>& regions, Candidate& best) {
    int x0 = 0, x1 = 0, y0 = 0, y1 = 0;
    for (const auto& [cell, region] : lattice)
        x0 = std::min(x0, cell.first), x1 = std::max(x1, cell.first), y0 = std::min(y0, cell.second), y1 = std::max(y1, cell.second);
    for (const bool upright : {true, false}) {
        const int across = static_cast<int>(upright ? kChartColumns : kChartRows), down = static_cast<int>(upright ? kChartRows : kChartColumns);
        for (int row = y0 - 1; row + down <= y1 + 2 || row == y0 - 1; ++row)
            for (int column = x0 - 1; column + across <= x1 + 2 || column == x0 - 1; ++column)
                if (const auto placed = place(lattice, regions, column, row, upright)) {
                    const Candidate c = read_placed(f, *placed, upright);
                    if (c.like > best.like) best = c;
                }
    }
}

double linear_from_lab(double t) { return t > 6.0 / 29 ? t * t * t : 3 * (6.0 / 29) * (6.0 / 29) * (t - 4.0 / 29); }  // [CIE15]

}  // namespace

const std::array<Triple, kPatches>& chart_light() {
    static const std::array<Triple, kPatches> light = [] {
        // XYZ under D50 to linear sRGB: inverse of the Bradford-adapted matrix [IEC61966-2-1, ICC.1].
        const cv::Matx33d to_xyz(0.4360413, 0.3851129, 0.1430458, 0.2224845, 0.7169051, 0.0606104, 0.0139202, 0.0970672, 0.7139126);
        const cv::Matx33d from_xyz = to_xyz.inv();
        std::array<Triple, kPatches> out{};
        for (std::size_t i = 0; i < kPatches; ++i) {
            const auto& [l, a, b] = kChartLab[i];
            const double y = (l + 16) / 116;
            const cv::Vec3d xyz(0.9642 * linear_from_lab(y + a / 500), linear_from_lab(y), 0.8249 * linear_from_lab(y - b / 200));
            const cv::Vec3d rgb = from_xyz * xyz;
            out[i] = {rgb[0], rgb[1], rgb[2]};
        }
        return out;
    }();
    return light;
}

std::optional<ChartReading> read_chart(const FrameSamples& frame) {
    if (frame.above_base.empty()) return std::nullopt;
    const cv::Mat uneven = unevenness(smooth_densities(frame));
    Candidate best;
    for (const double share : kFlatShares) {
        const std::vector<Region> regions = even_regions(uneven, share);
        if (regions.size() < kLeastSeen) continue;
        constexpr double kNearest = 0.9, kFarthest = 2.2;  // pitches in patch sides where neighbours are sought
        std::vector<char> seen(regions.size(), 0);
        for (std::size_t i = 0; i < regions.size(); ++i) {
            if (seen[i]) continue;  // on a lattice that was tried
            std::size_t nearest = i;
            double least = std::numeric_limits<double>::infinity();
            for (std::size_t j = 0; j < regions.size(); ++j) {
                const double off = cv::norm(regions[j].centre - regions[i].centre), ratio = regions[j].side / regions[i].side;
                if (j == i || ratio > kSizeRatio || ratio < 1 / kSizeRatio || off < kNearest * regions[i].side || off > kFarthest * regions[i].side) continue;
                if (off < least) least = off, nearest = j;
            }
            if (nearest == i) continue;
            const Lattice lattice = grow(regions, i, nearest);
            if (lattice.size() < kLeastSeen) continue;
            for (const auto& [cell, region] : lattice) seen[region] = 1;
            try_lattice(frame, lattice, regions, best);
        }
    }
    if (best.like < kLeastLikeness || best.like - best.second < kLeastLead) return std::nullopt;
    return best.reading;
}

}  // namespace basefog::film
