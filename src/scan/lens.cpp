// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/lens.h"

#include "scan/pass_on.h"
#include "scan/resample.h"

#include <utility>

namespace basefog::scan {
namespace {

class Straight final : public ScanReader {
public:
    Straight(std::unique_ptr<ScanReader> shot, const LensModel& lens) : shot_(std::move(shot)), info_(shot_->info()), view_(lens, info_.width, info_.height) {
        info_.lens = lens;
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return shot_->access(); }
    void will_average(std::int64_t factor) override { shot_->will_average(factor); }
    [[nodiscard]] std::int64_t held_bytes() const override { return shot_->held_bytes(); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        const auto seen = [&](PointPx p) { return view_.seen(p); };
        const PointPx middle{0.5 * static_cast<double>(info_.width), 0.5 * static_cast<double>(info_.height)};
        const PxRect source = source_of(rect, middle, info_.width, info_.height, seen);
        Image<LinearRgbi> pixels(source.width(), source.height());
        if (auto read = shot_->read_region(source, pixels.view()); !read) return read;
        pass_on_warnings(*shot_, info_);
        for (std::int64_t y = 0; y < out.height(); ++y)
            for (std::int64_t x = 0; x < out.width(); ++x)
                out(x, y) = between(pixels, source, view_.seen({static_cast<double>(rect.x0 + x) + 0.5, static_cast<double>(rect.y0 + y) + 0.5}));
        return {};
    }

private:
    std::unique_ptr<ScanReader> shot_;
    ScanInfo info_;
    LensView view_;
};

}  // namespace

std::unique_ptr<ScanReader> undo_lens(std::unique_ptr<ScanReader> shot, const LensModel& lens) { return std::make_unique<Straight>(std::move(shot), lens); }

}  // namespace basefog::scan
