// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/tiff_output.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <array>
#include <cerrno>
#include <cstdarg>
#include <cstdio>
#include <cstring>

namespace basefog::invert {

TiffOutput::TiffOutput(const std::string& path, bool big) : file_(::open(path.c_str(), O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0666)) {
    if (file_ < 0) {
        note(std::string("cannot be created: ") + std::strerror(errno));
        return;
    }
    TIFFOpenOptions* const options = TIFFOpenOptionsAlloc();
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_message, this);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, this);
    tiff_ = TIFFClientOpenExt(path.c_str(), big ? "w8" : "w", this, on_read, on_write, on_seek, on_close, on_size, nullptr, nullptr, options);
    TIFFOpenOptionsFree(options);
    if (tiff_ == nullptr) note("cannot be written");
}

TiffOutput::~TiffOutput() { (void)close(); }

void TiffOutput::note_failure() { note("could not be written"); }

std::string TiffOutput::close() {
    if (tiff_ != nullptr) TIFFClose(tiff_);  // reports only through the handlers
    tiff_ = nullptr;
    if (file_ >= 0 && ::close(file_) != 0) note(std::string("could not be written: ") + std::strerror(errno));
    file_ = -1;
    return problem_;
}

int TiffOutput::on_message(TIFF*, void* self, const char*, const char* format, va_list arguments) {
    std::array<char, 512> text{};
    std::vsnprintf(text.data(), text.size(), format, arguments);
    static_cast<TiffOutput*>(self)->note(std::string("could not be written: ") + text.data());
    return 1;
}

tmsize_t TiffOutput::on_read(thandle_t self, void* data, tmsize_t size) {
    return ::read(static_cast<TiffOutput*>(self)->file_, data, static_cast<std::size_t>(size));
}

tmsize_t TiffOutput::on_write(thandle_t self, void* data, tmsize_t size) {
    auto& output = *static_cast<TiffOutput*>(self);
    tmsize_t done = 0;
    while (done < size) {
        const ssize_t wrote = ::write(output.file_, static_cast<const char*>(data) + done, static_cast<std::size_t>(size - done));
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0) {
            output.note(std::string("could not be written: ") + std::strerror(wrote < 0 ? errno : ENOSPC));
            return -1;
        }
        done += wrote;
    }
    return done;
}

toff_t TiffOutput::on_seek(thandle_t self, toff_t offset, int whence) {
    return static_cast<toff_t>(::lseek(static_cast<TiffOutput*>(self)->file_, static_cast<off_t>(offset), whence));
}

toff_t TiffOutput::on_size(thandle_t self) {
    struct stat about {};
    return ::fstat(static_cast<TiffOutput*>(self)->file_, &about) == 0 ? static_cast<toff_t>(about.st_size) : 0;
}

}  // namespace basefog::invert
