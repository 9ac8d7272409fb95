// SPDX-License-Identifier: GPL-3.0-or-later
// Room for what is worked on: memory up to a limit, beyond it a file that has no name, so that nothing can leave it behind.
#pragma once

#include "basefog/core/observer.h"
#include "basefog/core/result.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>

namespace basefog {

class Scratch;

/// A piece of a Scratch, given back when destroyed. Parts that do not overlap may be put and got from any number of threads.
class Shelf {
public:
    Shelf() = default;
    Shelf(Shelf&& other) noexcept;
    Shelf& operator=(Shelf&& other) noexcept;
    Shelf(const Shelf&) = delete;
    Shelf& operator=(const Shelf&) = delete;
    ~Shelf();

    [[nodiscard]] std::int64_t bytes() const { return bytes_; }
    /// Errors: unwritable.
    [[nodiscard]] Result<void> put(std::int64_t offset, const void* from, std::int64_t bytes) const;
    /// What was never put reads as anything. Errors: unreadable.
    [[nodiscard]] Result<void> get(std::int64_t offset, void* to, std::int64_t bytes) const;

private:
    friend class Scratch;
    Scratch* scratch_ = nullptr;
    std::unique_ptr<std::byte[]> memory_;  ///< empty: in the file
    std::int64_t place_ = 0, bytes_ = 0;
};

class Scratch {
public:
    /// `folder`: for the file, made when it is first needed; the observer is told then what `about` needs it. Both must outlive the Scratch, as it must
    /// its shelves.
    Scratch(std::string folder, std::int64_t memory_bytes, std::string about, Observer& observer);
    ~Scratch();
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;

    /// Would so much be kept in memory just now, with so much left?
    [[nodiscard]] bool fits(std::int64_t bytes, std::int64_t left = 0) const;
    /// From any thread. In memory if it fits there. Errors: unwritable (no file can be made in the folder).
    [[nodiscard]] Result<Shelf> take(std::int64_t bytes, std::int64_t left = 0);

private:
    friend class Shelf;
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace basefog
