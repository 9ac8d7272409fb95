// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/pair.h"

#include "basefog/mend/mend.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace mend_pair {

using namespace basefog;

namespace {

/// Dust and backing off, everything else the same.
synthetic::SheetSpec without_dirt(synthetic::SheetSpec spec) {
    spec.dust = {};
    for (auto& strip : spec.strips) {
        strip.residue = {};
    }
    return spec;
}

cv::Mat densities(const Image<LinearRgbi>& pixels, PxRect rect, const LightField& light) {
    cv::Mat out(static_cast<int>(pixels.height()), static_cast<int>(pixels.width()), CV_32FC3);
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.cols; ++x) {
            const DensityRgbi d = light.density(pixels(x, y), {static_cast<double>(rect.x0) + x + 0.5, static_cast<double>(rect.y0) + y + 0.5});
            out.at<cv::Vec3f>(y, x) = {d.r, d.g, d.b};
        }
    return out;
}

Image<LinearRgbi> cut(const cv::Mat& light, PxRect r) {
    Image<LinearRgbi> out(r.width(), r.height());
    const int channels = light.channels();
    for (std::int64_t y = 0; y < r.height(); ++y) {
        const auto* in = light.ptr<float>(static_cast<int>(y + r.y0)) + r.x0 * channels;
        for (std::int64_t x = 0; x < r.width(); ++x, in += channels) out(x, y) = {in[0], in[1], in[2], channels > 3 ? in[3] : 0.0F};
    }
    return out;
}

MendFacts facts_of(const drawn_sheet::Measured& m, std::size_t strip) {
    const StripBase& base = m.density.strips[strip];
    MendFacts facts;
    facts.light = m.density.light;
    facts.base = {base.base.r.value, base.base.g.value, base.base.b.value};
    facts.base_infrared = base.base_ir.value;
    facts.veil = m.residue.strips[strip].veil_separable ? m.residue.strips[strip].veil.value : Density(0);
    facts.silver = base.silver_image;
    facts.residue_left = m.residue.strips[strip].grade != ResidueGrade::clean;
    facts.infrared = m.residue.infrared;
    facts.scale = m.layout.scale;
    return facts;
}

/// Density of what the scanner sees of the dirt: its light is blurred, not its density.
cv::Mat seen_dirt(const synthetic::Sheet& dirty, const synthetic::Sheet& clean, double blur) {
    cv::Mat pass = -(dirty.dust + dirty.residue - clean.residue) * 2.302585;
    cv::exp(pass, pass);
    if (blur > 0) cv::GaussianBlur(pass, pass, cv::Size(), blur, blur, cv::BORDER_REPLICATE);
    cv::log(cv::max(pass, 1e-6), pass);
    return -pass / 2.302585;
}

}  // namespace

std::vector<MendedFrame> mended_pair(const synthetic::SheetSpec& spec, MendMode mode) {
    const drawn_sheet::Measured m = drawn_sheet::measure(spec);
    const synthetic::Sheet clean = synthetic::draw_sheet(without_dirt(spec));
    const cv::Mat dirt = seen_dirt(m.sheet, clean, spec.scanner.blur_px);
    std::vector<MendedFrame> out;
    for (std::size_t s = 0; s < m.layout.strips.size(); ++s) {
        for (const FrameBox& box : m.layout.strips[s].frames) {
            if (box.kind == FrameKind::blank) continue;
            MendedFrame f;
            f.rect = intersection(bounds(box.corners, 8), {0, 0, m.sheet.light.cols, m.sheet.light.rows});
            if (f.rect.empty()) continue;
            f.silver = m.density.strips[s].silver_image;
            Image<LinearRgbi> pixels = cut(m.sheet.light, f.rect);
            f.clean = densities(cut(clean.light, f.rect), f.rect, m.density.light);
            f.dirty = densities(pixels, f.rect, m.density.light);
            const Mending mending = mend(pixels.view(), f.rect, {m.residue.defects.view(), m.overview.factor}, facts_of(m, s), {mode, false});
            f.mended = densities(pixels, f.rect, m.density.light);
            const cv::Rect r(static_cast<int>(f.rect.x0), static_cast<int>(f.rect.y0), static_cast<int>(f.rect.width()), static_cast<int>(f.rect.height()));
            f.defect = dirt(r).clone();
            f.mask = cv::Mat::zeros(f.defect.size(), CV_8U);
            if (!mending.mask.empty())
                for (int y = 0; y < f.mask.rows; ++y)
                    for (int x = 0; x < f.mask.cols; ++x) f.mask.at<uchar>(y, x) = static_cast<uchar>(mending.mask(x, y));
            out.push_back(std::move(f));
        }
    }
    return out;
}

