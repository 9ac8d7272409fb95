// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_store.h"

#include <utility>

namespace basefog::pipeline {

Result<FrameStore> FrameStore::make(PxRect rect, std::shared_ptr<const StoredFormat> format, Scratch& scratch, std::int64_t left) {
    auto shelf = scratch.take(rect.width() * rect.height() * format->pixel_bytes(), left);
    if (!shelf) return Failure(std::move(shelf.error()));
    return FrameStore(rect, std::move(format), std::move(*shelf));
}

Result<void> FrameStore::take_from(const std::byte* band, PxRect part) const {
    const PxRect shared = intersection(part, rect_);
    const std::int64_t pixel = format_->pixel_bytes();
    for (std::int64_t y = shared.y0; y < shared.y1; ++y) {
        const std::byte* const row = band + ((y - part.y0) * part.width() + shared.x0 - part.x0) * pixel;
        if (auto put = shelf_.put(place(shared.x0, y), row, shared.width() * pixel); !put) return put;
    }
    return {};
}

Result<void> FrameStore::read(PxRect part, View<LinearRgbi> out) const {
    BASEFOG_ASSERT(part.width() == out.width() && part.height() == out.height());
    const std::int64_t row_bytes = part.width() * format_->pixel_bytes();
    const auto stored = std::make_unique_for_overwrite<std::byte[]>(static_cast<std::size_t>(row_bytes * part.height()));
    for (std::int64_t y = 0; y < part.height(); ++y)
        if (auto got = shelf_.get(place(part.x0, part.y0 + y), stored.get() + y * row_bytes, row_bytes); !got) return got;
    format_->linear(stored.get(), part, out);
    return {};
}

}  // namespace basefog::pipeline
