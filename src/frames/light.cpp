// SPDX-License-Identifier: GPL-3.0-or-later
#include "light.h"

#include "constants.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace basefog::frames {

namespace {

constexpr float kLeastLight = 1e-6F;  // Chosen: density 6, past any scanner.

float at_share(std::vector<float>& values, double share_above) {
    const auto n = static_cast<std::ptrdiff_t>(values.size());
    const auto k = std::clamp<std::ptrdiff_t>(static_cast<std::ptrdiff_t>(static_cast<double>(n) * (1 - share_above)), 0, n - 1);
    std::nth_element(values.begin(), values.begin() + k, values.end());
    return values[static_cast<std::size_t>(k)];
}

std::array<double, 6> terms(double x, double y) { return {1, x, y, x * x, x * y, y * y}; }

using Surface = Eigen::Matrix<double, 6, 1>;
/// Least squares for a surface that opposite edges are on average no brighter on than its middle, but for a little: a lamp is brightest about its middle,
/// and bare light beyond both ends of a strip of clear film would look like one that is not.
Surface solve_falling(Eigen::Matrix<double, 6, 6> normal, Surface right) {
    constexpr double kMostGrowth = 0.01;         // Chosen: log10 from the middle to an edge; what a scanner's own correction leaves
    constexpr Eigen::Index kSquares[] = {3, 5};  // of terms()
    Surface out = normal.ldlt().solve(right);
    for (int sweep = 0; sweep < 2; ++sweep)  // holding one back may push the other over
        for (const Eigen::Index k : kSquares) {
            if (out(k) <= kMostGrowth) continue;
            right -= kMostGrowth * normal.col(k);
            normal.row(k).setZero(), normal.col(k).setZero();
            normal(k, k) = 1, right(k) = kMostGrowth;
            out = normal.ldlt().solve(right);
        }
    return out;
}

}  // namespace

CoarseSheet reduce(const Overview& overview, int step) {
    const int w = static_cast<int>(overview.pixels.width()) / step, h = static_cast<int>(overview.pixels.height()) / step;
    CoarseSheet sheet{cv::Mat(h, w, CV_32FC3), step};
    const float scale = 1.0F / static_cast<float>(step * step);
    std::vector<cv::Vec3f> sums(static_cast<std::size_t>(w));
    for (int y = 0; y < h; ++y) {
        std::fill(sums.begin(), sums.end(), cv::Vec3f(0, 0, 0));
        for (int j = 0; j < step; ++j) {
            const LinearRgbi* in = overview.pixels.row(static_cast<std::int64_t>(y) * step + j);
            for (int x = 0; x < w; ++x) {
                for (int i = 0; i < step; ++i) {
                    const std::array<float, 3> light = clean_light(in[x * step + i]);
                    sums[static_cast<std::size_t>(x)] += cv::Vec3f(light[0], light[1], light[2]);
                }
            }
        }
        cv::Vec3f* out = sheet.light.ptr<cv::Vec3f>(y);
        for (int x = 0; x < w; ++x) out[x] = sums[static_cast<std::size_t>(x)] * scale;
    }
    return sheet;
}

SheetLight SheetLight::known(double overview_width, double overview_height) {
    SheetLight light;
    light.width_ = overview_width;
    light.height_ = overview_height;
    light.bare_seen_ = light.any_light_ = true;
    return light;
}

SheetLight SheetLight::measure(const CoarseSheet& sheet, double overview_width, double overview_height) {
    SheetLight light;
    light.width_ = overview_width;
    light.height_ = overview_height;
    light.find_levels(sheet);
    if (light.bare_seen_) {
        light.fit_from_above(sheet);
        light.part_bare_from_clear(sheet);
        light.fit_falloff(sheet);
    }
    return light;
}

