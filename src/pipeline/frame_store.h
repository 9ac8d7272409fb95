// SPDX-License-Identifier: GPL-3.0-or-later
// A frame's part of the scan as the file stores it, on a shelf: filled row by row while the scan is read, then read by any part.
#pragma once

#include "basefog/core/pixel_source.h"
#include "basefog/core/scratch.h"
#include "basefog/scan/reader.h"

#include <memory>

namespace basefog::pipeline {

class FrameStore final : public PixelSource {
public:
    /// `left`: of the scratch's memory, to be kept for others. Errors: the scratch's.
    [[nodiscard]] static Result<FrameStore> make(PxRect rect, std::shared_ptr<const StoredFormat> format, Scratch& scratch, std::int64_t left);
    [[nodiscard]] PxRect rect() const override { return rect_; }
    /// What of `band`, stored rows of a part of the scan, falls into the frame. Errors: the scratch's.
    [[nodiscard]] Result<void> take_from(const std::byte* band, PxRect part) const;
    [[nodiscard]] Result<void> read(PxRect part, View<LinearRgbi> out) const override;

private:
    FrameStore(PxRect rect, std::shared_ptr<const StoredFormat> format, Shelf shelf) : rect_(rect), format_(std::move(format)), shelf_(std::move(shelf)) {}
    [[nodiscard]] std::int64_t place(std::int64_t x, std::int64_t y) const { return ((y - rect_.y0) * rect_.width() + x - rect_.x0) * format_->pixel_bytes(); }
    PxRect rect_;
    std::shared_ptr<const StoredFormat> format_;
    Shelf shelf_;
};

}  // namespace basefog::pipeline
