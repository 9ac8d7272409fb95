// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/sample_reader.h"

#include "scan/guard.h"
#include "scan/spill.h"

#include <cstring>

namespace basefog::scan {

SampleReader::SampleReader(ScanInfo info, std::unique_ptr<SampleSource> source, int orientation, Linearisation how, const ScanOptions& options,
                           Observer& observer)
    : info_(std::move(info)),
      source_(std::move(source)),
      orientation_(orientation, source_->layout().width, source_->layout().height),
      lineariser_(std::make_shared<Lineariser>(std::move(how), source_->layout(), info_.colour_channels, info_.has_infrared)),
      memory_bytes_(options.memory_bytes),
      spill_folder_(options.spill_folder),
      observer_(observer) {}

Access SampleReader::access() const {
    if (source_->reach() == Reach::anywhere) return Access::random;
    if (source_->reach() == Reach::forward) return Access::sequential;
    // Whole strips across the reading direction: cheap only while all of them stay in the cache.
    return orientation_.turned() && source_->layout().total_bytes() > memory_bytes_ ? Access::sequential : Access::random;
}

/// Turned or bottom-up pictures of a file that is read from the top would be decoded again for every band: lay them out at once.
Result<void> SampleReader::prepare(PxRect stored) {
    if (access() == Access::random) return {};
    if (source_->reach() == Reach::forward && orientation_.rows_in_order() && source_->ready_for(stored)) return {};
    auto spilled = spill(*source_, spill_folder_, memory_bytes_, info_.path, observer_);
    if (!spilled) return Failure(spilled.error());
    source_ = std::move(*spilled);
    return {};
}

template <class Row>
Result<void> SampleReader::visit_rows(PxRect rect, const Row& row) {
    BASEFOG_ASSERT(rect.x0 >= 0 && rect.y0 >= 0 && rect.x1 <= info_.width && rect.y1 <= info_.height);
    if (rect.empty()) return {};
    return guarded(info_.path, [&]() -> Result<void> {
        const PxRect stored = orientation_.stored_from_oriented(rect);
        if (auto prepared = prepare(stored); !prepared) return prepared;
        return source_->visit(stored, [&](PxRect piece, const std::byte* samples, std::int64_t stride) {
            for (std::int64_t y = piece.y0; y < piece.y1; ++y, samples += stride)
                row(samples, piece.width(), orientation_.oriented_from_stored(piece.x0, y), orientation_.oriented_from_stored(piece.x0 + 1, y));
        });
    });
}

Result<void> SampleReader::read_region(PxRect rect, View<LinearRgbi> out) {
    BASEFOG_ASSERT(rect.width() == out.width() && rect.height() == out.height());
    return visit_rows(rect, [&](const std::byte* samples, std::int64_t count, Orientation::Place first, Orientation::Place second) {
        const std::int64_t step = (second.y - first.y) * out.stride() + (second.x - first.x);
        lineariser_->convert(samples, count, &out(first.x - rect.x0, first.y - rect.y0), step);
    });
}

namespace {

class StoredSamples final : public StoredFormat {
public:
    explicit StoredSamples(std::shared_ptr<const Lineariser> lineariser) : lineariser_(std::move(lineariser)) {}
    [[nodiscard]] std::int64_t pixel_bytes() const override { return lineariser_->layout().pixel_bytes(); }
    void linear(const std::byte* stored, PxRect where, View<LinearRgbi> out) const override {
        BASEFOG_ASSERT(where.width() == out.width() && where.height() == out.height());
        for (std::int64_t y = 0; y < out.height(); ++y, stored += out.width() * pixel_bytes()) lineariser_->convert(stored, out.width(), out.row(y), 1);
    }

private:
    std::shared_ptr<const Lineariser> lineariser_;
};

}  // namespace

std::shared_ptr<const StoredFormat> SampleReader::stored_format() const { return std::make_shared<StoredSamples>(lineariser_); }

Result<void> SampleReader::read_stored(PxRect rect, std::byte* out) {
    const std::int64_t pixel = lineariser_->layout().pixel_bytes(), width = rect.width();
    return visit_rows(rect, [&](const std::byte* samples, std::int64_t count, Orientation::Place first, Orientation::Place second) {
        const std::int64_t step = ((second.y - first.y) * width + (second.x - first.x)) * pixel;
        std::byte* to = out + ((first.y - rect.y0) * width + (first.x - rect.x0)) * pixel;
        if (step == pixel) {
            std::memcpy(to, samples, static_cast<std::size_t>(count * pixel));
            return;
        }
        for (std::int64_t i = 0; i < count; ++i, samples += pixel, to += step) std::memcpy(to, samples, static_cast<std::size_t>(pixel));
    });
}

}  // namespace basefog::scan
