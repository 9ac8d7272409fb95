// SPDX-License-Identifier: GPL-3.0-or-later
// basefog-residue-suite: random sheets of four strips against the residue stage: a confusion table of grades, areas, maps and dust.
#include "residue/drawn_sheet.h"

#include <opencv2/imgproc.hpp>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <string>
#include <vector>

namespace {

constexpr const char* kUsage =
    "usage: basefog-residue-suite [--seeds FIRST-LAST] [--no-infrared] [--verbose]\n"
    "Draws sheets by lot (four strips, a grade each, four stocks, three scanners), measures their residue and compares with the truth.\n";
constexpr std::array<const char*, 4> kGrades{"clean", "trace", "partial", "heavy"};
/// Denser than this is residue and dust in the truth's maps; a pixel's error of place is forgiven.
constexpr float kResidueTrue = 0.08F, kDustTrue = 0.15F;

struct Share {
    std::int64_t hit = 0, of = 0;
    [[nodiscard]] double value() const { return of > 0 ? static_cast<double>(hit) / static_cast<double>(of) : 1; }
};
struct Score {
    std::array<std::array<int, 4>, 4> grades{};  ///< true, found
    int sheets = 0, failed = 0;
    std::vector<double> area_errors;  ///< relative, strips of more than 0.5 %
    Share residue_precision, residue_recall, dust_precision, dust_precision_washed, objects_dust, objects_any;
};

int index_of(const std::string& level) {
    for (int i = 0; i < 4; ++i)
        if (level == kGrades[static_cast<std::size_t>(i)]) return i;
    return 0;
}

cv::Mat mask_of(const basefog::Image<basefog::Defect>& map, basefog::Defect kind, bool any) {
    cv::Mat out(static_cast<int>(map.height()), static_cast<int>(map.width()), CV_8U);
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.cols; ++x) out.at<uchar>(y, x) = (any ? map(x, y) != basefog::Defect::none : map(x, y) == kind) ? 255 : 0;
    return out;
}

void add(Share& share, const cv::Mat& hit, const cv::Mat& of) {
    share.hit += cv::countNonZero(hit & of);
    share.of += cv::countNonZero(of);
}

void score_maps(const drawn_sheet::Measured& m, Score& score) {
    using basefog::Defect;
    const cv::Mat near = cv::Mat::ones(3, 3, CV_8U);
    cv::Mat film = cv::Mat::zeros(m.sheet.residue.size(), CV_8U);
    cv::Mat washed = film.clone();  // strips on which dust is not to be told from carbon: clean and traces
    for (const synthetic::StripTruth& strip : m.sheet.strips) {
        std::vector<cv::Point> corners;
        for (const auto& c : strip.corners_px) corners.emplace_back(static_cast<int>(c[0]), static_cast<int>(c[1]));
        cv::fillConvexPoly(film, corners, 255);
        if (index_of(strip.residue_level) < 2) cv::fillConvexPoly(washed, corners, 255);
    }
    cv::erode(film, film, cv::Mat::ones(9, 9, CV_8U));
    const cv::Mat residue = (m.sheet.residue > kResidueTrue) & film, dust = (m.sheet.dust > kDustTrue) & film;
    const cv::Mat found_residue = mask_of(m.residue.defects, Defect::residue, false) & film, found_dust = mask_of(m.residue.defects, Defect::dust, false) & film,
                  found_any = mask_of(m.residue.defects, Defect::none, true);
    cv::Mat wide;
    cv::dilate(residue, wide, near);
    add(score.residue_precision, wide, found_residue);
    cv::dilate(found_residue, wide, near);
    add(score.residue_recall, wide, residue);
    cv::dilate((m.sheet.dust > kDustTrue / 2) & film, wide, near);
    add(score.dust_precision, wide, found_dust);
    add(score.dust_precision_washed, wide & washed, found_dust & washed);
    cv::Mat labels;
    const int n = cv::connectedComponents(dust, labels, 8, CV_32S);
    std::vector<uchar> as_dust(static_cast<std::size_t>(n), 0), any(static_cast<std::size_t>(n), 0);
    std::vector<int> size(static_cast<std::size_t>(n), 0);
    for (int y = 0; y < labels.rows; ++y)
        for (int x = 0; x < labels.cols; ++x) {
            const auto label = static_cast<std::size_t>(labels.at<int>(y, x));
            ++size[label];
            as_dust[label] |= found_dust.at<uchar>(y, x);
            any[label] |= found_any.at<uchar>(y, x);
        }
    for (std::size_t i = 1; i < static_cast<std::size_t>(n); ++i) {
        if (size[i] < 2) continue;  // a single pixel's density may lie under the threshold once blurred
        ++score.objects_any.of;
        ++score.objects_dust.of;
        score.objects_any.hit += any[i] != 0;
        score.objects_dust.hit += as_dust[i] != 0;
    }
}

