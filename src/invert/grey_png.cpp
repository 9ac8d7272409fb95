// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/pending_file.h"
#include "basefog/invert/write.h"

#include <png.h>
#include <cerrno>
#include <csetjmp>
#include <cstdio>
#include <cstring>
#include <vector>

namespace basefog {
namespace {

/// libpng reports errors by a jump: what it passes over must need no destructor, so everything lives in here.
struct PngWriter {
    std::FILE* file = nullptr;
    png_structp png = nullptr;
    png_infop info = nullptr;
    std::string problem;

    ~PngWriter() {
        png_destroy_write_struct(&png, &info);
        if (file != nullptr) std::fclose(file);
    }
    static void on_error(png_structp png, png_const_charp message) {
        auto& self = *static_cast<PngWriter*>(png_get_error_ptr(png));
        const int reason = errno;
        self.problem = std::string("could not be written: ") + (reason != 0 ? std::strerror(reason) : message);
        std::longjmp(png_jmpbuf(png), 1);
    }
    static void on_warning(png_structp, png_const_charp) {}
};

/// False after a jump, and when `fill`, which puts the rows into `row`, ends it.
bool write_rows(PngWriter& writer, std::uint32_t width, std::uint32_t height, void* context, bool (*fill)(void*, std::int64_t, std::uint8_t*),
                std::uint8_t* row) {
    constexpr int kLevel = 3;  // Chosen: maps are mostly empty; higher levels only cost time
    if (setjmp(png_jmpbuf(writer.png)) != 0) return false;
    png_init_io(writer.png, writer.file);
    png_set_user_limits(writer.png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_set_compression_level(writer.png, kLevel);
    png_set_filter(writer.png, PNG_FILTER_TYPE_BASE, PNG_FILTER_NONE);
    png_set_IHDR(writer.png, writer.info, width, height, 8, PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(writer.png, writer.info);
    for (std::uint32_t y = 0; y < height; ++y) {
        if (!fill(context, y, row)) return false;
        errno = 0;
        png_write_row(writer.png, row);
    }
    errno = 0;
    png_write_end(writer.png, nullptr);
    return true;
}

}  // namespace

Result<void> detail::write_grey_png_rows(const std::string& path, std::int64_t width, std::int64_t height, void* context,
                                         bool (*fill)(void* context, std::int64_t y, std::uint8_t* row)) {
    if (width <= 0 || height <= 0) return fail(ErrorCode::unwritable, "the picture has no pixels", path);
    if (width > PNG_UINT_31_MAX || height > PNG_UINT_31_MAX) return fail(ErrorCode::too_large, "the picture is too large for a PNG file", path);
    PendingFile pending(path);
    {
        PngWriter writer;
        writer.file = std::fopen(pending.temporary_path().c_str(), "wb");
        if (writer.file == nullptr)
            return fail(ErrorCode::unwritable, std::string("cannot be created: ") + std::strerror(errno), path,
                        "check that the folder exists and may be written");
        writer.png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &writer, PngWriter::on_error, PngWriter::on_warning);
        writer.info = writer.png != nullptr ? png_create_info_struct(writer.png) : nullptr;
        if (writer.info == nullptr) return fail(ErrorCode::unwritable, "there is no memory to write it", path);
        std::vector<std::uint8_t> row(static_cast<std::size_t>(width));
        if (!write_rows(writer, static_cast<std::uint32_t>(width), static_cast<std::uint32_t>(height), context, fill, row.data()))
            return fail(ErrorCode::unwritable, writer.problem, path, "check the free space");
        const bool closed = std::fclose(writer.file) == 0;
        const int reason = errno;
        writer.file = nullptr;
        if (!closed) return fail(ErrorCode::unwritable, std::string("could not be written: ") + std::strerror(reason), path, "check the free space");
    }
    return pending.commit();
}

}  // namespace basefog
