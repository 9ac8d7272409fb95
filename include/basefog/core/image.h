// SPDX-License-Identifier: GPL-3.0-or-later
// Pixels in memory. What a pixel means is part of its type, so a negative cannot be taken for a positive.
// Image owns, moves and never copies by accident (`clone()` copies); View borrows. Row stride is not width.
#pragma once

#include "basefog/core/assert.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <type_traits>
#include <vector>

namespace basefog {

/// Light on the sensor, linear, 0 = none, 1 = the file's full scale. `ir` is 0 where the scan has no infrared.
struct LinearRgbi {
    float r = 0, g = 0, b = 0, ir = 0;
};
/// Optical density of each channel (log10), relative to bare light. `ir` is 0 where the scan has no infrared.
struct DensityRgbi {
    float r = 0, g = 0, b = 0, ir = 0;
};
/// Linear light of a positive, in a stated RGB space; scene values may exceed 1.
struct SceneRgb {
    float r = 0, g = 0, b = 0;
};
/// A finished positive's pixel, encoded for an output profile.
struct EncodedRgb16 {
    std::uint16_t r = 0, g = 0, b = 0;
};
struct EncodedRgb8 {
    std::uint8_t r = 0, g = 0, b = 0;
};

template <class T>
class View {
public:
    View() = default;
    View(T* data, std::int64_t width, std::int64_t height, std::int64_t stride) : data_(data), width_(width), height_(height), stride_(stride) {}
    template <class U>
    requires(std::is_same_v<const U, T> && !std::is_same_v<U, T>) View(const View<U>& other)
        : View(other.data(), other.width(), other.height(), other.stride()) {}

    [[nodiscard]] std::int64_t width() const { return width_; }
    [[nodiscard]] std::int64_t height() const { return height_; }
    [[nodiscard]] std::int64_t stride() const { return stride_; }  ///< in pixels
    [[nodiscard]] T* data() const { return data_; }
    [[nodiscard]] T* row(std::int64_t y) const { return data_ + y * stride_; }
    [[nodiscard]] T& operator()(std::int64_t x, std::int64_t y) const { return data_[y * stride_ + x]; }
    [[nodiscard]] bool empty() const { return width_ <= 0 || height_ <= 0; }
    /// A part of the view; must lie inside it.
    [[nodiscard]] View part(std::int64_t x0, std::int64_t y0, std::int64_t width, std::int64_t height) const {
        BASEFOG_ASSERT(x0 >= 0 && y0 >= 0 && x0 + width <= width_ && y0 + height <= height_);
        return View(data_ + y0 * stride_ + x0, width, height, stride_);
    }

private:
    T* data_ = nullptr;
    std::int64_t width_ = 0, height_ = 0, stride_ = 0;
};

template <class T>
class Image {
public:
    Image() = default;
    Image(std::int64_t width, std::int64_t height, T fill = T{}) : pixels_(checked_area(width, height), fill), width_(width), height_(height) {}
    Image(Image&&) noexcept = default;
    Image& operator=(Image&&) noexcept = default;
    Image(const Image&) = delete;
    Image& operator=(const Image&) = delete;
    [[nodiscard]] Image clone() const {
        Image copy;
        copy.pixels_ = pixels_;
        copy.width_ = width_;
        copy.height_ = height_;
        return copy;
    }

    [[nodiscard]] std::int64_t width() const { return width_; }
    [[nodiscard]] std::int64_t height() const { return height_; }
    [[nodiscard]] bool empty() const { return pixels_.empty(); }
    [[nodiscard]] T* row(std::int64_t y) { return pixels_.data() + y * width_; }
    [[nodiscard]] const T* row(std::int64_t y) const { return pixels_.data() + y * width_; }
    [[nodiscard]] T& operator()(std::int64_t x, std::int64_t y) { return pixels_[static_cast<std::size_t>(y * width_ + x)]; }
    [[nodiscard]] const T& operator()(std::int64_t x, std::int64_t y) const { return pixels_[static_cast<std::size_t>(y * width_ + x)]; }
    [[nodiscard]] View<T> view() { return View<T>(pixels_.data(), width_, height_, width_); }
    [[nodiscard]] View<const T> view() const { return View<const T>(pixels_.data(), width_, height_, width_); }

private:
    static std::size_t checked_area(std::int64_t width, std::int64_t height) {
        BASEFOG_ASSERT(width >= 0 && height >= 0);
        BASEFOG_ASSERT(height == 0 || width <= INT64_MAX / static_cast<std::int64_t>(sizeof(T)) / height);
        return static_cast<std::size_t>(width * height);
    }
    std::vector<T> pixels_;
    std::int64_t width_ = 0, height_ = 0;
};

}  // namespace basefog