void try_sheet(std::uint64_t seed, bool infrared, bool verbose, Score& score) {
    ++score.sheets;
    try {
        const drawn_sheet::Measured m = drawn_sheet::measure(drawn_sheet::dirty_sheet(seed, infrared, 4, 300));
        if (m.residue.strips.size() != m.sheet.strips.size()) {
            ++score.failed;
            std::printf("seed %llu: %zu strips found\n", static_cast<unsigned long long>(seed), m.residue.strips.size());
            return;
        }
        for (std::size_t i = 0; i < m.sheet.strips.size(); ++i) {
            const synthetic::StripTruth& truth = m.sheet.strips[i];
            const basefog::StripResidue& found = m.residue.strips[i];
            const int t = index_of(truth.residue_level), f = static_cast<int>(found.grade);
            ++score.grades[static_cast<std::size_t>(t)][static_cast<std::size_t>(f)];
            if (truth.residue_area_percent > 0.5) score.area_errors.push_back(std::abs(found.area_percent.value / truth.residue_area_percent - 1));
            if (verbose || t != f)
                std::printf("seed %llu strip %zu %s: %s, found %s; area %.2f, found %.2f; veil %.4f, found %.4f%s\n", static_cast<unsigned long long>(seed), i + 1,
                            truth.stock.c_str(), truth.residue_level.c_str(), kGrades[static_cast<std::size_t>(f)], truth.residue_area_percent,
                            found.area_percent.value, truth.residue_veil, found.veil.value.value(), found.veil_separable ? "" : " (not separable)");
        }
        score_maps(m, score);
    } catch (const std::exception& e) {
        ++score.failed;
        std::printf("seed %llu: %s\n", static_cast<unsigned long long>(seed), e.what());
    }
    std::fflush(stdout);
}

double within(const std::vector<double>& errors, double limit) {
    std::size_t n = 0;
    for (const double e : errors) n += e < limit;
    return errors.empty() ? 1 : static_cast<double>(n) / static_cast<double>(errors.size());
}

int print(const Score& score) {
    int right = 0, all = 0;
    std::printf("\n%-10s", "true");
    for (const char* g : kGrades) std::printf("%9s", g);
    for (std::size_t t = 0; t < 4; ++t) {
        std::printf("\n%-10s", kGrades[t]);
        for (std::size_t f = 0; f < 4; ++f) {
            std::printf("%9d", score.grades[t][f]);
            all += score.grades[t][f];
            if (t == f) right += score.grades[t][f];
        }
    }
    const double p = score.residue_precision.value(), r = score.residue_recall.value();
    std::printf("\ngrades right %d of %d (%.1f %%), sheets failed %d of %d\n", right, all, 100.0 * right / std::max(1, all), score.failed, score.sheets);
    std::printf("area within a fifth on %.1f %%, within a third on %.1f %% of %zu strips\n", 100 * within(score.area_errors, 0.2),
                100 * within(score.area_errors, 1 / 3.0), score.area_errors.size());
    std::printf("residue pixels: precision %.3f, recall %.3f, F1 %.3f\n", p, r, 2 * p * r / std::max(1e-9, p + r));
    std::printf("dust: precision of pixels %.3f (clean strips and traces %.3f); of %lld objects %.1f %% called dust, %.1f %% marked\n", score.dust_precision.value(), score.dust_precision_washed.value(),
                static_cast<long long>(score.objects_any.of), 100 * score.objects_dust.value(), 100 * score.objects_any.value());
    return right * 100 >= all * 97 && score.failed == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    std::uint64_t first = 1001, last = 1100;
    bool infrared = true, verbose = false;
    for (int i = 1; i < argc; ++i) {
        if (std::strcmp(argv[i], "--no-infrared") == 0) {
            infrared = false;
        } else if (std::strcmp(argv[i], "--verbose") == 0) {
            verbose = true;
        } else if (std::strcmp(argv[i], "--seeds") == 0 && i + 1 < argc) {
            char* rest = nullptr;
            first = last = std::strtoull(argv[++i], &rest, 10);
            if (*rest == '-') last = std::strtoull(rest + 1, nullptr, 10);
        } else {
            std::fputs(kUsage, stderr);
            return 2;
        }
    }
    Score score;
    for (std::uint64_t seed = first; seed <= last; ++seed) try_sheet(seed, infrared, verbose, score);
    return print(score);
}