void SheetLight::find_levels(const CoarseSheet& sheet) {
    const std::size_t n = sheet.light.total();
    std::array<std::vector<float>, 3> channel;
    std::array<float, 3> top{};
    for (int c = 0; c < 3; ++c) {
        channel[c].reserve(n);
        for (int y = 0; y < sheet.light.rows; ++y) {
            const cv::Vec3f* row = sheet.light.ptr<cv::Vec3f>(y);
            for (int x = 0; x < sheet.light.cols; ++x) channel[c].push_back(row[x][c]);
        }
        top[c] = at_share(channel[c], kTopShare);
        falloff_[c] = {std::log10(std::max(top[c], kLeastLight)), 0, 0, 0, 0, 0};
    }
    any_light_ = *std::max_element(top.begin(), top.end()) > 1e-4F;
    bare_seen_ = any_light_ && top[2] > kMaskBlueOverRed * top[0];
    if (!any_light_) return;

    std::vector<float> share(n, 0.0F);
    std::size_t i = 0;
    for (int y = 0; y < sheet.light.rows; ++y) {
        const cv::Vec3f* row = sheet.light.ptr<cv::Vec3f>(y);
        for (int x = 0; x < sheet.light.cols; ++x, ++i) {
            for (int c = 0; c < 3; ++c) share[i] = std::max(share[i], row[x][c] / std::max(top[c], kLeastLight));
        }
    }
    const double holder = at_share(share, 0.9);  // the darkest tenth lies under this
    double dark = std::clamp(kDarkOverHolder * holder, kDarkShareLow, kDarkShareHigh);
    // A holder under heavy flare, or in a scan whose encoding is not linear after all, is brighter, but as even as ever.
    if (at_share(share, 0.98) > kEvenHolder * holder) dark = std::clamp(kEvenOverHolder * holder, dark, kDarkShareMost);
    dark_density_ = -std::log10(dark);
}

