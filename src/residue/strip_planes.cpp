// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/strip_planes.h"

#include "residue/constants.h"
#include "residue/registration.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace basefog::residue {

namespace {

double scale_of(const Overview& overview, const SheetLayout& layout) {
    constexpr double kAssumedOverviewDpi = 350;  // the overview's usual target
    double scan = layout.scale.value();
    if (!(scan > 0) && overview.scan_resolution) scan = overview.scan_resolution->value();
    return scan > 0 ? scan / overview.factor : px_per_mm_from_dpi(kAssumedOverviewDpi).value();
}

cv::Rect roi_of(const Overview& overview, const StripBox& strip) {
    const PxRect box = bounds(strip.corners);
    const PxRect in_overview{box.x0 / overview.factor, box.y0 / overview.factor, box.x1 / overview.factor + 1, box.y1 / overview.factor + 1};
    const PxRect r = intersection(in_overview, {0, 0, overview.pixels.width(), overview.pixels.height()});
    if (r.empty()) return {};
    return {static_cast<int>(r.x0), static_cast<int>(r.y0), static_cast<int>(r.width()), static_cast<int>(r.height())};
}

double travel_of(const StripBox& strip) { return strip.direction == StripDirection::horizontal ? strip.angle_deg : strip.angle_deg + 90; }

cv::Mat shrunk(const cv::Mat& film, double margin_px) {
    cv::Mat framed, eroded;
    cv::copyMakeBorder(film, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::erode(framed, eroded, disc(2 * margin_px));
    return eroded(cv::Rect(1, 1, film.cols, film.rows)).clone();
}

/// Where the maker's print may stand: outside the perforations, along both edges of film that shows them.
cv::Mat print_bands(const StripBox& strip, const cv::Rect& roi, int factor, double px_per_mm) {
    cv::Mat bands(roi.size(), CV_8U, cv::Scalar(0));
    const auto on_roi = [&](PointPx p) { return cv::Point2d(p.x / factor - roi.x, p.y / factor - roi.y); };
    const std::array<cv::Point2d, 4> q{on_roi(strip.corners[0]), on_roi(strip.corners[1]), on_roi(strip.corners[2]), on_roi(strip.corners[3])};
    const cv::Point2d across = ((q[3] - q[0]) + (q[2] - q[1])) / 2;
    const double width = std::hypot(across.x, across.y);
    const FormatSize& format = size_of(strip.format);
    if (!format.perforated || width < (format.film_width.value() - kHiddenFilmMm) * px_per_mm) return bands;
    const cv::Point2d inwards = across * (kPrintBandMm * px_per_mm / width);
    const auto fill = [&](cv::Point2d a, cv::Point2d b, cv::Point2d in) {
        const std::array<cv::Point, 4> corners{cv::Point(a - in), cv::Point(b - in), cv::Point(b + in), cv::Point(a + in)};
        cv::fillConvexPoly(bands, corners.data(), 4, cv::Scalar(255));
    };
    fill(q[0], q[1], inwards);
    fill(q[3], q[2], inwards);
    return bands;
}

/// Film, without a margin along whatever is not film. The strip's box reaches under the holder's edge: what is opaque there
/// is holder too.
cv::Mat without_edges(cv::Mat film, const cv::Mat& opaque_edge, double px_per_mm) {
    const cv::Mat rim = film & ~shrunk(film, kHolderRimMm * px_per_mm);
    film.setTo(0, rim & opaque_edge);
    return shrunk(film, kEdgeMarginMm * px_per_mm);
}

}  // namespace

cv::Mat disc(double diameter_px) {
    const int d = std::max(3, static_cast<int>(std::lround(diameter_px)) | 1);
    return cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(d, d));
}

