// SPDX-License-Identifier: GPL-3.0-or-later
// One strip of film, painted into a sheet's transmittance planes. Private to the generator.
#pragma once

#include "support/synthetic_film.h"
#include "support/synthetic_marks.h"

#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace synthetic {

/// Length two intervals share.
[[nodiscard]] inline double overlap(double a0, double a1, double b0, double b1) { return std::max(0.0, std::min(a1, b1) - std::max(a0, b0)); }

/// Share of a pixel on the inner side of an edge `distance` mm away.
[[nodiscard]] inline double inner(double distance, double px_mm) { return std::clamp(distance / px_mm + 0.5, 0.0, 1.0); }

inline constexpr double kCurveFrom = -5, kCurveTo = 4, kCurveStep = 0.004;  ///< log10 H at which the curves are tabulated

/// Where the holder lets light through, in sheet millimetres: x, y, width, height.
[[nodiscard]] std::vector<std::array<double, 4>> openings(const SheetSpec& spec);

class StripPainter {
public:
    StripPainter(const StripSpec& strip, const SheetSpec& sheet, std::uint64_t seed);
    /// Multiplies the planes by the strip's transmittance and writes its residue density; both where `open` lets it be seen.
    void paint(std::vector<cv::Mat>& planes, cv::Mat& residue, const cv::Mat& open);
    [[nodiscard]] StripTruth truth() const;
    /// Visible film in pixels: all of it, its share with residue above 0.05, and the sum of residue density.
    [[nodiscard]] double film_area() const { return film_area_; }
    [[nodiscard]] double dense_area() const { return dense_area_; }
    [[nodiscard]] double density_sum() const { return density_sum_; }

private:
    struct Picture {
        int number = 0;
        SceneSpec scene;
        double stops = 0;
        double s0 = 0, s1 = 0, t0 = 0, t1 = 0;
        cv::Mat light;
        bool exposed = true;
        std::vector<std::string> difficulties;
    };
    struct Place {
        double s, t;
    };
    /// A picture that reaches a place, by how much, and the light it left there.
    struct Exposure {
        double share = 0;
        std::array<float, 3> light{};
    };

    void place_frames();
    void tabulate_curves();
    [[nodiscard]] Place on_film(double x, double y) const;     ///< from sheet millimetres, turning and mirroring undone
    [[nodiscard]] PointMm on_sheet(double s, double t) const;  ///< of the strip as it lies
    [[nodiscard]] double bend(double s) const;
    [[nodiscard]] double bend_slope(double s) const;
    [[nodiscard]] double holes(Place p) const;
    [[nodiscard]] double into_gate(const Picture& picture, Place p) const;
    [[nodiscard]] std::array<float, 3> stray(Place p) const;
    [[nodiscard]] std::array<float, 3> exposed_dye(const std::array<float, 3>& light) const;
    [[nodiscard]] std::array<float, 3> picture_light(const Picture& picture, Place p) const;
    void expose(Place p, std::array<Exposure, 2>& found) const;
    void add_grain(std::array<float, 3>& dye, std::uint64_t seed) const;
    [[nodiscard]] float residue_at(Place p) const;
    [[nodiscard]] std::array<float, 4> film(Place p, std::optional<std::uint64_t> grain_seed) const;
    [[nodiscard]] Corners corners(double s0, double s1, double t0, double t1) const;
    [[nodiscard]] std::array<Place, 4> gate_corners(const Picture& picture) const;
    [[nodiscard]] PointMm film_on_sheet(Place p) const;  ///< from the film's own millimetres
    [[nodiscard]] Corners as_it_lies(const std::array<Place, 4>& film_corners) const;
    [[nodiscard]] FrameTruth frame_truth(const Picture& picture) const;
    [[nodiscard]] bool under_leader(const Picture& picture) const;
    [[nodiscard]] Place within_opening(Place p) const;
    [[nodiscard]] double visible_share(const Picture& picture) const;
    [[nodiscard]] double step_across(Place from, Place to, Place inwards) const;

    const StripSpec& strip_;
    const SheetSpec& sheet_;
    std::uint64_t seed_;
    FilmOptics optics_;
    double px_mm_, px_mm_x_, length_, film_length_, width_, cos_ = 1, sin_ = 0, centre_x_ = 0, centre_y_ = 0;
    std::array<double, 3> offset_log_h_{};
    std::array<double, 4> gate_lean_{};  ///< as slopes
    std::vector<Picture> pictures_;
    std::array<std::vector<float>, 3> curve_;
    std::array<float, 3> mark_dye_{}, clear_dye_{};
    std::array<double, 3> grain_{};
    std::optional<EdgePrint> print_;
    cv::Mat residue_;
    double film_area_ = 0, dense_area_ = 0, density_sum_ = 0;
};

}  // namespace synthetic