/// A first course of bare light: a surface that the brightest spots of the sheet's tiles touch from below. Where little
/// bare light is in view and much clear film without a mask, anything like an average would follow the film.
void SheetLight::fit_from_above(const CoarseSheet& sheet) {
    constexpr int kTiles = 24;
    constexpr double kBelow = 0.02;  // Chosen: weight of tiles under the surface
    const int side = std::max(4, std::max(sheet.light.cols, sheet.light.rows) / kTiles);
    std::vector<std::array<double, 6>> at;
    std::vector<std::array<double, 3>> top;
    for (int y0 = 0; y0 < sheet.light.rows; y0 += side) {
        for (int x0 = 0; x0 < sheet.light.cols; x0 += side) {
            std::vector<std::pair<float, cv::Point>> brightness;
            for (int y = y0; y < std::min(sheet.light.rows, y0 + side); ++y) {
                for (int x = x0; x < std::min(sheet.light.cols, x0 + side); ++x) {
                    const cv::Vec3f& p = sheet.light.at<cv::Vec3f>(y, x);
                    brightness.emplace_back(std::min({p[0], p[1], p[2]}), cv::Point(x, y));
                }
            }
            const auto second = brightness.begin() + std::min<std::ptrdiff_t>(2, static_cast<std::ptrdiff_t>(brightness.size()) - 1);
            std::nth_element(brightness.begin(), second, brightness.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
            const cv::Point q = second->second;
            const cv::Vec3f& p = sheet.light.at<cv::Vec3f>(q);
            const double px = (q.x + 0.5) * sheet.step, py = (q.y + 0.5) * sheet.step;
            const std::array<float, 3> d = density({p[0], p[1], p[2]}, px, py);
            if (std::max({std::abs(d[0]), std::abs(d[1]), std::abs(d[2])}) > 0.12) continue;
            at.push_back(terms(2 * px / width_ - 1, 2 * py / height_ - 1));
            top.push_back({std::log10(std::max(p[0], kLeastLight)), std::log10(std::max(p[1], kLeastLight)), std::log10(std::max(p[2], kLeastLight))});
        }
    }
    if (at.size() < 12) return;
    for (int c = 0; c < 3; ++c) {
        for (int pass = 0; pass < 15; ++pass) {
            Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
            Surface right = Surface::Zero();
            for (std::size_t i = 0; i < at.size(); ++i) {
                const Eigen::Map<const Surface> t(at[i].data()), k(falloff_[c].data());
                const double weight = top[i][c] > k.dot(t) ? 1 : kBelow;
                normal += weight * t * t.transpose();
                right += weight * t * top[i][c];
            }
            for (int k = 1; k < 6; ++k) normal(k, k) += 0.002 * static_cast<double>(at.size());
            const Surface solved = solve_falling(normal, right);
            for (int k = 0; k < 6; ++k) falloff_[c][static_cast<std::size_t>(k)] = solved(k);
        }
    }
}

/// Clear film on a support without any dye may be nearly as bright as no film: where a second crowd of densities stands just above
/// bare light's, the valley between them parts the two.
void SheetLight::part_bare_from_clear(const CoarseSheet& sheet) {
    constexpr double kFrom = -0.04, kBin = 0.002, kPeakTo = 0.012, kSecondTo = 0.08;
    constexpr int kBins = 70;
    std::array<double, kBins> counts{}, smooth{};
    for (int y = 0; y < sheet.light.rows; ++y) {
        const cv::Vec3f* row = sheet.light.ptr<cv::Vec3f>(y);
        for (int x = 0; x < sheet.light.cols; ++x) {
            const std::array<float, 3> d = density({row[x][0], row[x][1], row[x][2]}, (x + 0.5) * sheet.step, (y + 0.5) * sheet.step);
            const int bin = static_cast<int>(std::floor((std::max({d[0], d[1], d[2]}) - kFrom) / kBin));
            if (bin >= 0 && bin < kBins) ++counts[static_cast<std::size_t>(bin)];
        }
    }
    for (std::size_t i = 1; i + 1 < kBins; ++i) smooth[i] = 0.25 * counts[i - 1] + 0.5 * counts[i] + 0.25 * counts[i + 1];
    const auto bin_of = [&](double d) { return static_cast<std::size_t>((d - kFrom) / kBin); };
    const auto most_in = [&](std::size_t from, std::size_t to) {
        return static_cast<std::size_t>(std::max_element(smooth.begin() + static_cast<std::ptrdiff_t>(from), smooth.begin() + static_cast<std::ptrdiff_t>(to)) -
                                        smooth.begin());
    };
    const std::size_t bare = most_in(1, bin_of(kPeakTo));
    double deepest = 1;
    for (std::size_t i = bare + 1; i < bin_of(kBareDensity); ++i) {
        const double after = smooth[most_in(i + 1, bin_of(kSecondTo))], least = std::min(smooth[bare], after);
        // Enough of either, and a valley that is one.
        if (least < 0.002 * static_cast<double>(sheet.light.total()) || smooth[i] > 0.3 * least || smooth[i] / least >= deepest) continue;
        deepest = smooth[i] / least;
        bare_density_ = kFrom + (static_cast<double>(i) + 0.5) * kBin;
    }
}

void SheetLight::fit_falloff(const CoarseSheet& sheet) {
    const double tolerance[] = {0.035, 0.03, 0.025};  // clear film under 0.04 must stay out
    for (const double wide : tolerance) {
        const double keep = std::min(wide, 0.8 * bare_density_);
        std::array<Eigen::Matrix<double, 6, 6>, 3> normal;
        std::array<Surface, 3> right;
        for (int c = 0; c < 3; ++c) {
            normal[c].setZero();
            right[c].setZero();
        }
        std::int64_t used = 0;
        for (int y = 0; y < sheet.light.rows; ++y) {
            const cv::Vec3f* row = sheet.light.ptr<cv::Vec3f>(y);
            for (int x = 0; x < sheet.light.cols; ++x) {
                const double px = (x + 0.5) * sheet.step, py = (y + 0.5) * sheet.step;
                const std::array<float, 3> d = density({row[x][0], row[x][1], row[x][2]}, px, py);
                if (std::max({std::abs(d[0]), std::abs(d[1]), std::abs(d[2])}) > keep) continue;
                ++used;
                const std::array<double, 6> t = terms(2 * px / width_ - 1, 2 * py / height_ - 1);
                const Eigen::Map<const Surface> v(t.data());
                for (int c = 0; c < 3; ++c) {
                    normal[c] += v * v.transpose();
                    right[c] += v * std::log10(std::max(row[x][c], kLeastLight));
                }
            }
        }
        if (used < 60) return;
        for (int c = 0; c < 3; ++c) {
            // A little pull towards "no falloff": bare light may be seen along one line only.
            for (int k = 1; k < 6; ++k) normal[c](k, k) += 1e-3 * static_cast<double>(used) + 1;
            const Surface solved = solve_falling(normal[c], right[c]);
            for (int k = 0; k < 6; ++k) falloff_[c][static_cast<std::size_t>(k)] = solved(k);
        }
    }
}

std::array<double, 3> SheetLight::bare_log(double x, double y) const {
    const std::array<double, 6> t = terms(std::clamp(2 * x / width_ - 1, -1.0, 1.0), std::clamp(2 * y / height_ - 1, -1.0, 1.0));
    std::array<double, 3> out{};
    for (int c = 0; c < 3; ++c) {
        for (int k = 0; k < 6; ++k) out[c] += falloff_[c][static_cast<std::size_t>(k)] * t[static_cast<std::size_t>(k)];
    }
    return out;
}

std::array<float, 3> SheetLight::density(const std::array<float, 3>& light, double x, double y) const {
    const std::array<double, 3> bare = bare_log(x, y);
    std::array<float, 3> d{};
    for (int c = 0; c < 3; ++c) d[c] = static_cast<float>(bare[c]) - std::log10(std::max(light[c], kLeastLight));
    return d;
}

Shade SheetLight::shade(const std::array<float, 3>& density) const {
    const auto [least, most] = std::minmax({density[0], density[1], density[2]});
    if (least > dark_density_) return Shade::dark;
    return bare_seen_ && most < bare_density_ ? Shade::bare : Shade::film;
}

int coarse_step(const Overview& overview, double px_per_mm) {
    const auto longest = static_cast<double>(std::max(overview.pixels.width(), overview.pixels.height()));
    const double step = px_per_mm > 0 ? px_per_mm / kCoarsePxPerMm : longest / kCoarseLongestPx;
    return std::clamp(static_cast<int>(std::floor(step)), 1, std::max(1, static_cast<int>(std::min(overview.pixels.width(), overview.pixels.height()))));
}

SheetLight measure_light(const Overview& overview, double px_per_mm) {
    if (overview.light_divided) return SheetLight::known(static_cast<double>(overview.pixels.width()), static_cast<double>(overview.pixels.height()));
    return SheetLight::measure(reduce(overview, coarse_step(overview, px_per_mm)), static_cast<double>(overview.pixels.width()),
                               static_cast<double>(overview.pixels.height()));
}

cv::Mat shade_map(const CoarseSheet& sheet, const SheetLight& light) {
    cv::Mat map(sheet.light.size(), CV_8U);
    for (int y = 0; y < map.rows; ++y) {
        const cv::Vec3f* row = sheet.light.ptr<cv::Vec3f>(y);
        auto* out = map.ptr<unsigned char>(y);
        for (int x = 0; x < map.cols; ++x) {
            const std::array<float, 3> d = light.density({row[x][0], row[x][1], row[x][2]}, (x + 0.5) * sheet.step, (y + 0.5) * sheet.step);
            out[x] = static_cast<unsigned char>(light.shade(d));
        }
    }
    return map;
}

float light_at(const Overview& overview, PointPx p, const std::array<float, 3>& gain) {
    const auto w = overview.pixels.width(), h = overview.pixels.height();
    const double x = std::clamp(p.x - 0.5, 0.0, static_cast<double>(w - 1)), y = std::clamp(p.y - 0.5, 0.0, static_cast<double>(h - 1));
    const auto x0 = static_cast<std::int64_t>(x), y0 = static_cast<std::int64_t>(y);
    const std::int64_t x1 = std::min(x0 + 1, w - 1), y1 = std::min(y0 + 1, h - 1);
    const auto fx = static_cast<float>(x - static_cast<double>(x0)), fy = static_cast<float>(y - static_cast<double>(y0));
    const auto light = [&](std::int64_t i, std::int64_t j) {
        const std::array<float, 3> c = clean_light(overview.pixels(i, j));
        return c[0] * gain[0] + c[1] * gain[1] + c[2] * gain[2];
    };
    const float top = light(x0, y0) + fx * (light(x1, y0) - light(x0, y0));
    const float bottom = light(x0, y1) + fx * (light(x1, y1) - light(x0, y1));
    return top + fy * (bottom - top);
}

}  // namespace basefog::frames
