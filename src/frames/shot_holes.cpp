// SPDX-License-Identifier: GPL-3.0-or-later
#include "shot_holes.h"

#include "robust.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace basefog::frames {
namespace {

/// Sides of a hole, across the film over along it: 2.794 : 1.981 mm, and 2.794 : 1.854 of the other kind [SMPTE139]; half of that at most is blur or lens.
constexpr double kLeastSides = 1.25, kMostSides = 1.70;
constexpr double kLeastFilled = 0.86;            // of its upright box: corners are round by a tenth. Chosen
constexpr double kAlike = 1.3;                   // areas of holes in one row. Chosen: a lens of 5 % changes them by a tenth
constexpr double kLongOverPitch = 2.794 / 4.75;  // [SMPTE139]
constexpr double kOffPlace = 0.12;               // of a pitch, from whole ones
constexpr std::size_t kLeastInRow = 4;
constexpr int kLeastLong = 9;   // overview pixels of a hole's longer side
constexpr double kStep = 0.06;  // of density, from one threshold to the next. Chosen: holes stand .2 clear of any film

struct Hole {
    cv::Point2d at;
    double along = 0, across = 0, area = 0;  ///< sides, as if rows ran that way
};

/// Pieces clearer than a level that could be holes; `upright`: rows run down the shot.
std::vector<Hole> pieces(const cv::Mat& density, double level, bool upright) {
    cv::Mat clear = density < level, labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(clear, labels, stats, centres, 4, CV_32S);
    std::vector<Hole> out;
    for (int i = 1; i < n; ++i) {
        const int x = stats.at<int>(i, cv::CC_STAT_LEFT), y = stats.at<int>(i, cv::CC_STAT_TOP), w = stats.at<int>(i, cv::CC_STAT_WIDTH),
                  h = stats.at<int>(i, cv::CC_STAT_HEIGHT), area = stats.at<int>(i, cv::CC_STAT_AREA);
        const int longer = upright ? w : h, shorter = upright ? h : w;
        if (longer < kLeastLong || x < 2 || y < 2 || x + w > density.cols - 2 || y + h > density.rows - 2) continue;
        const double sides = static_cast<double>(longer) / shorter;
        if (sides < kLeastSides || sides > kMostSides || area < kLeastFilled * w * h) continue;
        out.push_back(
            {{centres.at<double>(i, 0), centres.at<double>(i, 1)}, static_cast<double>(shorter), static_cast<double>(longer), static_cast<double>(area)});
    }
    return out;
}

struct Row {
    std::vector<Hole> holes;
    std::vector<int> place;
    double pitch = 0;
};

/// The row with most holes that begins at one of them and goes on evenly.
Row longest_row(const std::vector<Hole>& holes, bool upright) {
    const auto u = [&](const Hole& h) { return upright ? h.at.y : h.at.x; };
    const auto v = [&](const Hole& h) { return upright ? h.at.x : h.at.y; };
    Row best;
    for (const Hole& first : holes) {
        Row row{{first}, {0}, first.across / kLongOverPitch};
        double slope = 0;
        for (const Hole& next : holes) {
            const Hole& last = row.holes.back();
            const double along = u(next) - u(last), off = v(next) - v(last) - slope * along;
            if (along < 0.5 * row.pitch || next.area > kAlike * first.area || first.area > kAlike * next.area) continue;
            const double pitches = along / row.pitch, whole = std::round(pitches);
            // The first pitch is told by the hole's own length, to some per cent.
            const double allowed = row.holes.size() == 1 ? 0.2 * whole : kOffPlace * whole;
            if (whole > 6 || std::abs(pitches - whole) > allowed || std::abs(off) > 0.12 * along) continue;
            row.holes.push_back(next);
            row.place.push_back(row.place.back() + static_cast<int>(whole));
            row.pitch = (u(next) - u(first)) / row.place.back();
            slope = (v(next) - v(first)) / (u(next) - u(first));
        }
        if (row.holes.size() > best.holes.size()) best = std::move(row);
    }
    return best;
}

/// A hole's middle by how much of each pixel it takes: blur moves that as little as it does the half of the light.
cv::Point2d middle_of(const cv::Mat& density, const Hole& hole, bool upright) {
    const double grow = 0.12 * hole.across;
    const double half_x = 0.5 * (upright ? hole.across : hole.along) + grow, half_y = 0.5 * (upright ? hole.along : hole.across) + grow;
    const int x0 = std::max(0, static_cast<int>(hole.at.x - half_x)), x1 = std::min(density.cols - 1, static_cast<int>(hole.at.x + half_x) + 1);
    const int y0 = std::max(0, static_cast<int>(hole.at.y - half_y)), y1 = std::min(density.rows - 1, static_cast<int>(hole.at.y + half_y) + 1);
    std::vector<double> around, within;
    for (int y = y0; y <= y1; ++y)
        for (int x = x0; x <= x1; ++x) {
            const bool edge = x == x0 || x == x1 || y == y0 || y == y1;
            const bool inside = std::abs(x - hole.at.x) < 0.3 * half_x && std::abs(y - hole.at.y) < 0.3 * half_y;
            if (edge) around.push_back(static_cast<double>(density.at<float>(y, x)));
            if (inside) within.push_back(static_cast<double>(density.at<float>(y, x)));
        }
    const double film = std::pow(10, -median(around)), bare = std::pow(10, -median(within));
    if (!(bare > 1.1 * film)) return hole.at;
    double sum = 0, sx = 0, sy = 0;
    for (int y = y0; y <= y1; ++y)
        for (int x = x0; x <= x1; ++x) {
            const double share = std::clamp((std::pow(10, -static_cast<double>(density.at<float>(y, x))) - film) / (bare - film), 0.0, 1.0);
            const double weight = share < 0.1 ? 0 : share;  // what little film varies counts for nothing
            sum += weight, sx += weight * x, sy += weight * y;
        }
    return sum > 0 ? cv::Point2d(sx / sum, sy / sum) : hole.at;
}

struct Rows {
    std::vector<Row> rows;  ///< one or two
    bool upright = false;
    [[nodiscard]] std::size_t count() const { return rows.empty() ? 0 : rows[0].holes.size() + (rows.size() > 1 ? rows[1].holes.size() : 0); }
};

Rows rows_at(const cv::Mat& density, double level, bool upright) {
    Rows out;
    out.upright = upright;
    std::vector<Hole> holes = pieces(density, level, upright);
    const auto u = [&](const Hole& h) { return upright ? h.at.y : h.at.x; };
    std::sort(holes.begin(), holes.end(), [&](const Hole& a, const Hole& b) { return u(a) < u(b); });
    Row first = longest_row(holes, upright);
    if (first.holes.size() < kLeastInRow) return out;
    std::erase_if(holes, [&](const Hole& h) { return std::any_of(first.holes.begin(), first.holes.end(), [&](const Hole& k) { return k.at == h.at; }); });
    Row second = longest_row(holes, upright);
    const bool fits = second.holes.size() >= kLeastInRow && std::abs(second.pitch / first.pitch - 1) < 0.05;
    out.rows.push_back(std::move(first));
    if (fits) out.rows.push_back(std::move(second));
    return out;
}

}  // namespace

