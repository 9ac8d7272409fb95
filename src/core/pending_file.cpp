// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/pending_file.h"

#include <fcntl.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>

namespace basefog {
namespace {

constexpr std::string_view kPrefix = ".pending-";

std::string temporary_name(const std::string& final_path) {
    const std::filesystem::path path(final_path);
    const std::string name = std::string(kPrefix) + std::to_string(::getpid()) + "-" + path.filename().string();
    return (path.parent_path() / name).string();
}

}  // namespace

PendingFile::PendingFile(std::string final_path) : final_path_(std::move(final_path)), temporary_path_(temporary_name(final_path_)) {}

PendingFile::~PendingFile() {
    if (!committed_) std::remove(temporary_path_.c_str());
}

bool PendingFile::is_temporary_name(std::string_view name) {
    if (!name.starts_with(kPrefix)) return false;
    name.remove_prefix(kPrefix.size());
    const std::size_t digits = name.find_first_not_of("0123456789");
    return digits != 0 && digits != std::string_view::npos && name[digits] == '-';
}

Result<void> PendingFile::commit() {
    const int file = ::open(temporary_path_.c_str(), O_RDONLY);
    if (file < 0) return fail(ErrorCode::unwritable, std::string("the finished file is gone before it could be renamed: ") + std::strerror(errno), final_path_);
    const bool flushed = ::fsync(file) == 0 || errno == EINVAL;
    const int flush_error = errno;
    ::close(file);
    if (!flushed)
        return fail(ErrorCode::unwritable, std::string("could not be written to disk: ") + std::strerror(flush_error), final_path_, "check the free space");
    if (std::rename(temporary_path_.c_str(), final_path_.c_str()) != 0)
        return fail(ErrorCode::unwritable, std::string("could not be put in place: ") + std::strerror(errno), final_path_);
    committed_ = true;
    return {};
}

Result<void> write_whole_file(const std::string& path, std::string_view content) {
    return write_whole_file(path, [&](const std::function<Result<void>(std::string_view)>& write) { return write(content); });
}

Result<void> write_whole_file(const std::string& path, const std::function<Result<void>(const std::function<Result<void>(std::string_view)>& write)>& make) {
    PendingFile pending(path);
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(pending.temporary_path().c_str(), "wb"), &std::fclose);
    if (file == nullptr)
        return fail(ErrorCode::unwritable, std::string("cannot be created: ") + std::strerror(errno), path, "check that the folder exists and may be written");
    const auto failed = [&] { return fail(ErrorCode::unwritable, std::string("could not be written: ") + std::strerror(errno), path, "check the free space"); };
    const auto made = make([&](std::string_view piece) -> Result<void> {
        if (std::fwrite(piece.data(), 1, piece.size(), file.get()) != piece.size()) return failed();
        return {};
    });
    if (!made) return made;
    if (std::fflush(file.get()) != 0) return failed();
    return pending.commit();
}

}  // namespace basefog
