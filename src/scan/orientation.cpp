// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/orientation.h"

namespace basefog::scan {

Orientation::Place Orientation::oriented_from_stored(std::int64_t x, std::int64_t y) const {
    const std::int64_t from_right = width_ - 1 - x, from_bottom = height_ - 1 - y;
    switch (tag_) {
        case 2:
            return {from_right, y};  // row 0 is the top, column 0 the right side
        case 3:
            return {from_right, from_bottom};  // bottom, right
        case 4:
            return {x, from_bottom};  // bottom, left
        case 5:
            return {y, x};  // left, top
        case 6:
            return {from_bottom, x};  // right, top
        case 7:
            return {from_bottom, from_right};  // right, bottom
        case 8:
            return {y, from_right};  // left, bottom
        default:
            return {x, y};
    }
}

PxRect Orientation::stored_from_oriented(PxRect r) const {
    const std::int64_t w = width_, h = height_;
    switch (tag_) {
        case 2:
            return {w - r.x1, r.y0, w - r.x0, r.y1};
        case 3:
            return {w - r.x1, h - r.y1, w - r.x0, h - r.y0};
        case 4:
            return {r.x0, h - r.y1, r.x1, h - r.y0};
        case 5:
            return {r.y0, r.x0, r.y1, r.x1};
        case 6:
            return {r.y0, h - r.x1, r.y1, h - r.x0};
        case 7:
            return {w - r.y1, h - r.x1, w - r.y0, h - r.x0};
        case 8:
            return {w - r.y1, r.x0, w - r.y0, r.x1};
        default:
            return r;
    }
}

}  // namespace basefog::scan
