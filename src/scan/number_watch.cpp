// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/number_watch.h"

#include <algorithm>
#include <cmath>

namespace basefog::scan {
namespace {

class WatchedSource final : public SampleSource {
public:
    WatchedSource(std::unique_ptr<SampleSource> samples, std::shared_ptr<bool> met) : samples_(std::move(samples)), met_(std::move(met)) {}
    [[nodiscard]] const SampleLayout& layout() const override { return samples_->layout(); }
    [[nodiscard]] Reach reach() const override { return samples_->reach(); }
    [[nodiscard]] bool ready_for(PxRect region) const override { return samples_->ready_for(region); }
    [[nodiscard]] Result<void> visit(PxRect region, const Visit& visit) override {
        return samples_->visit(region, [&](PxRect piece, const std::byte* samples, std::int64_t row_stride) {
            for (std::int64_t y = 0; y < piece.height() && !*met_; ++y) {
                const auto* first = reinterpret_cast<const float*>(samples + y * row_stride);
                *met_ = !std::all_of(first, first + piece.width() * layout().samples, [](float sample) { return std::isfinite(sample); });
            }
            visit(piece, samples, row_stride);
        });
    }

private:
    std::unique_ptr<SampleSource> samples_;
    std::shared_ptr<bool> met_;
};

class TellingReader final : public ScanReader {
public:
    TellingReader(std::unique_ptr<ScanReader> reader, std::shared_ptr<const bool> met)
        : reader_(std::move(reader)), met_(std::move(met)), info_(reader_->info()) {}
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return reader_->access(); }
    void will_average(std::int64_t factor) override { reader_->will_average(factor); }
    [[nodiscard]] std::int64_t held_bytes() const override { return reader_->held_bytes(); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        auto read = reader_->read_region(rect, out);
        if (*met_ && !std::exchange(told_, true))
            info_.warnings.push_back("Some of its samples are no finite numbers; they were taken as black or as full scale. Export the scan again.");
        return read;
    }

private:
    std::unique_ptr<ScanReader> reader_;
    std::shared_ptr<const bool> met_;
    ScanInfo info_;
    bool told_ = false;
};

}  // namespace

std::unique_ptr<SampleSource> watch_numbers(std::unique_ptr<SampleSource> samples, std::shared_ptr<bool> met) {
    BASEFOG_ASSERT(samples->layout().type == SampleType::f32);
    return std::make_unique<WatchedSource>(std::move(samples), std::move(met));
}

std::unique_ptr<ScanReader> tell_of_numbers(std::unique_ptr<ScanReader> reader, std::shared_ptr<const bool> met) {
    return std::make_unique<TellingReader>(std::move(reader), std::move(met));
}

}  // namespace basefog::scan
