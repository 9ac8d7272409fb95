// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/by_colour.h"

#include "residue/constants.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace basefog::residue {

namespace {

/// Neutrality is judged over a spot of this size: small enough for a speck, large enough to quiet the grain.
constexpr double kSpotMm = 0.25;
/// Edge marks are strokes narrower than this and may be as neutral as carbon, so only wider patches count as residue.
constexpr double kStrokeMm = 0.6;

/// Mean over the mask's pixels within the spot; elsewhere 0.
cv::Mat spot_mean(const cv::Mat& plane, const cv::Mat& weight, double sigma_px) {
    cv::Mat top, bottom, masked = plane.mul(weight);
    cv::GaussianBlur(masked, top, cv::Size(), sigma_px);
    cv::GaussianBlur(weight, bottom, cv::Size(), sigma_px);
    return top / cv::max(bottom, 1e-3);
}

/// The plane opened by a disc wider than a stroke, over clear film alone.
cv::Mat wide_rises(const cv::Mat& plane, const StripPlanes& strip) {
    constexpr double kNoPart = 1e3;
    const cv::Mat element = disc(kStrokeMm * strip.px_per_mm);
    cv::Mat opened = plane.clone();
    opened.setTo(kNoPart, strip.clear == 0);
    cv::erode(opened, opened, element);
    opened.setTo(-kNoPart, strip.clear == 0);
    cv::dilate(opened, opened, element);
    return opened;
}

}  // namespace

ColourResidue residue_by_colour(const StripPlanes& strip) {
    ColourResidue result;
    cv::Mat weight;
    strip.clear.convertTo(weight, CV_32F, 1.0 / 255);
    const double sigma = std::max(0.5, kSpotMm * strip.px_per_mm / 2);
    std::array<cv::Mat, 3> spot;
    for (std::size_t c = 0; c < 3; ++c) {
        result.noise = std::max(result.noise, pixel_noise(strip.above_base[c], strip.clear));
        spot[c] = spot_mean(strip.above_base[c], weight, sigma);
    }
    const cv::Mat mean = (spot[0] + spot[1] + spot[2]) / 3;
    const cv::Mat spread = cv::max(spot[0], cv::max(spot[1], spot[2])) - cv::min(spot[0], cv::min(spot[1], spot[2]));
    const double spot_noise = result.noise / (2 * std::sqrt(3.14159265) * sigma);
    cv::Mat neutral = spread < (2 * kNeutralShare * mean + 2 * kNeutralSigmas * spot_noise);
    const cv::Mat pixel_mean = (strip.above_base[0] + strip.above_base[1] + strip.above_base[2]) / 3;
    neutral &= wide_rises(pixel_mean, strip) > 0.5 * pixel_mean;
    result.density = cv::Mat(strip.clear.size(), CV_32F, cv::Scalar(0));
    pixel_mean.copyTo(result.density, neutral & strip.clear);
    result.density.setTo(0, result.density < 0);
    result.judged = strip.clear.clone();
    return result;
}

}  // namespace basefog::residue
