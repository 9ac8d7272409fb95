// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes that are needed again much later: in memory, or put aside.
#pragma once

#include "basefog/core/scratch.h"

#include <memory>
#include <string>

namespace basefog {

class KeptBytes {
public:
    KeptBytes() = default;
    KeptBytes(std::string bytes) : memory_(std::move(bytes)) {}  // NOLINT(google-explicit-constructor): bytes are bytes
    [[nodiscard]] bool empty() const { return memory_.empty() && shelf_ == nullptr; }
    /// Errors: unreadable.
    [[nodiscard]] Result<std::string> read() const {
        if (shelf_ == nullptr) return memory_;
        std::string bytes(static_cast<std::size_t>(shelf_->bytes()), '\0');
        if (auto got = shelf_->get(0, bytes.data(), shelf_->bytes()); !got) return Failure(std::move(got.error()));
        return bytes;
    }
    /// From here on on a shelf of the scratch, which lives as long as any bytes in it. Copies share it. Errors: unwritable.
    [[nodiscard]] Result<void> put_aside(const std::shared_ptr<Scratch>& scratch) {
        if (memory_.empty()) return {};
        const auto n = static_cast<std::int64_t>(memory_.size());
        auto shelf = scratch->take(n);
        if (!shelf) return Failure(std::move(shelf.error()));
        if (auto put = shelf->put(0, memory_.data(), n); !put) return put;
        struct Both {
            std::shared_ptr<Scratch> scratch;  // goes last
            Shelf shelf;
        };
        const auto both = std::make_shared<Both>(Both{scratch, std::move(*shelf)});
        shelf_ = std::shared_ptr<const Shelf>(both, &both->shelf);
        memory_ = {};
        return {};
    }

private:
    std::string memory_;
    std::shared_ptr<const Shelf> shelf_;
};

}  // namespace basefog
