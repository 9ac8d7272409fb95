// SPDX-License-Identifier: GPL-3.0-or-later
// A TIFF file being written, which remembers the first thing that went wrong and why. Private to the invert stage.
#pragma once

#include <tiffio.h>
#include <string>

namespace basefog::invert {

class TiffOutput {
public:
    TiffOutput(const std::string& path, bool big);
    ~TiffOutput();
    TiffOutput(const TiffOutput&) = delete;
    TiffOutput& operator=(const TiffOutput&) = delete;

    [[nodiscard]] TIFF* handle() const { return tiff_; }  ///< null when the file could not be created
    /// For a call that failed; libtiff's own words are kept if it gave any.
    void note_failure();
    /// Writes what is left. Empty when everything went well, else the reason.
    [[nodiscard]] std::string close();

private:
    static int on_message(TIFF*, void* self, const char* module, const char* format, va_list arguments);
    static int on_warning(TIFF*, void*, const char*, const char*, va_list) { return 1; }
    static tmsize_t on_read(thandle_t self, void* data, tmsize_t size);
    static tmsize_t on_write(thandle_t self, void* data, tmsize_t size);
    static toff_t on_seek(thandle_t self, toff_t offset, int whence);
    static int on_close(thandle_t) { return 0; }
    static toff_t on_size(thandle_t self);
    void note(const std::string& problem) {
        if (problem_.empty()) problem_ = problem;
    }

    int file_ = -1;
    TIFF* tiff_ = nullptr;
    std::string problem_;
};

}  // namespace basefog::invert
