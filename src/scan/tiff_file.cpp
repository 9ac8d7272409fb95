// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_file.h"

#include <tiffio.h>
#include <array>
#include <cerrno>
#include <cstdarg>
#include <cstdio>
#include <cstring>

namespace basefog::scan {

struct TiffFile::Callbacks {
    static TiffFile& self(thandle_t handle) { return *static_cast<TiffFile*>(handle); }
    static tmsize_t read(thandle_t handle, void* buffer, tmsize_t count) {
        const std::int64_t got = self(handle).file_.read_at(self(handle).position_, buffer, count);
        if (got < 0) self(handle).system_error_ = errno;
        if (got > 0) self(handle).position_ += got;
        return got < 0 ? 0 : got;
    }
    static tmsize_t write(thandle_t, void*, tmsize_t) { return 0; }
    static toff_t seek(thandle_t handle, toff_t offset, int whence) {
        std::int64_t& position = self(handle).position_;
        const auto target = static_cast<std::int64_t>(offset);
        position = whence == SEEK_SET ? target : whence == SEEK_CUR ? position + target : self(handle).file_.size() + target;
        if (position < 0) position = self(handle).file_.size();  // an offset no file can have: reading there finds nothing
        return static_cast<toff_t>(position);
    }
    static int close(thandle_t) { return 0; }
    static toff_t size(thandle_t handle) { return static_cast<toff_t>(self(handle).file_.size()); }
    static int map(thandle_t handle, void** base, toff_t* size) {
        self(handle).map_ = Mapping::make(self(handle).file_.descriptor(), self(handle).file_.size());
        if (self(handle).map_ == nullptr) return 0;
        *base = self(handle).map_->address();
        *size = static_cast<toff_t>(self(handle).file_.size());
        return 1;
    }
    static void unmap(thandle_t handle, void*, toff_t) { self(handle).map_ = nullptr; }
    static int complain(TIFF*, void* user_data, const char*, const char* format, va_list arguments) {
        std::array<char, 400> text{};
        std::vsnprintf(text.data(), text.size(), format, arguments);
        std::string message = text.data();
        // Where no row is known the library prints its -1 as an unsigned number.
        if (const auto at = message.find(" at scanline 4294967295"); at != std::string::npos) message.erase(at, std::string(" at scanline 4294967295").size());
        static_cast<TiffFile*>(user_data)->message_ = std::move(message);
        return 1;  // dealt with: the library's own handlers would print
    }
    static int ignore(TIFF*, void*, const char*, const char*, va_list) { return 1; }
};

Result<std::unique_ptr<TiffFile>> TiffFile::open(const std::string& path, std::int64_t most_allocation, Way way) {
    auto file = InputFile::open(path);
    if (!file) return Failure(file.error());
    std::unique_ptr<TiffFile> tiff(new TiffFile(std::move(*file)));
    TIFFOpenOptions* options = TIFFOpenOptionsAlloc();
    if (options == nullptr) return fail(ErrorCode::too_large, "reading it needs more memory than there is", path);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, most_allocation);
    TIFFOpenOptionsSetErrorHandlerExtR(options, Callbacks::complain, tiff.get());
    TIFFOpenOptionsSetWarningHandlerExtR(options, Callbacks::ignore, tiff.get());
    tiff->handle_ = TIFFClientOpenExt(path.c_str(), way == Way::mapped ? "r" : "rm", tiff.get(), Callbacks::read, Callbacks::write, Callbacks::seek,
                                      Callbacks::close, Callbacks::size, Callbacks::map, Callbacks::unmap, options);
    TIFFOpenOptionsFree(options);
    if (tiff->handle_ == nullptr) return tiff->failure("is a TIFF whose header cannot be read", "it is cut off or damaged: scan or copy it again");
    return tiff;
}

TiffFile::~TiffFile() {
    if (handle_ != nullptr) TIFFClose(handle_);
}

Result<void> TiffFile::go_to_page(int page) {
    if (TIFFSetDirectory(handle_, static_cast<tdir_t>(page)) != 0) return {};
    return failure("page " + std::to_string(page + 1) + " of the TIFF cannot be read", "it is cut off or damaged: scan or copy it again");
}

int TiffFile::count_pages(int most) {
    int pages = 1;
    while (pages < most && TIFFLastDirectory(handle_) == 0 && TIFFReadDirectory(handle_) != 0) ++pages;
    TIFFSetDirectory(handle_, 0);
    message_.clear();
    return pages;
}

Failure TiffFile::failure(const std::string& what, const std::string& hint) const {
    if (cut_short())
        return fail(ErrorCode::unreadable, what + ": it became shorter while it was read, or its disk fails", file_.path(),
                    "wait until it is written, or copy it again, and run again");
    if (system_error_ != 0)
        return fail(ErrorCode::unreadable, what + ": " + std::strerror(system_error_), file_.path(), "check the disk, and copy the file again");
    return fail(ErrorCode::malformed, message_.empty() ? what : what + " (" + message_ + ")", file_.path(), hint);
}

void TiffFile::forget_mapped_pages() const {
    if (map_ != nullptr) map_->forget_pages();
}

}  // namespace basefog::scan
