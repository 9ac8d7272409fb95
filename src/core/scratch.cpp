// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/scratch.h"

#include "basefog/core/assert.h"

#include <fcntl.h>
#include <unistd.h>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <mutex>
#include <utility>

namespace basefog {

struct Scratch::State {
    std::string folder, about;
    std::int64_t memory_left;
    Observer& observer;
    mutable std::mutex mutex;
    int file = -1;
    std::int64_t file_end = 0;

    State(std::string in, std::int64_t memory_bytes, std::string what, Observer& told)
        : folder(std::move(in)), about(std::move(what)), memory_left(memory_bytes), observer(told) {}

    /// Without a name from the start where the file system can do that; else its name is taken away at once.
    Result<void> make_file() {
        file = ::open(folder.c_str(), O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
        if (file < 0) {
            std::string name = folder + "/.pending-scratch-XXXXXX";
            file = ::mkostemp(name.data(), O_CLOEXEC);
            if (file >= 0) ::unlink(name.c_str());
        }
        if (file < 0)
            return fail(ErrorCode::unwritable, std::string("no temporary file can be made there: ") + std::strerror(errno), folder,
                        "choose an --output that may be written, or give more --memory");
        observer.notice(about + ": needs more than --memory; the rest is put aside in " + folder + " and gone afterwards");
        return {};
    }
};

Scratch::Scratch(std::string folder, std::int64_t memory_bytes, std::string about, Observer& observer)
    : state_(std::make_unique<State>(std::move(folder), memory_bytes, std::move(about), observer)) {}

Scratch::~Scratch() {
    if (state_->file >= 0) ::close(state_->file);
}

bool Scratch::fits(std::int64_t bytes, std::int64_t left) const {
    const std::lock_guard lock(state_->mutex);
    return bytes + left <= state_->memory_left;
}

Result<Shelf> Scratch::take(std::int64_t bytes, std::int64_t left) {
    BASEFOG_ASSERT(bytes >= 0);
    Shelf shelf;
    shelf.scratch_ = this;
    shelf.bytes_ = bytes;
    const std::lock_guard lock(state_->mutex);
    if (bytes <= state_->memory_left - left) {
        state_->memory_left -= bytes;
        shelf.memory_ = std::make_unique_for_overwrite<std::byte[]>(static_cast<std::size_t>(bytes));
        return shelf;
    }
    if (state_->file < 0)
        if (auto made = state_->make_file(); !made) {
            shelf.scratch_ = nullptr;
            return Failure(std::move(made.error()));
        }
    shelf.place_ = state_->file_end;
    constexpr std::int64_t kPage = 4096;  // so that what is given back can be freed on disk whole
    state_->file_end += (bytes + kPage - 1) / kPage * kPage;
    return shelf;
}

Shelf::Shelf(Shelf&& other) noexcept
    : scratch_(std::exchange(other.scratch_, nullptr)), memory_(std::move(other.memory_)), place_(other.place_), bytes_(std::exchange(other.bytes_, 0)) {}

Shelf& Shelf::operator=(Shelf&& other) noexcept {
    std::swap(scratch_, other.scratch_);
    std::swap(memory_, other.memory_);
    std::swap(place_, other.place_);
    std::swap(bytes_, other.bytes_);
    return *this;
}

Shelf::~Shelf() {
    if (scratch_ == nullptr) return;
    Scratch::State& state = *scratch_->state_;
    const std::lock_guard lock(state.mutex);
    if (memory_) {
        memory_.reset();
        state.memory_left += bytes_;
    } else if (bytes_ > 0) {
        // Where holes are unknown the space is freed with the file.
        (void)::fallocate(state.file, FALLOC_FL_PUNCH_HOLE | FALLOC_FL_KEEP_SIZE, place_, bytes_);
    }
}

Result<void> Shelf::put(std::int64_t offset, const void* from, std::int64_t bytes) const {
    BASEFOG_ASSERT(offset >= 0 && bytes >= 0 && offset + bytes <= bytes_);
    if (bytes == 0) return {};  // and perhaps no memory to go with it
    if (memory_) {
        std::memcpy(memory_.get() + offset, from, static_cast<std::size_t>(bytes));
        return {};
    }
    const auto* at = static_cast<const std::byte*>(from);
    for (std::int64_t place = place_ + offset; bytes > 0;) {
        const auto wrote = ::pwrite(scratch_->state_->file, at, static_cast<std::size_t>(bytes), place);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0)
            return fail(ErrorCode::unwritable, std::string("its temporary file could not be written: ") + std::strerror(wrote < 0 ? errno : ENOSPC),
                        scratch_->state_->folder, "free some space, or give more --memory");
        at += wrote;
        place += wrote;
        bytes -= wrote;
    }
    return {};
}

Result<void> Shelf::get(std::int64_t offset, void* to, std::int64_t bytes) const {
    BASEFOG_ASSERT(offset >= 0 && bytes >= 0 && offset + bytes <= bytes_);
    if (bytes == 0) return {};  // and perhaps no memory to go with it
    if (memory_) {
        std::memcpy(to, memory_.get() + offset, static_cast<std::size_t>(bytes));
        return {};
    }
    auto* at = static_cast<std::byte*>(to);
    for (std::int64_t place = place_ + offset; bytes > 0;) {
        const auto got = ::pread(scratch_->state_->file, at, static_cast<std::size_t>(bytes), place);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0)
            return fail(ErrorCode::unreadable, std::string("its temporary file could not be read back: ") + std::strerror(errno), scratch_->state_->folder);
        if (got == 0) {  // never put, beyond the file's end
            std::memset(at, 0, static_cast<std::size_t>(bytes));
            return {};
        }
        at += got;
        place += got;
        bytes -= got;
    }
    return {};
}

}  // namespace basefog
