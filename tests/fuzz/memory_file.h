// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <sys/mman.h>
#include <unistd.h>
#include <cstdlib>
#include <string>
#include <string_view>

namespace basefog::fuzz {

/// Bytes as a file that lies on no disk, for readers that take a path.
class MemoryFile {
public:
    explicit MemoryFile(std::string_view bytes) : descriptor_(::memfd_create("case", MFD_CLOEXEC)) {
        while (!bytes.empty()) {
            const auto done = ::write(descriptor_, bytes.data(), bytes.size());
            if (done <= 0) std::abort();
            bytes.remove_prefix(static_cast<std::size_t>(done));
        }
    }
    ~MemoryFile() { ::close(descriptor_); }
    MemoryFile(const MemoryFile&) = delete;
    MemoryFile& operator=(const MemoryFile&) = delete;
    [[nodiscard]] std::string path() const { return "/proc/self/fd/" + std::to_string(descriptor_); }

private:
    int descriptor_;
};

}  // namespace basefog::fuzz
