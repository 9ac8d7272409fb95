// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/lens.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace basefog::scan {
namespace {

/// Weights of four neighbours for a place `t` of the way from the second to the third. Cubic convolution, a = -1/2 [Keys1981].
std::array<float, 4> cubic(float t) {
    const float t2 = t * t, t3 = t2 * t;
    return {0.5F * (-t3 + 2 * t2 - t), 0.5F * (3 * t3 - 5 * t2 + 2), 0.5F * (-3 * t3 + 4 * t2 + t), 0.5F * (t3 - t2)};
}

class Straight final : public ScanReader {
public:
    Straight(std::unique_ptr<ScanReader> shot, const LensModel& lens) : shot_(std::move(shot)), info_(shot_->info()), view_(lens, info_.width, info_.height) {
        info_.lens = lens;
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override { return shot_->access(); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        const PxRect source = source_of(rect);
        Image<LinearRgbi> pixels(source.width(), source.height());
        if (auto read = shot_->read_region(source, pixels.view()); !read) return read;
        for (std::int64_t y = 0; y < out.height(); ++y)
            for (std::int64_t x = 0; x < out.width(); ++x)
                out(x, y) = between(pixels, source, view_.seen({static_cast<double>(rect.x0 + x) + 0.5, static_cast<double>(rect.y0 + y) + 0.5}));
        return {};
    }

private:
    static constexpr std::int64_t kReach = 3;  // pixels of the interpolation, and one for the outline's bend between places asked

    /// What of the shot the pixels of `rect` need. A rectangle's outline bounds its inside: the lens folds nothing.
    [[nodiscard]] PxRect source_of(PxRect rect) const {
        constexpr int kAlong = 32;
        double x0 = 1e18, y0 = 1e18, x1 = -1e18, y1 = -1e18;
        const auto take = [&](double x, double y) {
            const PointPx p = view_.seen({x, y});
            x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
        };
        const auto left = static_cast<double>(rect.x0), right = static_cast<double>(rect.x1), top = static_cast<double>(rect.y0),
                   bottom = static_cast<double>(rect.y1);
        for (int i = 0; i <= kAlong; ++i) {
            const double x = left + (right - left) * i / kAlong, y = top + (bottom - top) * i / kAlong;
            take(x, top), take(x, bottom), take(left, y), take(right, y);
        }
        // A side that passes the middle is bent most just there.
        const double mx = std::clamp(0.5 * static_cast<double>(info_.width), left, right),
                     my = std::clamp(0.5 * static_cast<double>(info_.height), top, bottom);
        take(mx, top), take(mx, bottom), take(left, my), take(right, my);
        const auto whole = [](double v) { return static_cast<std::int64_t>(std::floor(v)); };
        const PxRect wanted{whole(x0) - kReach, whole(y0) - kReach, whole(x1) + kReach + 1, whole(y1) + kReach + 1};
        const PxRect found = intersection(wanted, {0, 0, info_.width, info_.height});
        if (!found.empty()) return found;
        // All of it was pushed out of the picture: the nearest pixel there is.
        const std::int64_t x = std::clamp<std::int64_t>(wanted.x0, 0, info_.width - 1), y = std::clamp<std::int64_t>(wanted.y0, 0, info_.height - 1);
        return {x, y, x + 1, y + 1};
    }
    [[nodiscard]] static LinearRgbi between(const Image<LinearRgbi>& pixels, PxRect source, PointPx at) {
        const double x = at.x - 0.5 - static_cast<double>(source.x0), y = at.y - 0.5 - static_cast<double>(source.y0), fx = std::floor(x), fy = std::floor(y);
        const auto x0 = static_cast<std::int64_t>(fx) - 1, y0 = static_cast<std::int64_t>(fy) - 1;
        const std::array<float, 4> across = cubic(static_cast<float>(x - fx)), down = cubic(static_cast<float>(y - fy));
        std::array<std::int64_t, 4> column{};
        for (std::int64_t i = 0; i < 4; ++i) column[static_cast<std::size_t>(i)] = std::clamp<std::int64_t>(x0 + i, 0, pixels.width() - 1);
        LinearRgbi sum{};
        for (std::size_t j = 0; j < 4; ++j) {
            const LinearRgbi* row = pixels.row(std::clamp<std::int64_t>(y0 + static_cast<std::int64_t>(j), 0, pixels.height() - 1));
            for (std::size_t i = 0; i < 4; ++i) {
                const float weight = down[j] * across[i];
                const LinearRgbi& p = row[column[i]];
                sum.r += weight * p.r, sum.g += weight * p.g, sum.b += weight * p.b, sum.ir += weight * p.ir;
            }
        }
        return sum;
    }

    std::unique_ptr<ScanReader> shot_;
    ScanInfo info_;
    LensView view_;
};

}  // namespace

std::unique_ptr<ScanReader> undo_lens(std::unique_ptr<ScanReader> shot, const LensModel& lens) { return std::make_unique<Straight>(std::move(shot), lens); }

}  // namespace basefog::scan
