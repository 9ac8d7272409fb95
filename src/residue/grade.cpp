// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/grade.h"

#include "residue/constants.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace basefog::residue {

namespace {

/// Error of a residue density that all pixels share (base, leak): moves the threshold.
constexpr double kSharedError = 0.003;
/// Share of the smeared area within this distance of the film's edges that makes it "edge smears".
constexpr double kEdgeBandMm = 4.0;
constexpr double kEdgeShareFactor = 1.5;
/// Specks this many per square centimetre of carbon are worth a word.
constexpr double kSpecksWorthAWord = 0.2;

cv::Mat dust_mask(const StripEvidence& e) {
    std::vector<uchar> is_dust;
    for (const Speck& s : e.specks.specks) {
        if (static_cast<std::size_t>(s.label) >= is_dust.size()) is_dust.resize(static_cast<std::size_t>(s.label) + 1, 0);
        is_dust[static_cast<std::size_t>(s.label)] = s.kind == Defect::dust || s.kind == Defect::scratch;
    }
    cv::Mat mask(e.residue.size(), CV_8U, cv::Scalar(0));
    if (e.specks.labels.empty()) return mask;
    for (int y = 0; y < mask.rows; ++y) {
        for (int x = 0; x < mask.cols; ++x) {
            const auto label = static_cast<std::size_t>(e.specks.labels.at<int>(y, x));
            if (label < is_dust.size() && is_dust[label]) mask.at<uchar>(y, x) = 255;
        }
    }
    cv::dilate(mask, mask, cv::Mat::ones(3, 3, CV_8U));
    return mask;
}

/// Smears: what is left when everything as narrow as a speck is opened away.
cv::Mat smears(const StripEvidence& e, double threshold) {
    cv::Mat over = (e.residue > threshold) & e.judged, opened;
    cv::morphologyEx(over, opened, cv::MORPH_OPEN, disc(0.5 * kObjectWidthMm * e.planes.px_per_mm));
    return opened;
}

/// Which of the long edges, in the reading direction, has the smears. Chosen: three quarters of them make it one edge.
std::string which_edge(const StripEvidence& e, const cv::Mat& smear, const StripBox& box, int factor) {
    constexpr double kOneEdge = 0.75;
    const auto on_roi = [&](PointPx p) { return cv::Point2d(p.x / factor - e.planes.roi.x, p.y / factor - e.planes.roi.y); };
    const cv::Point2d upper = (on_roi(box.corners[0]) + on_roi(box.corners[1])) / 2, lower = (on_roi(box.corners[3]) + on_roi(box.corners[2])) / 2;
    const cv::Point2d across = lower - upper;
    const double half = across.dot(across) / 2;
    double above = 0, all = 0;
    for (int y = 0; y < smear.rows; ++y) {
        for (int x = 0; x < smear.cols; ++x) {
            if (!smear.at<uchar>(y, x)) continue;
            above += (cv::Point2d(x + 0.5, y + 0.5) - upper).dot(across) < half;
            ++all;
        }
    }
    if (all <= 0) return {};
    return above > kOneEdge * all ? " along the upper edge" : above < (1 - kOneEdge) * all ? " along the lower edge" : " along both edges";
}

std::vector<std::string> patterns_of(const StripEvidence& e, const StripResidue& result, const StripBox& box, int factor, double threshold) {
    std::vector<std::string> words;
    if (result.veil_separable && e.veil >= kLeastVeil) words.emplace_back("veil");
    const cv::Mat smear = smears(e, std::max(threshold, e.veil + threshold / 2));
    const int smeared = cv::countNonZero(smear), judged = std::max(1, cv::countNonZero(e.judged));
    if (100.0 * smeared / judged > kCleanAreaPercent) {
        cv::Mat inner;
        cv::Mat framed;
        cv::copyMakeBorder(e.planes.visible, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
        cv::distanceTransform(framed > 0, inner, cv::DIST_L2, 3);
        const cv::Mat edge = (inner(cv::Rect(1, 1, smear.cols, smear.rows)) < kEdgeBandMm * e.planes.px_per_mm) & e.judged;
        const double share = static_cast<double>(cv::countNonZero(edge & smear)) / smeared;
        const double even = static_cast<double>(cv::countNonZero(edge)) / judged;
        words.emplace_back(even < 0.8 && share > kEdgeShareFactor * even ? "edge smears" + which_edge(e, edge & smear, box, factor) : "patches");
    }
    int carbon = 0;
    bool lines = false;
    for (const Speck& s : e.specks.specks) {
        carbon += s.kind == Defect::residue && !s.line;
        lines |= s.kind == Defect::residue && s.line;
    }
    const double cm2 = cv::countNonZero(e.planes.visible) / std::pow(e.planes.px_per_mm * 10, 2);
    if (carbon > kSpecksWorthAWord * cm2) words.emplace_back("specks");
    if (lines) words.emplace_back("streaks along the travel");
    return words;
}

std::vector<double> area_per_frame(const StripEvidence& e, const StripBox& box, int factor, double threshold) {
    std::vector<double> result;
    const cv::Mat dust = dust_mask(e);
    for (const FrameBox& frame : box.frames) {
        const PxRect r = bounds(frame.corners);
        double over = 0, n = 0;
        for (std::int64_t sy = r.y0 / factor; sy <= r.y1 / factor; ++sy) {
            for (std::int64_t sx = r.x0 / factor; sx <= r.x1 / factor; ++sx) {
                const cv::Point p(static_cast<int>(sx) - e.planes.roi.x, static_cast<int>(sy) - e.planes.roi.y);
                if (p.x < 0 || p.y < 0 || p.x >= e.residue.cols || p.y >= e.residue.rows || !e.planes.visible.at<uchar>(p) || dust.at<uchar>(p)) continue;
                if (!contains(frame.corners, {(static_cast<double>(sx) + 0.5) * factor, (static_cast<double>(sy) + 0.5) * factor})) continue;
                ++n;
                over += e.residue.at<float>(p) > threshold || (!e.likely.empty() && e.likely.at<uchar>(p));
            }
        }
        result.push_back(n > 0 ? 100 * over / n : 0);
    }
    return result;
}

}  // namespace

double area_percent(const StripEvidence& e, double threshold) {
    const cv::Mat judged = e.judged & ~dust_mask(e);
    const int n = cv::countNonZero(judged);
    return n > 0 ? 100.0 * cv::countNonZero((e.residue > threshold) & judged) / n : 0;
}

double smeared_percent(const StripEvidence& e, double threshold) {
    return 100.0 * cv::countNonZero(smears(e, threshold)) / std::max(1, cv::countNonZero(e.judged));
}

ResidueGrade grade_of(double area, double veil, double clean_below) {
    if (area > kPartialAreaPercent || veil > kHeavyVeil) return ResidueGrade::heavy;
    if (area > kTraceAreaPercent || veil >= kPartialVeil) return ResidueGrade::partial;
    return area > clean_below || veil >= kLeastVeil ? ResidueGrade::trace : ResidueGrade::clean;
}

StripResidue summarise(const StripEvidence& e, const StripBox& box, int overview_factor, double threshold) {
    StripResidue result;
    const MeasureFlag flag = e.by_infrared ? MeasureFlag::none : MeasureFlag::extrapolated;
    const cv::Mat judged = e.judged & ~dust_mask(e);
    const int n = cv::countNonZero(judged);
    const double area = area_percent(e, threshold);
    const double shift = 0.5 * std::abs(area_percent(e, threshold - kSharedError) - area_percent(e, threshold + kSharedError));
    // Without infrared only part of the film is seen: residue comes in patches of some square millimetres.
    const double patches = std::max(1.0, n / std::pow(2 * e.planes.px_per_mm, 2));
    const double share = area / 100;
    const double sampling = e.by_infrared ? 0 : 100 * std::sqrt(std::max(share * (1 - share), 1 / patches) / patches);
    result.area_percent = {area, std::hypot(shift, sampling), n, flag};
    result.mean = {Density(n > 0 ? cv::mean(e.residue, judged)[0] : 0), Density(kSharedError), n, flag};
    result.veil = {Density(e.veil), Density(e.veil_std), n, e.veil_separable ? MeasureFlag::none : MeasureFlag::assumed};
    result.veil_separable = e.veil_separable;
    result.grade = grade_of(area, e.veil_separable ? e.veil : 0, e.by_infrared ? kCleanAreaPercent : kCleanAreaPercentColour);
    result.patterns = patterns_of(e, result, box, overview_factor, threshold);
    result.frame_area_percent = area_per_frame(e, box, overview_factor, threshold);
    result.dust_count = static_cast<int>(std::count_if(e.specks.specks.begin(), e.specks.specks.end(), [](const Speck& s) { return s.kind == Defect::dust; }));
    return result;
}

}  // namespace basefog::residue
