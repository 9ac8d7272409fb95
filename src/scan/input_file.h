// SPDX-License-Identifier: GPL-3.0-or-later
// A file open for reading, by its descriptor: what the system says of it, and bytes at a place.
#pragma once

#include "basefog/core/result.h"

#include <cstdint>
#include <string>
#include <vector>

namespace basefog::scan {

class InputFile {
public:
    /// Errors: not_found, unreadable (no permission, a folder, a device), malformed (empty).
    [[nodiscard]] static Result<InputFile> open(const std::string& path);
    InputFile(InputFile&& other) noexcept;
    InputFile& operator=(InputFile&& other) noexcept;
    InputFile(const InputFile&) = delete;
    InputFile& operator=(const InputFile&) = delete;
    ~InputFile();

    [[nodiscard]] const std::string& path() const { return path_; }
    [[nodiscard]] std::int64_t size() const { return size_; }
    [[nodiscard]] int descriptor() const { return descriptor_; }
    /// Up to `count` bytes from `offset`; fewer at the end of the file, -1 with errno when the system fails.
    [[nodiscard]] std::int64_t read_at(std::int64_t offset, void* buffer, std::int64_t count) const;
    /// The first bytes, up to `count`; empty when unreadable.
    [[nodiscard]] std::vector<unsigned char> head(std::int64_t count) const;

private:
    InputFile(std::string path, int descriptor, std::int64_t size) : path_(std::move(path)), descriptor_(descriptor), size_(size) {}
    std::string path_;
    int descriptor_ = -1;
    std::int64_t size_ = 0;
};

}  // namespace basefog::scan
