// SPDX-License-Identifier: GPL-3.0-or-later
// A picture whose library decodes it only as a whole: decoded when first asked for, then kept.
#pragma once

#include "scan/decode_count.h"
#include "scan/samples.h"

#include <utility>

namespace basefog::scan {

class DecodedSource final : public SampleSource {
public:
    struct Pixels {
        const std::byte* first = nullptr;
        std::int64_t row_stride = 0;  ///< in bytes
    };
    /// `decode` is called once; it owns what its result points to for as long as it lives.
    using Decode = std::function<Result<Pixels>()>;
    /// `averages`, if any: a quicker way to pixels whose means over two by two, from even places, are as good. `while_decoding`: bytes a pixel beside what is
    /// kept.
    DecodedSource(const SampleLayout& layout, Decode decode, Decode averages = {}, std::int64_t while_decoding = 0)
        : layout_(layout), decode_(std::move(decode)), averages_(std::move(averages)), while_decoding_(while_decoding) {}
    [[nodiscard]] const SampleLayout& layout() const override { return layout_; }
    [[nodiscard]] Reach reach() const override { return Reach::anywhere; }
    [[nodiscard]] bool ready_for(PxRect) const override { return true; }
    [[nodiscard]] std::int64_t held_bytes() const override { return layout_.total_bytes() + layout_.width * layout_.height * while_decoding_; }
    void will_average(std::int64_t factor) override {
        if (factor >= 2 && averages_ && pixels_.first == nullptr) decode_ = averages_;
    }
    [[nodiscard]] Result<void> visit(PxRect region, const Visit& visit) override {
        if (pixels_.first == nullptr) {
            auto decoded = decode_();
            if (!decoded) return Failure(decoded.error());
            pixels_ = *decoded;
            count_decoded(layout_.total_bytes());
        }
        visit(region, pixels_.first + region.y0 * pixels_.row_stride + region.x0 * layout_.pixel_bytes(), pixels_.row_stride);
        return {};
    }

private:
    SampleLayout layout_;
    Decode decode_, averages_;
    std::int64_t while_decoding_;
    Pixels pixels_;
};

}  // namespace basefog::scan