std::vector<MendedFrame> mended_pair(std::uint64_t seed, bool infrared, MendMode mode) {
    synthetic::SheetSpec spec = drawn_sheet::dirty_sheet(seed, infrared, 2);
    spec.dust = {1.0, 0.2, 2};
    // A veil is the base's business: what is uneven about it is divided out everywhere, so there would be no outside.
    for (auto& strip : spec.strips) strip.residue.veil = 0;
    return mended_pair(spec, mode);
}

void Tally::add(const std::vector<MendedFrame>& frames) {
    for (const MendedFrame& f : frames) {
        // The picture itself: the margin shows the frame's blurred edges.
        constexpr int kMargin = 12;
        cv::Mat skirt;
        cv::dilate(f.defect, skirt, cv::Mat::ones(7, 7, CV_8U));
        for (int y = kMargin; y < f.defect.rows - kMargin; ++y) {
            for (int x = kMargin; x < f.defect.cols - kMargin; ++x) {
                const cv::Vec3f a = f.clean.at<cv::Vec3f>(y, x), b = f.dirty.at<cv::Vec3f>(y, x), c = f.mended.at<cv::Vec3f>(y, x);
                if (f.defect.at<float>(y, x) > kInside) {
                    ++inside;
                    for (int i = 0; i < 3; ++i) {
                        sum_before += std::abs(static_cast<double>(b[i] - a[i])) / 3;
                        sum_after += std::abs(static_cast<double>(c[i] - a[i])) / 3;
                    }
                } else if (skirt.at<float>(y, x) < 0.003F) {
                    ++outside;
                    changed_outside += b != c;
                }
            }
        }
    }
}

namespace {

template <class T>
double median(std::vector<T> v) {
    std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
    return static_cast<double>(v[v.size() / 2]);
}

/// Median square, per channel, over a mask.
std::array<double, 3> median_squares(const cv::Mat& fine, const cv::Mat& where) {
    std::array<std::vector<float>, 3> squares;
    for (int y = 0; y < fine.rows; ++y)
        for (int x = 0; x < fine.cols; ++x)
            for (int c = 0; c < 3; ++c)
                if (where.at<uchar>(y, x)) squares[static_cast<std::size_t>(c)].push_back(fine.at<cv::Vec3f>(y, x)[c] * fine.at<cv::Vec3f>(y, x)[c]);
    return {median(squares[0]), median(squares[1]), median(squares[2])};
}

}  // namespace

void Grain::add(const std::vector<MendedFrame>& frames, Mended kind) {
    constexpr int kMargin = 12, kRing = 15, kFewest = 30;
    for (const MendedFrame& f : frames) {
        cv::Mat mean, near, labels, stats, centres;
        cv::boxFilter(f.mended, mean, CV_32F, cv::Size(3, 3));
        const cv::Mat fine = f.mended - mean;
        cv::dilate(f.mask, near, cv::Mat::ones(5, 5, CV_8U));
        const int n = cv::connectedComponentsWithStats(f.mask == static_cast<int>(kind), labels, stats, centres, 8, CV_32S);
        const cv::Rect inner(kMargin, kMargin, f.mask.cols - 2 * kMargin, f.mask.rows - 2 * kMargin);
        for (int label = 1; label < n; ++label) {
            const cv::Rect box(stats.at<int>(label, cv::CC_STAT_LEFT), stats.at<int>(label, cv::CC_STAT_TOP), stats.at<int>(label, cv::CC_STAT_WIDTH),
                               stats.at<int>(label, cv::CC_STAT_HEIGHT));
            const cv::Rect about = cv::Rect(box.x - kRing / 2, box.y - kRing / 2, box.width + kRing, box.height + kRing) & inner;
            if (about.empty()) continue;
            const cv::Mat place = labels(about) == label;
            cv::Mat ring;
            cv::dilate(place, ring, cv::Mat::ones(kRing, kRing, CV_8U));
            ring &= near(about) == 0;
            if (cv::countNonZero(place) < kFewest || cv::countNonZero(ring) < kFewest) continue;
            const auto mended = median_squares(fine(about), place), sound = median_squares(fine(about), ring);
            for (std::size_t c = 0; c < 3; ++c) ratios.push_back(mended[c] / sound[c]);
        }
    }
}

double Grain::ratio() const { return median(ratios); }

}  // namespace mend_pair
