// SPDX-License-Identifier: GPL-3.0-or-later
// A file read from front to back through a window, with big-endian numbers as PNG and JPEG write them.
#pragma once

#include "scan/input_file.h"

#include <algorithm>
#include <cstdint>
#include <vector>

namespace basefog::scan {

class ByteReader {
public:
    explicit ByteReader(const InputFile& file) : file_(file), window_(1 << 16) {}
    [[nodiscard]] std::int64_t position() const { return start_ + at_; }
    [[nodiscard]] std::int64_t left() const { return file_.size() - position(); }
    /// The next byte, or -1 at the end of the file or when the system fails.
    [[nodiscard]] int next() {
        if (at_ == filled_ && !refill()) return -1;
        return window_[static_cast<std::size_t>(at_++)];
    }
    /// A number of `bytes` bytes; -1 at the end.
    [[nodiscard]] std::int64_t number(int bytes) {
        std::int64_t value = 0;
        for (int i = 0; i < bytes; ++i) {
            const int byte = next();
            if (byte < 0) return -1;
            value = value << 8 | byte;
        }
        return value;
    }
    /// The bytes ahead in the window, at least one unless the file ended; `use` them up.
    [[nodiscard]] const unsigned char* ahead(std::int64_t& count) {
        if (at_ == filled_) refill();
        count = filled_ - at_;
        return window_.data() + at_;
    }
    void use(std::int64_t count) { at_ += count; }
    void go_to(std::int64_t position) {
        start_ = position;
        at_ = filled_ = 0;
    }
    [[nodiscard]] bool failed() const { return failed_; }

private:
    bool refill() {
        start_ += filled_;
        at_ = 0;
        const std::int64_t got = file_.read_at(start_, window_.data(), static_cast<std::int64_t>(window_.size()));
        failed_ = failed_ || got < 0;
        filled_ = std::max<std::int64_t>(got, 0);
        return filled_ > 0;
    }
    const InputFile& file_;
    std::vector<unsigned char> window_;
    std::int64_t start_ = 0, at_ = 0, filled_ = 0;
    bool failed_ = false;
};

}  // namespace basefog::scan
