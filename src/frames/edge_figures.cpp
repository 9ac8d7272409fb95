// SPDX-License-Identifier: GPL-3.0-or-later
#include "edge_figures.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace basefog::frames {
namespace {

/// Chosen: heights of printed figures, mm; the film outside the perforations is 2.0 mm wide.
constexpr double kLeastHeightMm = 0.6, kMostHeightMm = 1.9, kMostWidthMm = 1.6, kLeastWidthMm = 0.1;
/// Chosen: density a print stands above base at least. Grain and dirt of a veil stay under it.
constexpr double kLeastPrint = 0.08;
/// Chosen: print is what stands higher than this share of the densest print; thin strokes of a coarse scan reach half of it.
constexpr double kPrintShare = 0.35;
/// Chosen: dots of a dot-matrix print up to this far apart, mm, are one figure; figures up to this share of their height apart are one number.
constexpr double kJoinMm = 0.1, kJoinHeights = 0.9;
/// Chosen: figures are compared at this size, after a blur that makes founts alike.
constexpr int kGlyphPx = 24;
constexpr double kGlyphBlurPx = 1.5;
/// Chosen: evidence (natural log) of a glyph that correlates with a figure by r is kWeight (r - kEven), within limits: right readings of other
/// founts correlate by 0.75 to 0.95, wrong ones by 0.3 to 0.7.
constexpr double kWeight = 12, kEven = 0.68, kMostFor = 3, kMostAgainst = -4;
/// Chosen: a speck looks like a nought and a hair like a one; neither says much.
constexpr double kMostForPlain = 1.5;
/// Chosen: evidence of a mark that is read as no number at all, and of a step in the count that is not 0 or 1.
constexpr double kNoNumber = -0.5, kOddStep = -4.0, kSkippedStep = -1.0;
/// Chosen: a number may be off an even count by this; a count by ones leaves no number between.
constexpr double kOffCount = 0.3;
/// Chosen: film from one number to the next, mm: a frame (38) or half of one (19), with room.
constexpr double kLeastPitchMm = 17, kMostPitchMm = 41;
/// Chosen: numbers tried, 0 to 99, each alone or with a letter A behind it (half-way marks).
constexpr int kNumbers = 100, kLetterA = 10, kFigures = 11;
/// Chosen: a reading is certain when it beats every other way round by this (e^6 is 400 to 1) and rests on this many figures.
constexpr double kCertainLead = 6;
constexpr int kLeastMarks = 3;

struct Glyph {
    cv::Rect box;
    cv::Mat density;
};
struct Mark {
    std::vector<Glyph> glyphs;  ///< left to right as the strip is read
    double at = 0;              ///< middle, px along the strip
};

/// Fits a glyph into a square, keeping its proportions; zero mean, unit norm.
cv::Mat normalised(const cv::Mat& glyph) {
    const double scale = static_cast<double>(kGlyphPx - 4) / std::max(glyph.rows, glyph.cols);
    cv::Mat small;
    const cv::Size size(std::max(2, static_cast<int>(std::lround(glyph.cols * scale))), std::max(2, static_cast<int>(std::lround(glyph.rows * scale))));
    cv::resize(glyph, small, size, 0, 0, cv::INTER_AREA);
    cv::Mat square = cv::Mat::zeros(kGlyphPx, kGlyphPx, CV_32F);
    small.copyTo(square(cv::Rect((kGlyphPx - size.width) / 2, (kGlyphPx - size.height) / 2, size.width, size.height)));
    cv::GaussianBlur(square, square, {}, kGlyphBlurPx);
    square -= cv::mean(square)[0];
    const double norm = cv::norm(square);
    return norm > 0 ? cv::Mat(square / norm) : square;
}

/// Plain stroke letters of several founts, drawn large.
const std::array<std::vector<cv::Mat>, kFigures>& templates() {
    static const std::array<std::vector<cv::Mat>, kFigures> all = [] {
        std::array<std::vector<cv::Mat>, kFigures> made;
        for (int figure = 0; figure < kFigures; ++figure)
            for (const int fount : {cv::FONT_HERSHEY_SIMPLEX, cv::FONT_HERSHEY_DUPLEX, cv::FONT_HERSHEY_PLAIN})
                for (const int stroke : {8, 16}) {
                    const std::string text = figure == kLetterA ? "A" : std::to_string(figure);
                    cv::Mat canvas = cv::Mat::zeros(240, 240, CV_8U);
                    cv::putText(canvas, text, {60, 190}, fount, fount == cv::FONT_HERSHEY_PLAIN ? 11 : 5, cv::Scalar(255), stroke, cv::LINE_AA);
                    cv::Mat drawn;
                    canvas(cv::boundingRect(canvas)).convertTo(drawn, CV_32F);
                    made[static_cast<std::size_t>(figure)].push_back(normalised(drawn));
                }
        return made;
    }();
    return all;
}

/// `join_mm`: pieces nearer than this are one glyph (dot-matrix print).
std::vector<Glyph> find_glyphs(const cv::Mat& band, double px_per_mm, double join_mm) {
    std::vector<float> values(band.begin<float>(), band.end<float>());
    const auto top = values.begin() + static_cast<std::ptrdiff_t>(0.995 * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), top, values.end());
    if (*top < kLeastPrint) return {};
    cv::Mat mask = band > kPrintShare * *top;
    const int join = join_mm > 0 ? 2 * std::max(1, static_cast<int>(std::lround(join_mm * px_per_mm))) + 1 : 1;
    cv::morphologyEx(mask, mask, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {join, join}));
    cv::Mat labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(mask, labels, stats, centres, 8);
    std::vector<Glyph> glyphs;
    for (int i = 1; i < n; ++i) {
        const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP), stats.at<int>(i, cv::CC_STAT_WIDTH),
                           stats.at<int>(i, cv::CC_STAT_HEIGHT));
        const double h = box.height / px_per_mm, w = box.width / px_per_mm;
        if (h < kLeastHeightMm || h > kMostHeightMm || w < kLeastWidthMm || w > kMostWidthMm) continue;
        cv::Mat own = cv::Mat::zeros(box.size(), CV_32F);
        band(box).copyTo(own, labels(box) == i);
        glyphs.push_back({box, own});
    }
    std::sort(glyphs.begin(), glyphs.end(), [](const Glyph& a, const Glyph& b) { return a.box.x < b.box.x; });
    return glyphs;
}

