// SPDX-License-Identifier: GPL-3.0-or-later
// Loaded before the program (LD_PRELOAD): lets reading of one file go wrong from a byte on.
//   FAULT_FILE  end of the file's path
//   FAULT_AT    byte
//   FAULT_KIND  eio: the system reports an error; touch: somebody writes to the file meanwhile
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string_view>

namespace {

bool strikes(int descriptor, long end) {
    const char *file = std::getenv("FAULT_FILE"), *at = std::getenv("FAULT_AT");
    if (file == nullptr || at == nullptr || end <= std::atol(at)) return false;
    char link[64], path[4096];
    std::snprintf(link, sizeof link, "/proc/self/fd/%d", descriptor);
    const ssize_t length = ::readlink(link, path, sizeof path);
    return length > 0 && std::string_view(path, static_cast<std::size_t>(length)).ends_with(file);
}

ssize_t read_at(int descriptor, void* buffer, size_t count, off_t offset) {
    if (strikes(descriptor, offset + static_cast<long>(count))) {
        if (std::strcmp(std::getenv("FAULT_KIND"), "eio") == 0) {
            errno = EIO;
            return -1;
        }
        ::futimens(descriptor, nullptr);
    }
    return ::syscall(SYS_pread64, descriptor, buffer, count, offset);
}

}  // namespace

extern "C" ssize_t pread(int descriptor, void* buffer, size_t count, off_t offset) { return read_at(descriptor, buffer, count, offset); }
extern "C" ssize_t pread64(int descriptor, void* buffer, size_t count, off_t offset) { return read_at(descriptor, buffer, count, offset); }
