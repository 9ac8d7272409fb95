// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/mend/mend.h"

#include "mend/constants.h"
#include "mend/fill.h"
#include "mend/grain.h"
#include "mend/infrared_density.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace basefog {

using namespace mending;

namespace {

/// Pixels above `foot` that hang together with one of `seed`.
cv::Mat grown_from(const cv::Mat& seed, const cv::Mat& foot) {
    cv::Mat labels;
    const int n = cv::connectedComponents(foot, labels, 8, CV_32S);
    std::vector<uchar> kept(static_cast<std::size_t>(n), 0);
    cv::Mat mask(foot.size(), CV_8U);
    for (int y = 0; y < labels.rows; ++y)
        for (int x = 0; x < labels.cols; ++x)
            if (seed.at<uchar>(y, x)) kept[static_cast<std::size_t>(labels.at<int>(y, x))] = 255;
    kept[0] = 0;
    for (int y = 0; y < labels.rows; ++y)
        for (int x = 0; x < labels.cols; ++x) mask.at<uchar>(y, x) = kept[static_cast<std::size_t>(labels.at<int>(y, x))];
    return mask;
}

/// Bodies of what rises above the noise, as far as a seed's blurred skirt goes: what reaches further is smooth, and judged as that.
cv::Mat bodies(const cv::Mat& smooth, float noise, double px_per_mm) {
    const cv::Mat seed = smooth > std::max(kSeed, kSeedSigmas * noise);
    cv::Mat away;
    cv::distanceTransform(~seed, away, cv::DIST_L2, 3);
    const cv::Mat skirt = away <= std::max(kSkirtPx, kSkirtMm * px_per_mm);
    return grown_from(seed, (smooth > std::max(kFoot, kFootSigmas * noise)) & skirt);
}

/// Backing spread smoothly, by its mean over spots.
cv::Mat smears(const cv::Mat& density, float noise, double px_per_mm) {
    cv::Mat spot;
    const int side = std::max(3, static_cast<int>(std::lround(kSmearSpotMm * px_per_mm)) | 1);
    cv::boxFilter(density, spot, CV_32F, cv::Size(side, side));
    return grown_from(spot > kSmearSeed, spot > std::max(kSmear, kSmearSigmas * noise / static_cast<float>(side)));
}

/// How wrong a divided pixel may be: the defect's own share, and its slope times what registration leaves open.
cv::Mat division_error(const cv::Mat& density, const MendFacts& facts) {
    cv::Mat dx, dy;
    cv::Sobel(density, dx, CV_32F, 1, 0, 3, 1.0 / 8);
    cv::Sobel(density, dy, CV_32F, 0, 1, 3, 1.0 / 8);
    const auto slip = std::max(kLeastSlipPx, static_cast<float>(facts.infrared->match.std_uncertainty));
    cv::Mat slope, error;
    cv::magnitude(dx, dy, slope);
    cv::dilate(slope, slope, cv::Mat::ones(3, 3, CV_8U));  // on a small speck's top the slope is nought, and what is known no better
    cv::magnitude(slope * slip, density * kGainError, error);
    return error;
}

/// Takes out of `hole` what is wider than can be filled, and if `whole` all that hangs together with it; returns how many pixels that
/// were.
std::int64_t spare_wide(cv::Mat& hole, double px_per_mm, bool whole) {
    const double radius = std::max(2.0, kWidestFillMm / 2 * px_per_mm);
    cv::Mat framed, depth;
    cv::copyMakeBorder(hole, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::distanceTransform(framed, depth, cv::DIST_L2, 3);
    const cv::Mat core = depth(cv::Rect(1, 1, hole.cols, hole.rows)) > radius;
    if (cv::countNonZero(core) == 0) return 0;
    if (!whole) {
        cv::Mat away;
        cv::distanceTransform(~core, away, cv::DIST_L2, 3);
        const cv::Mat wide = (away <= radius + 1) & hole;
        hole &= ~wide;
        return cv::countNonZero(wide);
    }
    cv::Mat labels;
    std::vector<uchar> wide(static_cast<std::size_t>(cv::connectedComponents(hole, labels, 8, CV_32S)), 0);
    for (int y = 0; y < hole.rows; ++y)
        for (int x = 0; x < hole.cols; ++x)
            if (core.at<uchar>(y, x)) wide[static_cast<std::size_t>(labels.at<int>(y, x))] = 1;
    std::int64_t spared = 0;
    for (int y = 0; y < hole.rows; ++y)
        for (int x = 0; x < hole.cols; ++x)
            if (hole.at<uchar>(y, x) && wide[static_cast<std::size_t>(labels.at<int>(y, x))]) {
                hole.at<uchar>(y, x) = 0;
                ++spared;
            }
    return spared;
}

void divide(View<LinearRgbi> pixels, const cv::Mat& where, const cv::Mat& density, const LinearRgbi& flare) {
    for (int y = 0; y < where.rows; ++y) {
        LinearRgbi* const row = pixels.row(y);
        for (int x = 0; x < where.cols; ++x) {
            const float d = density.at<float>(y, x);
            if (!where.at<uchar>(y, x) || !(d > 0)) continue;
            const float gain = std::pow(10.0F, d);
            row[x].r = (row[x].r - flare.r) * gain + flare.r;
            row[x].g = (row[x].g - flare.g) * gain + flare.g;
            row[x].b = (row[x].b - flare.b) * gain + flare.b;
        }
    }
}

Mending record(const cv::Mat& divided, const cv::Mat& hole) {
    Mending m;
    m.divided = cv::countNonZero(divided);
    m.filled = cv::countNonZero(hole);
    if (m.divided + m.filled == 0) return m;
    m.mask = Image<Mended>(hole.cols, hole.rows, Mended::untouched);
    for (int y = 0; y < hole.rows; ++y)
        for (int x = 0; x < hole.cols; ++x)
            m.mask(x, y) = hole.at<uchar>(y, x) ? Mended::filled : divided.at<uchar>(y, x) ? Mended::divided : Mended::untouched;
    return m;
}

Mending mend_by_infrared(View<LinearRgbi> pixels, PxRect rect, const MendFacts& facts) {
    const double px_per_mm = facts.scale.value();
    cv::Mat density = neutral_density(pixels, rect, facts);
    if (!facts.residue_left) level(density, kBlockMm * px_per_mm);
    cv::Mat smooth;
    cv::GaussianBlur(density, smooth, cv::Size(), kSmoothPx);
    const float noise = pixel_noise(smooth);
    cv::Mat mask = bodies(smooth, noise, px_per_mm);
    cv::dilate(mask, mask, cv::Mat::ones(3, 3, CV_8U));  // the blurred skirt
    cv::Mat allowed;
    cv::sqrt(grain_about(fine_structure(pixels, &LinearRgbi::g, facts.light.flare.g), mask, px_per_mm), allowed);
    allowed = cv::min(cv::max(allowed, kLeastDivideError), kDivideError);
    cv::Mat hole = (smooth > kMostDivided) | (division_error(smooth, facts) > allowed);
    hole &= mask;
    if (facts.residue_left) mask |= smears(density, noise, px_per_mm);
    const std::int64_t beyond = spare_wide(hole, px_per_mm, false);
    // Where density hardly changes from pixel to pixel its own noise is not passed on.
    smooth.copyTo(density, cv::abs(density - smooth) < 3 * noise);
    const cv::Mat divided = mask & ~hole & (density > 0);
    divide(pixels, divided, density, facts.light.flare);
    const int places = fill_holes(pixels, hole, mask, {facts.light.flare, px_per_mm});
    quieten(pixels, {divided, density, mask}, facts.light.flare, px_per_mm);
    Mending m = record(divided, hole);
    m.places = places;
    m.beyond = beyond;
    return m;
}

/// Without infrared: the map's dust and scratches, a little wider, are filled; if asked, its small spots of residue too.
Mending mend_by_map(View<LinearRgbi> pixels, PxRect rect, const DefectMap& map, const MendFacts& facts, bool likely_too) {
    cv::Mat hole = cv::Mat::zeros(static_cast<int>(pixels.height()), static_cast<int>(pixels.width()), CV_8U);
    for (int y = 0; y < hole.rows; ++y) {
        for (int x = 0; x < hole.cols; ++x) {
            const std::int64_t mx = (rect.x0 + x) / map.factor, my = (rect.y0 + y) / map.factor;
            if (mx < 0 || my < 0 || mx >= map.defects.width() || my >= map.defects.height()) continue;
            const Defect d = map.defects(mx, my);
            if (d == Defect::dust || d == Defect::scratch || (likely_too && d == Defect::residue)) hole.at<uchar>(y, x) = 255;
        }
    }
    if (cv::countNonZero(hole) == 0) return {};
    const int reach = 2 * map.factor + 1;
    cv::dilate(hole, hole, cv::Mat::ones(reach, reach, CV_8U));
    const std::int64_t beyond = spare_wide(hole, facts.scale.value(), true);
    const cv::Mat none = cv::Mat::zeros(hole.size(), CV_8U);
    const int places = fill_holes(pixels, hole, none, {facts.light.flare, facts.scale.value()});
    Mending m = record(none, hole);
    m.places = places;
    m.beyond = beyond;
    return m;
}

}  // namespace

Mending mend(View<LinearRgbi> pixels, PxRect rect, const DefectMap& map, const MendFacts& facts, const MendOptions& options) {
    BASEFOG_ASSERT(pixels.width() == rect.width() && pixels.height() == rect.height());
    constexpr std::int64_t kLeastSide = 16;  // less holds no surroundings to fill from
    if (options.mode == MendMode::off || pixels.width() < kLeastSide || pixels.height() < kLeastSide) return {};
    if (facts.infrared && !facts.silver) return mend_by_infrared(pixels, rect, facts);
    return mend_by_map(pixels, rect, map, facts, options.mode == MendMode::all);
}

}  // namespace basefog