ShotHoles find_holes(const cv::Mat& density, int factor) {
    double least = 0, most = 0;
    cv::minMaxLoc(density, &least, &most);
    Rows best;
    constexpr double kFurthest = 0.9;  // Chosen: clear film with its mask, and falloff
    for (double level = least + kStep; level < std::min(most, least + kFurthest); level += kStep)
        for (const bool upright : {false, true})
            if (Rows rows = rows_at(density, level, upright); rows.count() > best.count()) best = std::move(rows);
    ShotHoles out;
    if (best.rows.empty()) return out;
    const auto v = [&](const Row& r) { return best.upright ? r.holes.front().at.x : r.holes.front().at.y; };
    if (best.rows.size() > 1 && v(best.rows[1]) < v(best.rows[0])) std::swap(best.rows[0], best.rows[1]);
    // Both rows count from the same place: holes stand across from each other.
    const Row& longer = best.rows.size() > 1 && best.rows[1].holes.size() > best.rows[0].holes.size() ? best.rows[1] : best.rows[0];
    const cv::Point2d span = longer.holes.back().at - longer.holes.front().at;
    const cv::Point2d along = span * (1 / cv::norm(span));
    out.pitch_px = factor * cv::norm(span) / longer.place.back();
    out.along = {along.x, along.y};
    std::vector<double> across;
    for (std::size_t r = 0; r < best.rows.size(); ++r) {
        const Row& row = best.rows[r];
        const cv::Point2d from = row.holes.front().at - longer.holes.front().at;
        const int start = static_cast<int>(std::lround(from.dot(along) * factor / out.pitch_px));
        // A single row of which it is not known whether it is the upper or the lower: by the half of the shot it lies in.
        const double middle = best.upright ? density.cols / 2.0 : density.rows / 2.0;
        const int number = best.rows.size() > 1 ? static_cast<int>(r) : v(row) > middle ? 1 : 0;
        for (std::size_t i = 0; i < row.holes.size(); ++i) {
            const cv::Point2d p = middle_of(density, row.holes[i], best.upright);
            out.at.push_back({(p.x + 0.5) * factor, (p.y + 0.5) * factor});
            out.row.push_back(number);
            out.place.push_back(start + row.place[i]);
            across.push_back(row.holes[i].across * factor);
        }
    }
    out.row_width_px = median(across);
    return out;
}

}  // namespace basefog::frames