std::vector<Mark> group(const std::vector<Glyph>& glyphs) {
    std::vector<Mark> marks;
    int end = 0;
    for (const Glyph& glyph : glyphs) {
        if (marks.empty() || glyph.box.x - end > kJoinHeights * glyph.box.height) marks.emplace_back();
        marks.back().glyphs.push_back(glyph);
        end = glyph.box.x + glyph.box.width;
        marks.back().at = 0.5 * (marks.back().glyphs.front().box.x + end);
    }
    return marks;
}

/// A mark in the reading order of one way of lying: evidence of each figure for each of its glyphs.
struct MarkEvidence {
    std::vector<std::array<double, kFigures>> glyphs;
    double at = 0;  ///< along the reading direction
    [[nodiscard]] double no_number() const { return kNoNumber * static_cast<double>(glyphs.size()); }
};

MarkEvidence weigh(const Mark& mark, bool turned, bool mirrored) {
    MarkEvidence evidence;
    for (const Glyph& glyph : mark.glyphs) {
        cv::Mat upright;
        // Mirrored here means across the strip.
        if (turned && mirrored)
            cv::flip(glyph.density, upright, 1);
        else if (turned)
            cv::flip(glyph.density, upright, -1);
        else if (mirrored)
            cv::flip(glyph.density, upright, 0);
        else
            upright = glyph.density;
        const cv::Mat look = normalised(upright);
        std::array<double, kFigures> of{};
        for (std::size_t figure = 0; figure < of.size(); ++figure) {
            double best = -1;
            for (const cv::Mat& shape : templates()[figure]) best = std::max(best, look.dot(shape));
            of[figure] = std::clamp(kWeight * (best - kEven), kMostAgainst, figure <= 1 ? kMostForPlain : kMostFor);
        }
        evidence.glyphs.push_back(of);
    }
    if (turned) std::reverse(evidence.glyphs.begin(), evidence.glyphs.end());
    evidence.at = turned ? -mark.at : mark.at;
    return evidence;
}

double evidence_of(const MarkEvidence& mark, int number, bool letter) {
    const std::size_t digits = number >= 10 ? 2 : 1;
    if (mark.glyphs.size() != digits + (letter ? 1 : 0)) return mark.no_number();
    double sum = number >= 10 ? mark.glyphs[0][static_cast<std::size_t>(number / 10)] : 0;
    sum += mark.glyphs[digits - 1][static_cast<std::size_t>(number % 10)];
    return letter ? sum + mark.glyphs[digits][kLetterA] : sum;
}

struct Read {
    int number = 0;
    bool letter = false;
    double evidence = 0, at = 0;
};

struct Reading {
    double evidence = 0;
    int numbers = 0;  ///< marks read as one
    std::string text;
};

