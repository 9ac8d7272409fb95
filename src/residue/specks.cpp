// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/specks.h"

#include "residue/constants.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace basefog::residue {

namespace {

constexpr double kDegrees = 180 / 3.14159265358979323846;
/// By colour: how far a speck's channels may differ, as a share of its contrast and in standard deviations of it. Chosen: half
/// of what the closest greys of a picture show; a sharp lens and a steady carriage are taken for granted.
constexpr double kSpeckNeutral = 0.03, kScatterSigmas = 1.5;
/// Least contrast of a speck told by colour, against the film just around it, in density and in that film's own texture.
constexpr double kColourContrast = 0.10, kAboveTexture = 4;
/// Largest compact speck and shortest fibre told by colour. Chosen: dust is under half a millimetre across.
constexpr double kColourSpeckMm2 = 0.15;
constexpr double kColourFibreMm = 0.6;
/// Pseudo-count that keeps an empty class from claiming that no dust ever falls.
constexpr double kPseudoCount = 0.5;

/// What rises above its surroundings and is narrower than kObjectWidthMm; what is not visible takes no part.
cv::Mat narrow_rises(const cv::Mat& plane, const StripPlanes& strip) {
    constexpr double kNoPart = 1e3;
    const cv::Mat hidden = strip.visible == 0, element = disc(kObjectWidthMm * strip.px_per_mm);
    cv::Mat low = plane.clone(), opened;
    low.setTo(kNoPart, hidden);
    cv::erode(low, low, element);
    low.setTo(-kNoPart, hidden);
    cv::dilate(low, opened, element);
    cv::Mat rise = plane - opened;
    rise.setTo(0, hidden);
    return rise;
}

struct Shape {
    double length = 0, width = 0, angle_deg = 0;  // pixels
};

/// Of a component's weighted second moments: a bar of length L has variance L^2 / 12.
Shape shape_of(const cv::Mat& rise, const cv::Mat& labels, int label, const cv::Rect& box) {
    double w = 0, mx = 0, my = 0, xx = 1.0 / 12, yy = 1.0 / 12, xy = 0;
    const auto each = [&](const auto& use) {
        for (int y = box.y; y < box.y + box.height; ++y) {
            for (int x = box.x; x < box.x + box.width; ++x) {
                if (labels.at<int>(y, x) == label) use(x, y, static_cast<double>(rise.at<float>(y, x)));
            }
        }
    };
    each([&](int x, int y, double weight) {
        w += weight;
        mx += weight * x;
        my += weight * y;
    });
    mx /= w;
    my /= w;
    each([&](int x, int y, double weight) {
        xx += weight * (x - mx) * (x - mx) / w;
        yy += weight * (y - my) * (y - my) / w;
        xy += weight * (x - mx) * (y - my) / w;
    });
    const double half = (xx + yy) / 2, turn = std::hypot((xx - yy) / 2, xy);
    return {std::sqrt(12 * (half + turn)), std::sqrt(12 * std::max(1e-6, half - turn)), 0.5 * std::atan2(2 * xy, xx - yy) * kDegrees};
}

double angle_between(double a, double b) {
    const double d = std::fmod(std::abs(a - b), 180.0);
    return std::min(d, 180 - d);
}

/// Clears the labels of specks that were dropped.
void keep_labels(SpeckMap& map) {
    int most = 0;
    for (const Speck& s : map.specks) most = std::max(most, s.label);
    std::vector<uchar> kept(static_cast<std::size_t>(most) + 1, 0);
    for (const Speck& s : map.specks) kept[static_cast<std::size_t>(s.label)] = 1;
    for (int y = 0; y < map.labels.rows; ++y) {
        for (int x = 0; x < map.labels.cols; ++x) {
            int& label = map.labels.at<int>(y, x);
            if (label > most || !kept[static_cast<std::size_t>(label)]) label = 0;
        }
    }
}

/// Components of `rise` above `foot` that reach `least` somewhere.
SpeckMap components(const cv::Mat& rise, const cv::Mat& least, const StripPlanes& strip) {
    cv::Mat seeds = rise > least;
    seeds &= strip.visible;
    cv::Mat foot;  // 30 % of the highest rise nearby
    cv::dilate(rise, foot, disc(kObjectWidthMm * strip.px_per_mm));
    cv::Mat body = (rise > kObjectFoot * foot) & (rise > kObjectFoot * least) & strip.visible;
    cv::Mat labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(body, labels, stats, centres, 8, CV_32S);
    std::vector<double> peak(static_cast<std::size_t>(n), 0.0);
    for (int y = 0; y < labels.rows; ++y) {
        for (int x = 0; x < labels.cols; ++x) {
            const int label = labels.at<int>(y, x);
            if (label > 0 && seeds.at<uchar>(y, x))
                peak[static_cast<std::size_t>(label)] = std::max<double>(peak[static_cast<std::size_t>(label)], rise.at<float>(y, x));
        }
    }
    cv::Mat dx, dy, slope;
    cv::Sobel(rise, dx, CV_32F, 1, 0, 3, 1.0 / 8);
    cv::Sobel(rise, dy, CV_32F, 0, 1, 3, 1.0 / 8);
    cv::magnitude(dx, dy, slope);
    std::vector<double> steepest(static_cast<std::size_t>(n), 0.0);
    for (int y = 0; y < labels.rows; ++y) {
        for (int x = 0; x < labels.cols; ++x) {
            double& most = steepest[static_cast<std::size_t>(labels.at<int>(y, x))];
            most = std::max<double>(most, slope.at<float>(y, x));
        }
    }
    SpeckMap map;
    for (int label = 1; label < n; ++label) {
        if (peak[static_cast<std::size_t>(label)] <= 0) continue;
        const cv::Rect box(stats.at<int>(label, cv::CC_STAT_LEFT), stats.at<int>(label, cv::CC_STAT_TOP), stats.at<int>(label, cv::CC_STAT_WIDTH),
                           stats.at<int>(label, cv::CC_STAT_HEIGHT));
        const Shape shape = shape_of(rise, labels, label, box);
        Speck speck;
        speck.label = label;
        speck.box = box;
        speck.area_mm2 = stats.at<int>(label, cv::CC_STAT_AREA) / (strip.px_per_mm * strip.px_per_mm);
        speck.length_mm = shape.length / strip.px_per_mm;
        speck.width_mm = speck.area_mm2 / std::max(speck.length_mm, 1e-6);
        speck.peak = peak[static_cast<std::size_t>(label)];
        speck.opaque = speck.peak > kOpaqueContrast;
        speck.steepness = steepest[static_cast<std::size_t>(label)] / speck.peak;
        const bool thin = speck.width_mm < kFibreWidthMm && speck.length_mm > kFibreElongation * speck.width_mm;
        speck.angle_deg = shape.angle_deg;
        speck.line = thin && speck.length_mm > kLineLengthMm && angle_between(shape.angle_deg, strip.travel_deg) < kLineAngleDeg;
        speck.fibre = thin && !speck.line && speck.opaque;
        speck.large = speck.area_mm2 > kLargeSpeckMm2;
        map.specks.push_back(speck);
    }
    map.labels = labels;
    keep_labels(map);
    return map;
}

double masked_median(const cv::Mat& plane, const cv::Mat& mask) {
    std::vector<float> values;
    for (int y = 0; y < plane.rows; ++y) {
        for (int x = 0; x < plane.cols; ++x) {
            if (mask.at<uchar>(y, x)) values.push_back(plane.at<float>(y, x));
        }
    }
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// What a speck's channels rise by against the film around it, and how uncertain each is.
struct Rise {
    std::array<double, 3> contrast{}, scatter{};
    double texture = 0;  ///< standard deviation of the film around it, mean of the channels
};

/// Alike in all channels, as far as noise lets one say, and well above what the film around does by itself.
bool is_neutral(const Rise& rise) {
    const double mean = (rise.contrast[0] + rise.contrast[1] + rise.contrast[2]) / 3;
    if (mean < kColourContrast || mean < kAboveTexture * rise.texture) return false;
    for (std::size_t c = 0; c < 3; ++c)
        if (std::abs(rise.contrast[c] - mean) > kSpeckNeutral * mean + kScatterSigmas * rise.scatter[c]) return false;
    return true;
}

/// Carbon and dust darken all channels alike. A speck's mean against the film just around it says how much in each.
bool stands_out_neutrally(const StripPlanes& strip, const cv::Mat& labels, const Speck& speck) {
    constexpr int kMargin = 4;
    const cv::Rect box = cv::Rect(speck.box.x - kMargin, speck.box.y - kMargin, speck.box.width + 2 * kMargin, speck.box.height + 2 * kMargin) &
                         cv::Rect(0, 0, labels.cols, labels.rows);
    const cv::Mat core = labels(box) == speck.label;
    cv::Mat near, ring;
    cv::dilate(core, near, cv::Mat::ones(3, 3, CV_8U));
    cv::dilate(near, ring, cv::Mat::ones(5, 5, CV_8U));
    ring &= ~near;
    ring &= strip.visible(box);
    const int n = cv::countNonZero(ring), core_n = cv::countNonZero(core);
    if (n < 8) return false;
    Rise against_mean, against_median;
    for (std::size_t c = 0; c < 3; ++c) {
        const cv::Mat plane = strip.above_base[c](box);
        const double level = cv::mean(plane, core)[0], middle = masked_median(plane, ring);
        const double spread = 1.4826 * masked_median(cv::abs(plane - middle), ring);
        against_mean.contrast[c] = level - cv::mean(plane, ring)[0];
        against_median.contrast[c] = level - middle;
        against_mean.scatter[c] = against_median.scatter[c] = spread * std::sqrt(1.0 / core_n + 1.0 / n);
        against_mean.texture += spread / 3;
    }
    against_median.texture = against_mean.texture;
    // The median still holds where a picture's edge passes by the speck.
    return is_neutral(against_mean) || is_neutral(against_median);
}

/// Lines along the travel that are too weak for a speck but long enough to be sure of.
void add_weak_lines(SpeckMap& map, const cv::Mat& rise, const cv::Mat& residue, const StripPlanes& strip, double noise) {
    cv::Mat least = kObjectOverMottle * (residue - rise);
    least = cv::max(least, std::max(kLineContrast, kLineSigmas * noise));
    const SpeckMap weak = components(rise, least, strip);
    int next = 0;
    for (const Speck& s : map.specks) next = std::max(next, s.label);
    std::vector<int> renamed;
    for (Speck line : weak.specks) {
        line.width_mm = std::max(0.0, line.width_mm - kLineBlurPx / strip.px_per_mm);
        line.line = line.length_mm > kWeakLineElongation * line.width_mm && line.length_mm > kWeakLineLengthMm && line.width_mm < kScratchWidthMm &&
                    angle_between(line.angle_deg, strip.travel_deg) < kLineAngleDeg;
        if (!line.line) continue;
        line.fibre = false;
        renamed.resize(std::max(renamed.size(), static_cast<std::size_t>(line.label) + 1), 0);
        renamed[static_cast<std::size_t>(line.label)] = ++next;
        line.label = next;
        map.specks.push_back(line);
    }
    for (int y = 0; y < map.labels.rows; ++y) {
        for (int x = 0; x < map.labels.cols; ++x) {
            int& label = map.labels.at<int>(y, x);
            const auto here = static_cast<std::size_t>(weak.labels.at<int>(y, x));
            if (label == 0 && here < renamed.size()) label = renamed[here];
        }
    }
}

}  // namespace

SpeckMap specks_in_residue(const cv::Mat& residue, const StripPlanes& strip, double noise) {
    const cv::Mat rise = narrow_rises(residue, strip);
    cv::Mat least = kObjectOverMottle * (residue - rise);
    least = cv::max(least, std::max(kObjectContrast, kObjectSigmas * noise));
    SpeckMap map = components(rise, least, strip);
    add_weak_lines(map, rise, residue, strip, noise);
    return map;
}

SpeckMap specks_by_colour(const StripPlanes& strip, double noise) {
    std::array<cv::Mat, 3> rise;
    for (std::size_t c = 0; c < 3; ++c) rise[c] = narrow_rises(strip.above_base[c], strip);
    cv::Mat low = cv::min(rise[0], cv::min(rise[1], rise[2]));
    if (!strip.print.empty()) low.setTo(0, strip.print);
    const cv::Mat least(low.size(), CV_32F, cv::Scalar(std::max(1.2 * kObjectContrast, kObjectSigmas * noise)));
    SpeckMap map = components(low, least, strip);
    const auto unlikely = [](const Speck& s) { return s.fibre || s.line ? s.length_mm < kColourFibreMm : s.area_mm2 > kColourSpeckMm2; };
    std::erase_if(map.specks, [&](const Speck& s) { return unlikely(s) || !stands_out_neutrally(strip, map.labels, s); });
    keep_labels(map);
    return map;
}

namespace {

/// Dust lies on the film with a hard outline; carbon that was half washed off has a soft one. What is sharp is judged by the
/// sheet's own opaque specks, as the scanner's blur is theirs too.
void mark_sharp(std::vector<SpeckMap>& maps) {
    std::vector<double> steepness;
    for (const SpeckMap& map : maps)
        for (const Speck& s : map.specks)
            if (s.opaque) steepness.push_back(s.steepness);
    if (steepness.empty()) return;
    std::sort(steepness.begin(), steepness.end());
    const double hard = steepness[static_cast<std::size_t>(kHardQuantile * static_cast<double>(steepness.size() - 1))];
    for (SpeckMap& map : maps)
        for (Speck& s : map.specks) s.sharp = s.steepness > kSharpShare * hard;
}

/// How likely so many or more are by chance where `expected` are expected: a Poisson tail.
double chance_of(double expected, int count) {
    double term = std::exp(-expected), below = 0;
    for (int k = 0; k < count; ++k) {
        below += term;
        term *= expected / (k + 1);
    }
    return std::max(0.0, 1 - below);
}

/// How many specks of a kind fall on a square millimetre of the emptiest strip.
template <class Counted>
double least_rate(const std::vector<SpeckMap>& maps, const std::vector<SpeckSetting>& settings, const Counted& counted) {
    double rate = 1e9;
    for (std::size_t i = 0; i < maps.size(); ++i) {
        if (settings[i].visible_mm2 <= 0) continue;
        const auto n = static_cast<double>(std::count_if(maps[i].specks.begin(), maps[i].specks.end(), counted));
        rate = std::min(rate, (n + kPseudoCount) / settings[i].visible_mm2);
    }
    return rate;
}

/// On a smeared strip a class of specks is dust as far as the emptiest strip has as many.
template <class Counted>
void classify_on_smeared(std::vector<SpeckMap>& maps, const std::vector<SpeckSetting>& settings, const Counted& counted) {
    const double rate = least_rate(maps, settings, counted);
    for (std::size_t i = 0; i < maps.size(); ++i) {
        if (!settings[i].smeared) continue;
        const auto n = static_cast<double>(std::count_if(maps[i].specks.begin(), maps[i].specks.end(), counted));
        const bool dust = rate * settings[i].visible_mm2 > kDustOdds * n;
        for (Speck& s : maps[i].specks)
            if (counted(s)) s.kind = dust ? Defect::dust : Defect::residue;
    }
}

/// On a strip without smears specks are dust, but for soft and weak ones that are far more than chance.
void classify_on_clean(std::vector<SpeckMap>& maps, const std::vector<SpeckSetting>& settings) {
    const auto like_carbon = [](const Speck& s) { return !s.opaque && !s.sharp && !s.fibre && !s.line; };
    const double rate = least_rate(maps, settings, like_carbon);
    for (std::size_t i = 0; i < maps.size(); ++i) {
        if (settings[i].smeared) continue;
        const auto n = static_cast<int>(std::count_if(maps[i].specks.begin(), maps[i].specks.end(), like_carbon));
        const bool carbon = chance_of(rate * settings[i].visible_mm2, n) < kChanceOfCarbon;
        for (Speck& s : maps[i].specks) s.kind = carbon && like_carbon(s) ? Defect::residue : Defect::dust;
    }
}

}  // namespace

void classify_specks(std::vector<SpeckMap>& maps, const std::vector<SpeckSetting>& settings) {
    mark_sharp(maps);
    classify_on_clean(maps, settings);
    for (const int kind : {0, 1, 2, 3, 4, 5, 6, 7})
        classify_on_smeared(maps, settings, [&](const Speck& s) {
            return s.opaque == (kind % 2 == 1) && s.large == (kind / 2 % 2 == 1) && s.sharp == (kind / 4 == 1) && !s.fibre && !s.line;
        });
    for (std::size_t i = 0; i < maps.size(); ++i) {
        for (Speck& s : maps[i].specks) {
            if (s.fibre) s.kind = Defect::dust;
            if (s.line) s.kind = s.width_mm < kScratchWidthMm && (s.sharp || !settings[i].smeared) ? Defect::scratch : Defect::residue;
        }
    }
}

}  // namespace basefog::residue
