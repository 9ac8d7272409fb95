// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/fill.h"

#include "mend/constants.h"
#include "mend/infrared_density.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <vector>

namespace basefog::mending {
namespace {

using Logs = std::array<float, 3>;

constexpr int kWidestRims = 8;  ///< a rim is widened up to so many of its usual width

int rim_px(const FillSettings& settings) { return std::clamp(static_cast<int>(std::lround(kRimMm * settings.px_per_mm)), kLeastRimPx, kMostRimPx); }

std::vector<cv::Point> moved(const std::vector<cv::Point>& points, cv::Point by) {
    std::vector<cv::Point> there;
    for (const cv::Point& p : points) there.push_back(p + by);
    return there;
}

/// Known pixels about a piece, which lies within the mask of holes; further out than `rim_px` where there are too few.
std::vector<cv::Point> rim_of(const std::vector<cv::Point>& piece, const cv::Mat& holes, int rim_px) {
    constexpr std::size_t kEnough = 12;
    const cv::Rect all(0, 0, holes.cols, holes.rows), box = cv::boundingRect(piece);
    std::vector<cv::Point> rim;
    for (int width = rim_px; rim.size() < kEnough && width <= kWidestRims * rim_px; width *= 2) {
        rim.clear();
        const cv::Rect around = cv::Rect(box.x - width, box.y - width, box.width + 2 * width, box.height + 2 * width) & all;
        cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U);
        for (const cv::Point& p : piece) mask.at<uchar>(p - around.tl()) = 255;
        cv::dilate(mask, mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * width + 1, 2 * width + 1)));
        for (int y = 0; y < around.height; ++y)
            for (int x = 0; x < around.width; ++x) {
                const cv::Point p = around.tl() + cv::Point(x, y);
                if (mask.at<uchar>(y, x) && !holes.at<uchar>(p)) rim.push_back(p);
            }
    }
    return rim;
}

/// How far from a piece and its rim, which lie in the box, its source may lie.
int source_reach(const cv::Rect& box) {
    const int size = std::max(box.width, box.height);
    return std::clamp(size + size / 2, kLeastReachPx, kMostReachPx);
}

/// Fills one piece; positions are those of the window.
class Filler {
public:
    /// `bad`: what may not be used; both of the window.
    Filler(const cv::Mat& bad, const FillSettings& settings, View<const LinearRgbi> pixels)
        : pixels_(pixels), bad_(bad), flare_{settings.flare.r, settings.flare.g, settings.flare.b} {}

    /// The piece's pixels, as light.
    [[nodiscard]] std::vector<LinearRgbi> fill(const std::vector<cv::Point>& piece, const std::vector<cv::Point>& rim) {
        cv::Point shift;
        const bool sourced = find_source(piece, rim, shift);
        constexpr std::size_t kMostRim = 400;
        const std::size_t every = std::max<std::size_t>(1, rim.size() / kMostRim);
        std::vector<cv::Point> at;
        std::vector<Logs> difference;
        for (std::size_t i = 0; i < rim.size(); i += every) {
            const Logs here = logs(rim[i]);
            const Logs there = sourced ? logs(rim[i] + shift) : Logs{};
            at.push_back(rim[i]);
            difference.push_back({here[0] - there[0], here[1] - there[1], here[2] - there[2]});
        }
        std::vector<LinearRgbi> values;
        for (const cv::Point& p : piece) {
            std::array<double, 3> sum{};
            double total = 0;
            for (std::size_t i = 0; i < at.size(); ++i) {
                const double dx = at[i].x - p.x, dy = at[i].y - p.y, d2 = dx * dx + dy * dy + kRimSoftPx * kRimSoftPx;
                const double w = 1 / (d2 * std::sqrt(d2));
                total += w;
                for (std::size_t c = 0; c < 3; ++c) sum[c] += w * static_cast<double>(difference[i][c]);
            }
            const Logs source = sourced ? logs(p + shift) : Logs{};
            Logs v{};
            for (std::size_t c = 0; c < 3; ++c) v[c] = source[c] + static_cast<float>(sum[c] / total);
            values.push_back({std::exp(v[0]) + flare_[0], std::exp(v[1]) + flare_[1], std::exp(v[2]) + flare_[2], 0});
        }
        return values;
    }

private:
    [[nodiscard]] Logs logs(cv::Point p) const {
        constexpr float kNoLight = 1e-7F, kMostLight = 1e3F;
        const auto log = [=](float light) { return std::log(light > kNoLight ? std::clamp(light, kNoLight, kMostLight) : kNoLight); };  // also NaN
        const LinearRgbi& s = pixels_(p.x, p.y);
        return {log(s.r - flare_[0]), log(s.g - flare_[1]), log(s.b - flare_[2])};
    }
    [[nodiscard]] bool usable(const std::vector<cv::Point>& points, cv::Point shift, std::size_t every) const {
        for (std::size_t i = 0; i < points.size(); i += every)
            if (bad_.at<uchar>(points[i] + shift)) return false;
        return true;
    }