/// Numbers are printed at an even pitch. Keeps those that grow evenly along the film; the rest are no numbers. `half`: what a letter adds, as some
/// films print 7A half way between 7 and 8 and others go on 7, 8A, 9.
Reading evenly_spaced(const std::vector<Read>& reads, const std::vector<MarkEvidence>& marks, double half, double px_per_mm) {
    const auto value = [&](const Read& read) { return read.number + (read.letter ? half : 0); };
    Reading best;
    for (const Read& first : reads)
        for (const Read& second : reads) {
            const double slope = (value(second) - value(first)) / std::max(second.at - first.at, 1.0);
            if (second.at <= first.at || slope * kMostPitchMm * px_per_mm < 1 || slope * kLeastPitchMm * px_per_mm > 1 || first.evidence <= 0 ||
                second.evidence <= 0)
                continue;
            Reading line;
            for (std::size_t m = 0; m < reads.size(); ++m) {
                const double miss = value(reads[m]) - value(first) - slope * (reads[m].at - first.at);
                const bool fits = reads[m].evidence > 0 && std::abs(miss) < kOffCount;
                line.evidence += fits ? reads[m].evidence : marks[m].no_number();
                if (!fits) continue;
                ++line.numbers;
                line.text += (line.text.empty() ? "" : " ") + std::to_string(reads[m].number) + (reads[m].letter ? "A" : "");
            }
            if (line.evidence > best.evidence) best = line;
        }
    return best;
}

/// The likeliest count through all marks (dynamic programming over number and letter).
Reading count_through(const std::vector<MarkEvidence>& marks, double px_per_mm) {
    constexpr int kStates = 2 * kNumbers;
    std::vector<std::array<double, kStates>> score(marks.size());
    std::vector<std::array<int, kStates>> from(marks.size());
    for (std::size_t m = 0; m < marks.size(); ++m)
        for (int s = 0; s < kStates; ++s) {
            double best = m == 0 ? 0 : -1e30;
            int origin = -1;
            if (m > 0)
                for (int p = 0; p < kStates; ++p) {
                    const int step = s / 2 - p / 2;
                    const double cost = step == 0 || step == 1 ? 0 : step == 2 || step == 3 ? kSkippedStep : kOddStep;
                    if (const double sum = score[m - 1][static_cast<std::size_t>(p)] + cost; sum > best) {
                        best = sum;
                        origin = p;
                    }
                }
            score[m][static_cast<std::size_t>(s)] = best + evidence_of(marks[m], s / 2, s % 2 == 1);
            from[m][static_cast<std::size_t>(s)] = origin;
        }
    if (marks.empty()) return {};
    int state = static_cast<int>(std::max_element(score.back().begin(), score.back().end()) - score.back().begin());
    std::vector<Read> reads(marks.size());
    for (std::size_t m = marks.size(); m-- > 0;) {
        reads[m] = {state / 2, state % 2 == 1, evidence_of(marks[m], state / 2, state % 2 == 1), marks[m].at};
        state = from[m][static_cast<std::size_t>(state)];
    }
    const Reading plain = evenly_spaced(reads, marks, 0, px_per_mm), halved = evenly_spaced(reads, marks, 0.5, px_per_mm);
    return halved.evidence > plain.evidence ? halved : plain;
}

/// One reading of a band, glyphs joined or not.
FiguresRead read_marks(const std::vector<Mark>& marks, double px_per_mm) {
    FiguresRead read;
    if (static_cast<int>(marks.size()) < kLeastMarks) return read;
    double best = 0, second = 0;
    for (const bool turned : {false, true})
        for (const bool mirrored : {false, true}) {
            std::vector<MarkEvidence> evidence;
            for (const Mark& mark : marks) evidence.push_back(weigh(mark, turned, mirrored));
            if (turned) std::reverse(evidence.begin(), evidence.end());
            const Reading reading = count_through(evidence, px_per_mm);
            if (reading.evidence > best) {
                second = best;
                best = reading.evidence;
                read = {reading.numbers >= kLeastMarks ? reading.text : std::string{}, turned, mirrored, 0};
            } else {
                second = std::max(second, reading.evidence);
            }
        }
    read.lead = best - second;
    return read;
}

}  // namespace

FiguresRead read_figures(const cv::Mat& band, double px_per_mm) {
    if (band.empty()) return {};
    const FiguresRead whole = read_marks(group(find_glyphs(band, px_per_mm, 0)), px_per_mm);
    const FiguresRead joined = read_marks(group(find_glyphs(band, px_per_mm, kJoinMm)), px_per_mm);
    return joined.lead > whole.lead ? joined : whole;
}

bool is_certain(const FiguresRead& read) { return !read.text.empty() && read.lead >= kCertainLead; }

}  // namespace basefog::frames
