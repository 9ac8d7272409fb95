// SPDX-License-Identifier: GPL-3.0-or-later
// A number for every pixel of a picture, kept on a shelf: written tile by tile, read by any part.
#pragma once

#include "basefog/core/scratch.h"

#include <opencv2/core.hpp>

namespace basefog::mending {

template <class T>
class Plane {
public:
    [[nodiscard]] static Result<Plane> make(Scratch& scratch, cv::Size size) {
        auto shelf = scratch.take(static_cast<std::int64_t>(size.width) * size.height * static_cast<std::int64_t>(sizeof(T)));
        if (!shelf) return Failure(std::move(shelf.error()));
        return Plane(std::move(*shelf), size);
    }
    [[nodiscard]] cv::Size size() const { return size_; }
    [[nodiscard]] Result<void> put(const cv::Rect& part, const cv::Mat& values) const {
        for (int y = 0; y < part.height; ++y)
            if (auto done = shelf_.put(place(part, y), values.ptr<T>(y), bytes(part)); !done) return done;
        return {};
    }
    [[nodiscard]] Result<void> get(const cv::Rect& part, cv::Mat& values) const {
        values.create(part.size(), cv::DataType<T>::type);
        for (int y = 0; y < part.height; ++y)
            if (auto done = shelf_.get(place(part, y), values.ptr<T>(y), bytes(part)); !done) return done;
        return {};
    }

private:
    Plane(Shelf shelf, cv::Size size) : shelf_(std::move(shelf)), size_(size) {}
    [[nodiscard]] std::int64_t place(const cv::Rect& part, int y) const {
        return ((static_cast<std::int64_t>(part.y) + y) * size_.width + part.x) * static_cast<std::int64_t>(sizeof(T));
    }
    [[nodiscard]] static std::int64_t bytes(const cv::Rect& part) { return part.width * static_cast<std::int64_t>(sizeof(T)); }
    Shelf shelf_;
    cv::Size size_;
};

}  // namespace basefog::mending
