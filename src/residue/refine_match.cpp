// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/residue/refine_match.h"

#include "residue/place_fit.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <vector>

namespace basefog {

using namespace residue;

namespace {

/// A picture is searched in squares of this side, and the most telling places of each are kept. Chosen: some hundreds for a frame at 3200 dpi.
constexpr std::int64_t kSquare = 512;
constexpr std::size_t kPerSquare = 3, kMost = 200;
constexpr int kRounds = 12;
/// Squared deviation, in a place's own variances, from which on it counts a quarter. Chosen: two standard deviations; safe range 2 to 9.
constexpr double kTrusted = 4;
/// Room about a place for the correction and the interpolation's taps.
constexpr std::int64_t kRoom = 6;
constexpr double kFurthest = 3;
/// A correction beyond so many of the sheet's own standard deviations contradicts it.
constexpr double kContradicts = 4;

/// A place cut out, infrared already moved by whole pixels.
struct CutOut {
    Image<LinearRgbi> pixels;
    double contrast = 0, left_x = 0, left_y = 0;  ///< what of the sheet's shift is left
};

struct Moved {
    std::int64_t x = 0, y = 0;
    double left_x = 0, left_y = 0;
};
Moved shift_at(const InfraredMatch& match, double x, double y) {
    const PointPx q = match.at({x, y});
    Moved m{std::llround(q.x - x), std::llround(q.y - y), 0, 0};
    m.left_x = q.x - x - static_cast<double>(m.x);
    m.left_y = q.y - y - static_cast<double>(m.y);
    return m;
}

PxRect grown(PxRect r, std::int64_t by) { return {r.x0 - by, r.y0 - by, r.x1 + by, r.y1 + by}; }
PxRect moved(PxRect r, const Moved& m) { return {r.x0 + m.x, r.y0 + m.y, r.x1 + m.x, r.y1 + m.y}; }
PxRect both(PxRect a, PxRect b) { return {std::min(a.x0, b.x0), std::min(a.y0, b.y0), std::max(a.x1, b.x1), std::max(a.y1, b.y1)}; }

/// The most telling places of one square.
Result<std::vector<CutOut>> search(const PixelSource& picture, PxRect square, const InfraredMatch& match) {
    std::vector<CutOut> found;
    const Moved m = shift_at(match, static_cast<double>(square.x0 + square.x1) / 2, static_cast<double>(square.y0 + square.y1) / 2);
    const PxRect rect = picture.rect();
    // Places, with their room, lie where both the colours and the infrared that belongs to them were scanned.
    const PxRect back = moved(rect, {-m.x, -m.y, 0, 0});
    const PxRect colours = intersection(intersection(grown(square, kRoom), rect), back);
    if (colours.width() < kPlace + 2 * kRoom || colours.height() < kPlace + 2 * kRoom) return found;
    const PxRect all = both(colours, moved(colours, m));
    Image<LinearRgbi> pixels(all.width(), all.height());
    if (auto read = picture.read(all, pixels.view()); !read) return Failure(std::move(read.error()));
    const std::int64_t cx = colours.x0 - all.x0, cy = colours.y0 - all.y0;
    std::vector<std::pair<double, std::array<std::int64_t, 2>>> places;
    for (std::int64_t y = cy + kRoom; y + kPlace + kRoom <= cy + colours.height(); y += kPlace)
        for (std::int64_t x = cx + kRoom; x + kPlace + kRoom <= cx + colours.width(); x += kPlace)
            if (const double contrast = infrared_contrast(pixels.view(), x + m.x, y + m.y); contrast > kLeastContrast) places.push_back({contrast, {x, y}});
    std::sort(places.begin(), places.end(), [](const auto& a, const auto& b) { return a.first != b.first ? a.first > b.first : a.second < b.second; });
    places.resize(std::min(places.size(), kPerSquare));
    for (const auto& [contrast, at] : places) {
        CutOut cut{Image<LinearRgbi>(kPlace + 2 * kRoom, kPlace + 2 * kRoom), contrast, m.left_x, m.left_y};
        for (std::int64_t y = 0; y < cut.pixels.height(); ++y)
            for (std::int64_t x = 0; x < cut.pixels.width(); ++x) {
                const std::int64_t px = at[0] - kRoom + x, py = at[1] - kRoom + y;
                cut.pixels(x, y) = pixels(px, py);
                cut.pixels(x, y).ir = pixels(px + m.x, py + m.y).ir;
            }
        found.push_back(std::move(cut));
    }
    return found;
}

/// 1, and less for a place that would move by more than its own uncertainty (Geman and McClure's weight): the picture's own structure misleads it.
double trust(const Fit& fit) {
    const Eigen::Vector2d own = (fit.normal + 1e-12 * Eigen::Matrix2d::Identity()).ldlt().solve(fit.right);
    const double squared = own.dot(fit.normal * own) / (fit.misfit * kTogether);
    return 1 / ((1 + squared / kTrusted) * (1 + squared / kTrusted));
}

struct Correction {
    Eigen::Vector2d shift = Eigen::Vector2d::Zero();
    double std_uncertainty = 0;
    int used = 0;
};
/// Gauss-Newton over all places, the sheet's own shift and uncertainty as a prior.
Correction correct(const std::vector<CutOut>& cuts, double prior_std) {
    Correction c;
    const double prior = 1 / (prior_std * prior_std);
    for (int round = 0; round < kRounds; ++round) {
        Eigen::Matrix2d normal = prior * Eigen::Matrix2d::Identity();
        Eigen::Vector2d right = -prior * c.shift;
        c.used = 0;
        for (const CutOut& cut : cuts) {
            const Fit fit = fit_place(cut.pixels, {kRoom, kRoom, cut.contrast}, cut.left_x + c.shift[0], cut.left_y + c.shift[1], 0);
            if (fit.explained < kLeastExplained) continue;
            ++c.used;
            const double weight = trust(fit) / (fit.misfit * kTogether);
            normal += weight * fit.normal;
            right += weight * fit.right;
        }
        const Eigen::Matrix2d covariance = normal.ldlt().solve(Eigen::Matrix2d::Identity());
        c.shift += covariance * right;
        c.shift = c.shift.cwiseMax(-kFurthest).cwiseMin(kFurthest);
        c.std_uncertainty = std::sqrt(std::max(covariance(0, 0), covariance(1, 1)));
    }
    return c;
}

}  // namespace

Result<InfraredMatch> refine_match(const PixelSource& picture, const InfraredMatch& of_sheet, const ForEach& for_each) {
    if (of_sheet.places == 0) return of_sheet;
    const PxRect rect = picture.rect();
    const std::int64_t across = (rect.width() + kSquare - 1) / kSquare, down = (rect.height() + kSquare - 1) / kSquare;
    std::vector<std::vector<CutOut>> found(static_cast<std::size_t>(std::max<std::int64_t>(0, across * down)));
    const auto square_of = [&](std::int64_t i) -> Result<void> {
        const std::int64_t x0 = rect.x0 + i % across * kSquare, y0 = rect.y0 + i / across * kSquare;
        auto cuts = search(picture, {x0, y0, std::min(x0 + kSquare, rect.x1), std::min(y0 + kSquare, rect.y1)}, of_sheet);
        if (!cuts) return Failure(std::move(cuts.error()));
        found[static_cast<std::size_t>(i)] = std::move(*cuts);
        return {};
    };
    if (auto done = for_each(across * down, for_each.at_once, square_of); !done) return Failure(std::move(done.error()));
    std::vector<CutOut> all;
    for (std::vector<CutOut>& some : found)
        for (CutOut& cut : some) all.push_back(std::move(cut));
    std::stable_sort(all.begin(), all.end(), [](const CutOut& a, const CutOut& b) { return a.contrast > b.contrast; });
    if (all.size() > kMost) all.erase(all.begin() + kMost, all.end());
    const Correction c = correct(all, of_sheet.std_uncertainty);
    if (c.used < static_cast<int>(kFewestPlaces) || !(c.shift.cwiseAbs().maxCoeff() < kContradicts * of_sheet.std_uncertainty)) return of_sheet;
    InfraredMatch match = of_sheet;
    match.shift_x += c.shift[0];
    match.shift_y += c.shift[1];
    match.std_uncertainty = std::hypot(c.std_uncertainty, kSharedErrorPx);
    match.places = c.used;
    return match;
}

}  // namespace basefog
