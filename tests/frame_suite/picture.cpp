// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/picture.h"

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cstdio>
#include <stdexcept>

namespace basefog::suite {
namespace {

constexpr double kLongSide = 1600;

/// Roughly as an eye sees the sheet on a light table: square root for the encoding, blue first as OpenCV wants it.
cv::Mat shown(const cv::Mat& light, double scale) {
    cv::Mat small;
    cv::resize(light, small, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
    cv::Mat rgb(small.size(), CV_32FC3);
    const int order[] = {2, 0, 1, 1, 0, 2};
    cv::mixChannels(&small, 1, &rgb, 1, order, 3);
    cv::max(rgb, 0, rgb);
    cv::sqrt(rgb, rgb);
    cv::Mat bytes;
    rgb.convertTo(bytes, CV_8U, 255);
    return bytes;
}

template <class Corners, class X, class Y>
void outline(cv::Mat& image, const Corners& corners, double scale, const cv::Scalar& colour, X x, Y y) {
    constexpr int kFraction = 4;  // OpenCV's fixed-point bits
    std::vector<cv::Point> points;
    for (const auto& c : corners)
        points.emplace_back(static_cast<int>((x(c) * scale - 0.5) * (1 << kFraction)), static_cast<int>((y(c) * scale - 0.5) * (1 << kFraction)));
    cv::polylines(image, points, true, colour, 1, cv::LINE_AA, kFraction);
}

void caption(cv::Mat& image, const SheetOutcome& outcome) {
    std::string text = "seed " + std::to_string(outcome.seed) + ": " + outcome.failure;
    for (const std::string& d : outcome.difficulties) text += d + ", ";
    cv::copyMakeBorder(image, image, 0, 24, 0, 0, cv::BORDER_CONSTANT, cv::Scalar::all(30));
    cv::putText(image, text, {4, image.rows - 8}, cv::FONT_HERSHEY_SIMPLEX, 0.42, cv::Scalar::all(230), 1, cv::LINE_AA);
}

}  // namespace

void write_picture(const std::string& path, const synthetic::Sheet& sheet, const SheetLayout& layout, const SheetOutcome& outcome) {
    const double scale = std::min(2.0, kLongSide / std::max(sheet.light.cols, sheet.light.rows));
    cv::Mat image = shown(sheet.light, scale);
    const auto first = [](const std::array<double, 2>& c) { return c[0]; };
    const auto second = [](const std::array<double, 2>& c) { return c[1]; };
    for (const auto& strip : sheet.strips) {
        for (const auto& frame : strip.frames)
            outline(image, frame.corners_px, scale, frame.content == synthetic::FrameContent::picture ? cv::Scalar(0, 255, 0) : cv::Scalar(0, 255, 255), first,
                    second);
    }
    for (const StripBox& strip : layout.strips) {
        for (const FrameBox& frame : strip.frames) {
            outline(
                image, frame.corners, scale, {0, 0, 255}, [](const PointPx& p) { return p.x; }, [](const PointPx& p) { return p.y; });
            char text[32];
            std::snprintf(text, sizeof text, "%.2f%s", frame.confidence, frame.kind == FrameKind::picture ? "" : frame.kind == FrameKind::blank ? " b" : " f");
            const PointPx middle = centre(frame.corners);
            cv::putText(image, text, {static_cast<int>(middle.x * scale) - 16, static_cast<int>(middle.y * scale)}, cv::FONT_HERSHEY_SIMPLEX, 0.4,
                        {255, 160, 255}, 1, cv::LINE_AA);
        }
    }
    caption(image, outcome);
    if (!cv::imwrite(path, image)) throw std::runtime_error("cannot write " + path);
}

}  // namespace basefog::suite
