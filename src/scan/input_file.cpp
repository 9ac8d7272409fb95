// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/input_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstring>
#include <utility>

namespace basefog::scan {

Result<InputFile> InputFile::open(const std::string& path) {
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0) {
        const int error = errno;
        if (error == ENOENT || error == ENOTDIR) return fail(ErrorCode::not_found, "there is no such file", path, "check the name and the folder");
        return fail(ErrorCode::unreadable, std::string("cannot be opened: ") + std::strerror(error), path, "check that you may read it");
    }
    InputFile file(path, descriptor, 0);
    struct stat status {};
    if (::fstat(descriptor, &status) != 0) return fail(ErrorCode::unreadable, std::string("cannot be examined: ") + std::strerror(errno), path);
    if (S_ISDIR(status.st_mode)) return fail(ErrorCode::unreadable, "is a folder, not a scan", path, "name the scans inside it");
    if (!S_ISREG(status.st_mode)) return fail(ErrorCode::unreadable, "is not an ordinary file", path, "copy the scan to a file first");
    if (status.st_size == 0) return fail(ErrorCode::malformed, "is empty (0 bytes)", path, "scan or copy it again");
    file.size_ = status.st_size;
    return file;
}

InputFile::InputFile(InputFile&& other) noexcept : path_(std::move(other.path_)), descriptor_(std::exchange(other.descriptor_, -1)), size_(other.size_) {}

InputFile& InputFile::operator=(InputFile&& other) noexcept {
    std::swap(path_, other.path_);
    std::swap(descriptor_, other.descriptor_);
    std::swap(size_, other.size_);
    return *this;
}

InputFile::~InputFile() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

std::int64_t InputFile::read_at(std::int64_t offset, void* buffer, std::int64_t count) const {
    std::int64_t done = 0;
    while (done < count) {
        const auto got = ::pread(descriptor_, static_cast<char*>(buffer) + done, static_cast<std::size_t>(count - done), offset + done);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return -1;
        if (got == 0) break;
        done += got;
    }
    return done;
}

std::vector<unsigned char> InputFile::head(std::int64_t count) const {
    std::vector<unsigned char> bytes(static_cast<std::size_t>(std::min(count, size_)));
    const std::int64_t got = read_at(0, bytes.data(), static_cast<std::int64_t>(bytes.size()));
    bytes.resize(static_cast<std::size_t>(got < 0 ? 0 : got));
    return bytes;
}

}  // namespace basefog::scan
