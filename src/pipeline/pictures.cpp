// SPDX-License-Identifier: GPL-3.0-or-later
#include "pictures.h"

#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

namespace basefog::pipeline {
namespace {

constexpr int kJpegQuality = 82;  // Chosen: a sheet stays under about 300 kB; safe range 70 to 92.

// BGRA: residue violet-red, dust blue, scratch green; the report explains them in words beside the picture.
const cv::Vec4b kResidue(120, 30, 200, 150), kResidueFaint(120, 30, 200, 50), kDust(210, 110, 0, 230), kScratch(60, 160, 0, 230);
constexpr double kFrameLongSide = 480;  // Chosen: as large as the proof it lies over in the report.

Result<std::string> png_bytes(const cv::Mat& picture) {
    std::vector<unsigned char> bytes;
    try {
        if (!cv::imencode(".png", picture, bytes)) return fail(ErrorCode::unwritable, "the residue picture could not be encoded");
    } catch (const cv::Exception& e) {
        return fail(ErrorCode::unwritable, std::string("the residue picture could not be encoded: ") + e.what());
    }
    return std::string(bytes.begin(), bytes.end());
}

std::int64_t step_for(std::int64_t width, std::int64_t height, int long_side) {
    return std::max<std::int64_t>(1, (std::max(width, height) + long_side - 1) / long_side);
}

std::uint8_t code(double linear) { return static_cast<std::uint8_t>(std::lround(255 * std::clamp(srgb_encode(linear), 0.0, 1.0))); }

}  // namespace

Result<std::string> overview_jpeg(const Overview& overview, int long_side) {
    const Image<LinearRgbi>& in = overview.pixels;
    const std::int64_t step = step_for(in.width(), in.height(), long_side);
    Image<EncodedRgb8> out(std::max<std::int64_t>(1, in.width() / step), std::max<std::int64_t>(1, in.height() / step));
    for (std::int64_t y = 0; y < out.height(); ++y) {
        for (std::int64_t x = 0; x < out.width(); ++x) {
            double r = 0, g = 0, b = 0;
            for (std::int64_t j = 0; j < step; ++j)
                for (std::int64_t i = 0; i < step; ++i) {
                    const LinearRgbi& p = in(std::min(x * step + i, in.width() - 1), std::min(y * step + j, in.height() - 1));
                    r += p.r;
                    g += p.g;
                    b += p.b;
                }
            const double n = static_cast<double>(step * step);
            out(x, y) = {code(r / n), code(g / n), code(b / n)};
        }
    }
    return jpeg_bytes(out.view(), kJpegQuality);
}

Result<std::string> residue_png(const SheetResidue& residue, int long_side) {
    const Image<Defect>& in = residue.defects;
    if (in.empty()) return std::string{};
    const std::int64_t step = step_for(in.width(), in.height(), long_side);
    cv::Mat out(static_cast<int>(std::max<std::int64_t>(1, in.height() / step)), static_cast<int>(std::max<std::int64_t>(1, in.width() / step)), CV_8UC4,
                cv::Scalar(0, 0, 0, 0));
    bool any = false;
    for (int y = 0; y < out.rows; ++y) {
        for (int x = 0; x < out.cols; ++x) {
            std::array<int, 4> count{};
            for (std::int64_t j = 0; j < step; ++j)
                for (std::int64_t i = 0; i < step; ++i)
                    ++count[static_cast<std::size_t>(in(std::min(x * step + i, in.width() - 1), std::min(y * step + j, in.height() - 1)))];
            // Dust and scratches are small: one pixel of them in the cell is shown; residue needs half the cell.
            const bool small_defect = count[2] + count[3] > 0;
            if (!small_defect && 2 * count[1] < step * step) continue;
            any = true;
            out.at<cv::Vec4b>(y, x) = !small_defect ? kResidue : count[3] > count[2] ? kScratch : kDust;
        }
    }
    if (!any) return std::string{};
    return png_bytes(out);
}

Result<std::string> frame_defects_png(const Image<Defect>& defects, const Quad& corners, int factor) {
    if (defects.empty() || factor < 1) return std::string{};
    const double width = distance(corners[0], corners[1]), height = distance(corners[0], corners[3]);
    if (!(width >= 1) || !(height >= 1)) return std::string{};
    const double shrink = std::min(1.0, kFrameLongSide / std::max(width, height));
    cv::Mat out(std::max(1, static_cast<int>(std::lround(height * shrink))), std::max(1, static_cast<int>(std::lround(width * shrink))), CV_8UC4,
                cv::Scalar(0, 0, 0, 0));
    bool any = false;
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.cols; ++x) {
            const PointPx p = inside(corners, (x + 0.5) / out.cols, (y + 0.5) / out.rows) * (1.0 / factor);
            if (!(p.x >= 0 && p.y >= 0 && p.x < static_cast<double>(defects.width()) && p.y < static_cast<double>(defects.height()))) continue;
            const Defect defect = defects(static_cast<std::int64_t>(p.x), static_cast<std::int64_t>(p.y));
            any |= defect != Defect::none;
            if (defect == Defect::residue) out.at<cv::Vec4b>(y, x) = (x + y) % 6 < 3 ? kResidue : kResidueFaint;
            if (defect == Defect::dust) out.at<cv::Vec4b>(y, x) = kDust;
            if (defect == Defect::scratch) out.at<cv::Vec4b>(y, x) = x % 4 < 2 ? kScratch : cv::Vec4b(0, 0, 0, 0);
        }
    if (!any) return std::string{};
    return png_bytes(out);
}

}  // namespace basefog::pipeline
