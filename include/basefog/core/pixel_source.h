// SPDX-License-Identifier: GPL-3.0-or-later
// A part of a scan in linear light, however it is kept: in memory, on disk, or made when asked for.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/result.h"

namespace basefog {

class PixelSource {
public:
    virtual ~PixelSource() = default;
    /// Where it lies on the scan.
    [[nodiscard]] virtual PxRect rect() const = 0;
    /// Fills `out` with the pixels of `part`, which lies inside rect() and has out's size. Any number of threads at once. Errors: unreadable.
    [[nodiscard]] virtual Result<void> read(PxRect part, View<LinearRgbi> out) const = 0;
};

/// Pixels in memory, borrowed.
class ViewSource final : public PixelSource {
public:
    ViewSource(PxRect rect, View<const LinearRgbi> pixels) : rect_(rect), pixels_(pixels) {
        BASEFOG_ASSERT(rect.width() == pixels.width() && rect.height() == pixels.height());
    }
    [[nodiscard]] PxRect rect() const override { return rect_; }
    [[nodiscard]] Result<void> read(PxRect part, View<LinearRgbi> out) const override {
        const View<const LinearRgbi> from = pixels_.part(part.x0 - rect_.x0, part.y0 - rect_.y0, part.width(), part.height());
        for (std::int64_t y = 0; y < from.height(); ++y) std::copy_n(from.row(y), from.width(), out.row(y));
        return {};
    }

private:
    PxRect rect_;
    View<const LinearRgbi> pixels_;
};

}  // namespace basefog
