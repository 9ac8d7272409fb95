// SPDX-License-Identifier: GPL-3.0-or-later
// Pieces of the sheet that may be a strip: long rectangles of neither bare light nor holder.
#pragma once

#include "gauge.h"
#include "light.h"
#include "pose.h"

#include "basefog/frames/types.h"

#include <vector>

namespace basefog::frames {

/// What lies beyond a side of the visible film.
enum class Beyond : unsigned char { other, bare, holder, off_scan };

/// A rectangle of visible film in its own millimetres. u runs along the strip, v across, from the pose's origin.
struct StripPlace {
    Pose pose;
    double u0 = 0, u1 = 0, v0 = 0, v1 = 0;
    Beyond top = Beyond::other, bottom = Beyond::other, start = Beyond::other, end = Beyond::other;
    FilmFamily family = FilmFamily::perforated_35;
    double axis_v = 0;           ///< where the middle of the film's width is taken to lie
    double axis_std = 1.5;       ///< how well that is known, mm
    double slope_std = 0.006;    ///< how well its direction is known
    bool clear_as_bare = false;  ///< its clear film is as bright as bare light: nothing counts as bare on it
    bool axis_seen = false;      ///< the axis follows perforations or the film's own edges
    double curve_std = 1e-5;     ///< how well its curve is known, 1/mm
    int lanes = 1;               ///< strips side by side in the piece it was cut from
    int rival = -1;              ///< index of the same piece seen as lying the other way, when its shape does not tell
    [[nodiscard]] StripDirection direction() const;
    [[nodiscard]] double length() const { return u1 - u0; }
    [[nodiscard]] double width() const { return v1 - v0; }
    [[nodiscard]] double film_width() const { return film_width_of(family); }
    [[nodiscard]] bool whole_width_seen() const { return top == Beyond::bare && bottom == Beyond::bare; }
    [[nodiscard]] Quad quad() const;
};

/// Black-and-white film may fill every opening of a holder so that no bare light is in view, and its clear base, neutral
/// as it is, gets taken for it. Told by bright lines that run unbroken between pictures and the holder: under a holder
/// narrower than the film there is rebate, and bare light only in perforations.
struct TakenForBare {
    struct Opening {
        cv::Rect box;  ///< coarse pixels
        cv::Mat mask;  ///< CV_8U, of the box
    };
    std::vector<Opening> openings;  ///< where that is so
    bool everywhere = false;        ///< in nearly all openings that tell: no bare light is in view at all
};
[[nodiscard]] TakenForBare film_taken_for_bare(const cv::Mat& shades, double coarse_px_per_mm);

/// A connected piece of film as coarse pixels; dims by its smallest enclosing rectangle.
struct Piece {
    std::vector<cv::Point> pixels;
    cv::RotatedRect rect;
    [[nodiscard]] double across() const { return std::min(rect.size.width, rect.size.height); }
    [[nodiscard]] double along() const { return std::max(rect.size.width, rect.size.height); }
};

/// `coarse_px_per_mm` only sets how small a hole or a bridge is; it may be off by a third.
[[nodiscard]] std::vector<Piece> find_pieces(const cv::Mat& shades, double coarse_px_per_mm);

/// Places for every piece that has a strip's shape at this scale (overview pixels per mm).
[[nodiscard]] std::vector<StripPlace> place_strips(const std::vector<Piece>& pieces, const cv::Mat& shades, int step, double px_per_mm,
                                                   const FindOptions& options);

}  // namespace basefog::frames