    /// How badly a place's rim matches; infinite where the place may not be used.
    [[nodiscard]] double mismatch(const std::vector<cv::Point>& rim, const std::vector<Logs>& known, cv::Point shift, double limit) const {
        std::array<double, 3> sum{}, squares{};
        for (std::size_t i = 0; i < rim.size(); ++i) {
            const cv::Point q = rim[i] + shift;
            if (bad_.at<uchar>(q)) return std::numeric_limits<double>::infinity();
            const Logs there = logs_.at(static_cast<std::size_t>((q.y - logs_box_.y) * logs_box_.width + q.x - logs_box_.x));
            for (std::size_t c = 0; c < 3; ++c) {
                const auto d = static_cast<double>(known[i][c] - there[c]);
                sum[c] += d;
                squares[c] += d * d;
            }
            if (kLevelWeight * (squares[0] + squares[1] + squares[2]) > limit * static_cast<double>(rim.size())) return std::numeric_limits<double>::infinity();
        }
        double total = 0;
        const auto n = static_cast<double>(rim.size());
        for (std::size_t c = 0; c < 3; ++c) total += squares[c] / n - (1 - kLevelWeight) * (sum[c] / n) * (sum[c] / n);
        return total;
    }

    [[nodiscard]] bool find_source(const std::vector<cv::Point>& piece, const std::vector<cv::Point>& rim, cv::Point& best) {
        const cv::Rect box = cv::boundingRect(piece) | cv::boundingRect(rim), all(0, 0, bad_.cols, bad_.rows);
        const int reach = source_reach(box), step = reach > 36 ? 2 : 1;
        std::vector<cv::Point> few;
        const std::size_t every = std::max<std::size_t>(1, (rim.size() + kRimSamples - 1) / kRimSamples);
        for (std::size_t i = 0; i < rim.size(); i += every) few.push_back(rim[i]);
        std::vector<Logs> known;
        for (const cv::Point& p : few) known.push_back(logs(p));
        logs_box_ = cv::Rect(box.x - reach - 1, box.y - reach - 1, box.width + 2 * reach + 2, box.height + 2 * reach + 2) & all;
        logs_.resize(static_cast<std::size_t>(logs_box_.area()));
        for (int y = 0; y < logs_box_.height; ++y)
            for (int x = 0; x < logs_box_.width; ++x) logs_[static_cast<std::size_t>(y * logs_box_.width + x)] = logs({logs_box_.x + x, logs_box_.y + y});
        double least = std::numeric_limits<double>::infinity();
        const auto consider = [&](cv::Point shift) {
            if (((box + shift) & all) != box + shift) return;
            const double found = mismatch(few, known, shift, least);
            if (found < least && usable(piece, shift, 1)) {
                least = found;
                best = shift;
            }
        };
        for (int dy = -reach; dy <= reach; dy += step)
            for (int dx = -reach; dx <= reach; dx += step) consider({dx, dy});
        if (step > 1 && std::isfinite(least)) {
            const cv::Point around = best;
            for (int dy = -1; dy <= 1; ++dy)
                for (int dx = -1; dx <= 1; ++dx) consider(around + cv::Point(dx, dy));
        }
        return std::isfinite(least);
    }

    View<const LinearRgbi> pixels_;
    const cv::Mat& bad_;
    std::array<float, 3> flare_;
    cv::Rect logs_box_;
    std::vector<Logs> logs_;  ///< of logs_box_
};

