// SPDX-License-Identifier: GPL-3.0-or-later
// A picture that is decoded row by row. The latest rows are kept, so that regions which overlap a little do not start again.
#pragma once

#include "scan/samples.h"

#include <algorithm>
#include <vector>

namespace basefog::scan {

class KeptRows : public SampleSource {
public:
    /// `any_row`: rows lie open in the file; else each is decoded after all that come before it.
    KeptRows(const SampleLayout& layout, std::int64_t memory_bytes, bool any_row)
        : layout_(layout),
          any_row_(any_row),
          kept_rows_(std::clamp<std::int64_t>(memory_bytes / layout.row_bytes(), 1, layout.height)),
          kept_(static_cast<std::size_t>(kept_rows_ * layout.row_bytes())) {}
    [[nodiscard]] const SampleLayout& layout() const final { return layout_; }
    [[nodiscard]] Reach reach() const final { return any_row_ ? Reach::full_rows : Reach::forward; }
    [[nodiscard]] bool ready_for(PxRect region) const final {
        if (any_row_ || region.y0 >= oldest()) return true;
        const bool new_pass = next_ == layout_.height && region.y0 == 0 && region.x0 == 0 && region.x1 == layout_.width;
        return new_pass;  // a reader that went through once and begins anew from the top
    }
    [[nodiscard]] Result<void> visit(PxRect region, const Visit& visit) final {
        for (std::int64_t y = region.y0; y < region.y1; ++y) {
            if (auto done = reach_row(y); !done) return done;
            visit({region.x0, y, region.x1, y + 1}, kept(y) + region.x0 * layout_.pixel_bytes(), layout_.row_bytes());
        }
        return {};
    }

protected:
    /// Row `y`, which is the one after the last one asked for, the first, or, where rows lie open, any.
    [[nodiscard]] virtual Result<void> decode(std::int64_t y, std::byte* to) = 0;

private:
    [[nodiscard]] std::int64_t oldest() const { return std::max(first_, next_ - kept_rows_); }
    [[nodiscard]] std::byte* kept(std::int64_t y) { return kept_.data() + y % kept_rows_ * layout_.row_bytes(); }
    [[nodiscard]] Result<void> reach_row(std::int64_t y) {
        if (y >= oldest() && y < next_) return {};
        if (any_row_ && y != next_)
            first_ = next_ = y;
        else if (y < oldest())
            first_ = next_ = 0;
        while (next_ <= y) {
            first_ = std::max(first_, next_ + 1 - kept_rows_);  // its place is written over, whatever comes of it
            if (auto done = decode(next_, kept(next_)); !done) return done;
            ++next_;
        }
        return {};
    }

    SampleLayout layout_;
    bool any_row_;
    std::int64_t kept_rows_, first_ = 0, next_ = 0;  ///< rows [oldest, next) are kept
    std::vector<std::byte> kept_;
};

}  // namespace basefog::scan
