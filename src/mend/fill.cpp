// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/fill.h"

#include "mend/constants.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace basefog::mending {
namespace {

using Logs = std::array<float, 3>;

class Filler {
public:
    Filler(View<LinearRgbi> pixels, const cv::Mat& hole, const cv::Mat& doubtful, const FillSettings& settings)
        : pixels_(pixels), hole_(hole), bad_(hole | doubtful), flare_{settings.flare.r, settings.flare.g, settings.flare.b} {
        rim_px_ = std::clamp(static_cast<int>(std::lround(kRimMm * settings.px_per_mm)), kLeastRimPx, kMostRimPx);
        piece_px_ = std::max(kLeastPiecePx, static_cast<int>(std::lround(kPieceMm * settings.px_per_mm)));
    }

    int run() {
        cv::Mat labels, stats, centres;
        const int n = cv::connectedComponentsWithStats(hole_, labels, stats, centres, 8, CV_32S);
        for (int label = 1; label < n; ++label) {
            const cv::Rect box(stats.at<int>(label, cv::CC_STAT_LEFT), stats.at<int>(label, cv::CC_STAT_TOP), stats.at<int>(label, cv::CC_STAT_WIDTH),
                               stats.at<int>(label, cv::CC_STAT_HEIGHT));
            fill_hole(labels, label, box);
        }
        return n - 1;
    }

private:
    [[nodiscard]] Logs logs(cv::Point p) const {
        constexpr float kNoLight = 1e-7F, kMostLight = 1e3F;
        const auto log = [=](float light) { return std::log(light > kNoLight ? std::clamp(light, kNoLight, kMostLight) : kNoLight); };  // also NaN
        const LinearRgbi& s = pixels_(p.x, p.y);
        return {log(s.r - flare_[0]), log(s.g - flare_[1]), log(s.b - flare_[2])};
    }
    void put(cv::Point p, const Logs& v) {
        LinearRgbi& s = pixels_(p.x, p.y);
        s.r = std::exp(v[0]) + flare_[0];
        s.g = std::exp(v[1]) + flare_[1];
        s.b = std::exp(v[2]) + flare_[2];
    }

    /// A hole up to two pieces wide is done at once, a longer one by the cells of a grid.
    void fill_hole(const cv::Mat& labels, int label, const cv::Rect& box) {
        const bool whole = std::max(box.width, box.height) <= 2 * piece_px_;
        const int step_x = whole ? box.width : piece_px_, step_y = whole ? box.height : piece_px_;
        for (int y = box.y; y < box.y + box.height; y += step_y) {
            for (int x = box.x; x < box.x + box.width; x += step_x) {
                std::vector<cv::Point> piece;
                for (int j = y; j < std::min(y + step_y, box.y + box.height); ++j)
                    for (int i = x; i < std::min(x + step_x, box.x + box.width); ++i)
                        if (labels.at<int>(j, i) == label) piece.emplace_back(i, j);
                if (!piece.empty()) fill_piece(piece);
            }
        }
    }

    /// Known pixels about a piece; further out where there are too few.
    [[nodiscard]] std::vector<cv::Point> rim_of(const std::vector<cv::Point>& piece) const {
        constexpr std::size_t kEnough = 12;
        const cv::Rect all(0, 0, hole_.cols, hole_.rows), box = cv::boundingRect(piece);
        std::vector<cv::Point> rim;
        for (int width = rim_px_; rim.size() < kEnough && width <= 8 * rim_px_; width *= 2) {
            rim.clear();
            const cv::Rect around = cv::Rect(box.x - width, box.y - width, box.width + 2 * width, box.height + 2 * width) & all;
            cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U);
            for (const cv::Point& p : piece) mask.at<uchar>(p - around.tl()) = 255;
            cv::dilate(mask, mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * width + 1, 2 * width + 1)));
            for (int y = 0; y < around.height; ++y)
                for (int x = 0; x < around.width; ++x) {
                    const cv::Point p = around.tl() + cv::Point(x, y);
                    if (mask.at<uchar>(y, x) && !hole_.at<uchar>(p)) rim.push_back(p);
                }
        }
        return rim;
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
        const cv::Rect box = cv::boundingRect(piece) | cv::boundingRect(rim), all(0, 0, hole_.cols, hole_.rows);
        const int size = std::max(box.width, box.height);
        const int reach = std::clamp(size + size / 2, kLeastReachPx, kMostReachPx), step = reach > 36 ? 2 : 1;
        std::vector<cv::Point> few;
        const std::size_t every = std::max<std::size_t>(1, (rim.size() + kRimSamples - 1) / kRimSamples);
        for (std::size_t i = 0; i < rim.size(); i += every) few.push_back(rim[i]);
        std::vector<Logs> known;
        for (const cv::Point& p : few) known.push_back(logs(p));
        logs_box_ = cv::Rect(box.x - reach - 1, box.y - reach - 1, box.width + 2 * reach + 2, box.height + 2 * reach + 2) & all;
        logs_.resize(static_cast<std::size_t>(logs_box_.area()));
        for (int y = 0; y < logs_box_.height; ++y)
            for (int x = 0; x < logs_box_.width; ++x)
                logs_[static_cast<std::size_t>(y * logs_box_.width + x)] = logs({logs_box_.x + x, logs_box_.y + y});
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

    void fill_piece(const std::vector<cv::Point>& piece) {
        std::vector<cv::Point> rim = rim_of(piece);
        if (rim.empty()) return;
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
        std::vector<Logs> values;
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
            values.push_back(v);
        }
        for (std::size_t i = 0; i < piece.size(); ++i) put(piece[i], values[i]);
    }

    View<LinearRgbi> pixels_;
    const cv::Mat& hole_;
    cv::Mat bad_;
    std::array<float, 3> flare_;
    int rim_px_ = 2, piece_px_ = 8;
    cv::Rect logs_box_;
    std::vector<Logs> logs_;  ///< of logs_box_
};

}  // namespace

int fill_holes(View<LinearRgbi> pixels, const cv::Mat& hole, const cv::Mat& doubtful, const FillSettings& settings) {
    return Filler(pixels, hole, doubtful, settings).run();
}

}  // namespace basefog::mending