StripPlanes cut_strip(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const SheetDensity& density, int strip,
                      const InfraredMatch& match) {
    StripPlanes planes;
    const auto index = static_cast<std::size_t>(strip);
    planes.px_per_mm = scale_of(overview, layout);
    planes.roi = roi_of(overview, layout.strips[index]);
    planes.travel_deg = travel_of(layout.strips[index]);
    planes.silver = density.strips[index].silver_image;
    const cv::Size size = planes.roi.size();
    for (int c = 0; c < (overview.has_infrared ? 4 : 3); ++c) planes.above_base[static_cast<std::size_t>(c)] = cv::Mat(size, CV_32F, cv::Scalar(0));
    cv::Mat film(size, CV_8U, cv::Scalar(0));
    cv::Mat opaque_edge = film.clone();
    planes.clear = film.clone();
    planes.picture = film.clone();
    const StripBase& base = density.strips[index];
    const std::array<float, 4> zero{static_cast<float>(base.base.r.value.value()), static_cast<float>(base.base.g.value.value()),
                                    static_cast<float>(base.base.b.value.value()), static_cast<float>(base.base_ir.value.value())};
    for (int y = 0; y < size.height; ++y) {
        for (int x = 0; x < size.width; ++x) {
            const std::int64_t sx = x + planes.roi.x, sy = y + planes.roi.y;
            DensityRgbi d = density.density(sx, sy);
            if (match.places > 0) {
                const PointPx at{(static_cast<double>(sx) + 0.5) * overview.factor, (static_cast<double>(sy) + 0.5) * overview.factor};
                d.ir = density.light.density({0, 0, 0, matched_infrared(overview, match, sx, sy)}, at).ir;
            }
            const std::array<float, 4> all{d.r, d.g, d.b, d.ir};
            for (std::size_t c = 0; c < 4; ++c) {
                if (!planes.above_base[c].empty()) planes.above_base[c].at<float>(y, x) = all[c] - zero[c];
            }
            const Region region = regions.labels(sx, sy);
            if (regions.strip(sx, sy) != strip || region == Region::holder || region == Region::bare_light) continue;
            film.at<uchar>(y, x) = 255;
            const float least = std::min({all[0] - zero[0], all[1] - zero[1], all[2] - zero[2], overview.has_infrared ? all[3] : kOpaqueEdge + 1});
            opaque_edge.at<uchar>(y, x) = region == Region::unsure && least > kOpaqueEdge ? 255 : 0;
            if (region == Region::clear_film) planes.clear.at<uchar>(y, x) = 255;
            if (region == Region::picture) planes.picture.at<uchar>(y, x) = 255;
        }
    }
    // Without infrared a maker's print is as neutral as carbon: the film it may stand on is not judged.
    if (!overview.has_infrared || planes.silver) {
        planes.print = print_bands(layout.strips[index], planes.roi, overview.factor, planes.px_per_mm);
        planes.clear.setTo(0, planes.print);
    }
    planes.visible = without_edges(film, opaque_edge, planes.px_per_mm);
    planes.clear &= planes.visible;
    planes.picture &= planes.visible;
    return planes;
}

double pixel_noise(const cv::Mat& plane, const cv::Mat& mask) {
    std::vector<float> differences;
    for (int y = 0; y < plane.rows; y += 2) {
        for (int x = 0; x + 2 < plane.cols; x += 3) {
            if (mask.at<uchar>(y, x) && mask.at<uchar>(y, x + 2)) differences.push_back(std::abs(plane.at<float>(y, x) - plane.at<float>(y, x + 2)));
        }
    }
    if (differences.size() < 8) return kLeastNoise;
    const auto middle = differences.begin() + static_cast<std::ptrdiff_t>(differences.size() / 2);
    std::nth_element(differences.begin(), middle, differences.end());
    return std::max(kLeastNoise, 1.4826 * *middle / std::sqrt(2.0));
}

double low_level(const cv::Mat& plane, const cv::Mat& mask) {
    // Histogram over -0.1..0.5 in steps of 0.0005, boxed over 0.006: the lowest peak with a third of the tallest's height.
    constexpr double kFrom = -0.1, kStep = 0.0005, kPeakShare = 0.35;
    constexpr int kBins = 1200, kHalfBox = 6;
    std::vector<double> count(kBins, 0.0), boxed(kBins, 0.0);
    for (int y = 0; y < plane.rows; ++y) {
        for (int x = 0; x < plane.cols; ++x) {
            if (!mask.at<uchar>(y, x)) continue;
            const int bin = static_cast<int>((plane.at<float>(y, x) - kFrom) / kStep);
            if (bin >= 0 && bin < kBins) count[static_cast<std::size_t>(bin)] += 1;
        }
    }
    double tallest = 0;
    for (int i = 0; i < kBins; ++i) {
        for (int j = std::max(0, i - kHalfBox); j <= std::min(kBins - 1, i + kHalfBox); ++j)
            boxed[static_cast<std::size_t>(i)] += count[static_cast<std::size_t>(j)];
        tallest = std::max(tallest, boxed[static_cast<std::size_t>(i)]);
    }
    if (tallest <= 0) return 0;
    int i = 0;
    while (boxed[static_cast<std::size_t>(i)] < kPeakShare * tallest) ++i;
    int peak = i;
    for (; i < kBins && i < peak + 2 * kHalfBox; ++i) {
        if (boxed[static_cast<std::size_t>(i)] > boxed[static_cast<std::size_t>(peak)]) peak = i;
    }
    double sum = 0, weight = 0;
    for (int j = std::max(0, peak - kHalfBox); j <= std::min(kBins - 1, peak + kHalfBox); ++j) {
        sum += count[static_cast<std::size_t>(j)] * (kFrom + (j + 0.5) * kStep);
        weight += count[static_cast<std::size_t>(j)];
    }
    return weight > 0 ? sum / weight : 0;
}

}  // namespace basefog::residue
