// SPDX-License-Identifier: GPL-3.0-or-later
// A file mapped into memory, that may be made shorter by others meanwhile: what is gone then reads as zero, and is told.
#pragma once

#include <cstdint>
#include <memory>

namespace basefog::scan {

class Mapping {
public:
    /// Of a whole file, to be read. Nothing where the system cannot, or where too many are mapped already.
    [[nodiscard]] static std::unique_ptr<Mapping> make(int descriptor, std::int64_t bytes);
    ~Mapping();
    Mapping(const Mapping&) = delete;
    Mapping& operator=(const Mapping&) = delete;

    [[nodiscard]] void* address() const { return address_; }
    /// Was a place met that the file no longer has, or that could not be read?
    [[nodiscard]] bool cut_short() const;
    /// Gives the pages back to the system; they are read again from the file when touched.
    void forget_pages() const;

private:
    Mapping(void* address, std::int64_t bytes, int slot) : address_(address), bytes_(bytes), slot_(slot) {}
    void* address_;
    std::int64_t bytes_;
    int slot_;
};

}  // namespace basefog::scan
