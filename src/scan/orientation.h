// SPDX-License-Identifier: GPL-3.0-or-later
// The orientation tag of TIFF 6.0 and Exif, 1 to 8: where the stored picture's first row and column belong.
#pragma once

#include "basefog/core/geometry.h"

namespace basefog::scan {

class Orientation {
public:
    /// `tag` outside 1..8 counts as 1. Width and height are those stored.
    Orientation(int tag, std::int64_t stored_width, std::int64_t stored_height)
        : tag_(tag >= 1 && tag <= 8 ? tag : 1), width_(stored_width), height_(stored_height) {}
    [[nodiscard]] bool turned() const { return tag_ >= 5; }  ///< rows have become columns
    /// Are the picture's rows, from the top, stored rows from the top?
    [[nodiscard]] bool rows_in_order() const { return tag_ <= 2; }
    [[nodiscard]] std::int64_t width() const { return turned() ? height_ : width_; }
    [[nodiscard]] std::int64_t height() const { return turned() ? width_ : height_; }
    [[nodiscard]] PxRect stored_from_oriented(PxRect rect) const;

    struct Place {
        std::int64_t x, y;
    };
    [[nodiscard]] Place oriented_from_stored(std::int64_t x, std::int64_t y) const;

private:
    int tag_;
    std::int64_t width_, height_;
};

}  // namespace basefog::scan