/// A hole up to two pieces wide is done at once, a longer one by the cells of a grid: positions of the picture, piece by piece.
std::vector<std::vector<cv::Point>> pieces_of(const Runs& hole, const FillSettings& settings, int& holes) {
    const int piece_px = std::max(kLeastPiecePx, static_cast<int>(std::lround(kPieceMm * settings.px_per_mm)));
    const std::vector<int> body = hole.bodies(holes);
    std::vector<cv::Rect> boxes(static_cast<std::size_t>(holes));
    for (std::size_t i = 0; i < body.size(); ++i) {
        const Run& run = hole.all()[i];
        cv::Rect& box = boxes[static_cast<std::size_t>(body[i])];
        box |= cv::Rect(run.x0, run.y, run.x1 - run.x0, 1);
    }
    std::vector<std::vector<cv::Point>> pieces;
    std::map<std::tuple<int, int, int>, std::size_t> piece_at;  // body, row and column of its grid
    for (std::size_t i = 0; i < body.size(); ++i) {
        const Run& run = hole.all()[i];
        const cv::Rect& box = boxes[static_cast<std::size_t>(body[i])];
        const bool whole = std::max(box.width, box.height) <= 2 * piece_px;
        for (int x = run.x0; x < run.x1; ++x) {
            const int row = whole ? 0 : (run.y - box.y) / piece_px, column = whole ? 0 : (x - box.x) / piece_px;
            const auto [found, made] = piece_at.try_emplace({body[i], row, column}, pieces.size());
            if (made) pieces.emplace_back();
            pieces[found->second].emplace_back(x, run.y);
        }
    }
    return pieces;
}

cv::Rect grown(const cv::Rect& box, int by) { return {box.x - by, box.y - by, box.width + 2 * by, box.height + 2 * by}; }

}  // namespace

Result<Filled> fill_holes(const PixelSource& source, const Tiles& tiles, const Runs& hole, const Marks& doubtful, const FillSettings& settings,
                          const MendMeans& means) {
    Filled filled;
    const std::vector<std::vector<cv::Point>> pieces = pieces_of(hole, settings, filled.holes);
    std::vector<std::vector<LinearRgbi>> values(pieces.size());
    const auto one = [&](std::int64_t index) -> Result<void> {
        const std::vector<cv::Point>& piece = pieces[static_cast<std::size_t>(index)];
        // The rim lies within this of the piece.
        const cv::Rect about = grown(cv::boundingRect(piece), kWidestRims * rim_px(settings) + 1) & tiles.all();
        cv::Mat holes = cv::Mat::zeros(about.size(), CV_8U);
        hole.draw(about, holes);
        std::vector<cv::Point> rim = rim_of(moved(piece, -about.tl()), holes, rim_px(settings));
        if (rim.empty()) return {};
        rim = moved(rim, about.tl());
        const cv::Rect box = cv::boundingRect(piece) | cv::boundingRect(rim), window = grown(box, source_reach(box) + 2) & tiles.all();
        cv::Mat bad;
        if (auto got = doubtful(window, bad); !got) return got;
        hole.draw(window, bad);
        Image<LinearRgbi> pixels(window.width, window.height);
        if (auto read = source.read(on_scan(window, source.rect()), pixels.view()); !read) return read;
        Filler filler(bad, settings, pixels.view());
        values[static_cast<std::size_t>(index)] = filler.fill(moved(piece, -window.tl()), moved(rim, -window.tl()));
        return {};
    };
    if (auto done = means.for_each(static_cast<std::int64_t>(pieces.size()), means.for_each.at_once, one); !done) return Failure(std::move(done.error()));
    filled.patches.resize(static_cast<std::size_t>(tiles.count()));
    for (std::size_t i = 0; i < pieces.size(); ++i)
        for (std::size_t k = 0; k < values[i].size(); ++k) {
            const cv::Point p = pieces[i][k];
            const LinearRgbi& v = values[i][k];
            filled.patches[static_cast<std::size_t>(p.y / kTilePx * tiles.across() + p.x / kTilePx)].push_back(
                {static_cast<std::int16_t>(p.x % kTilePx), static_cast<std::int16_t>(p.y % kTilePx), v.r, v.g, v.b});
        }
    for (std::vector<Patch>& patches : filled.patches)
        std::sort(patches.begin(), patches.end(), [](const Patch& a, const Patch& b) { return a.y != b.y ? a.y < b.y : a.x < b.x; });
    return filled;
}

}  // namespace basefog::mending
