// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/picture_file.h"
#include "scan/picture_pixels.h"

#include <png.h>
#include <bit>
#include <csetjmp>

namespace basefog::scan {
namespace {

/// The library leaves by a jump, so nothing with a destructor may live between.
void leave(png_structp png, png_const_charp complaint) {
    auto& kept = *static_cast<std::string*>(png_get_error_ptr(png));
    kept = complaint;
    png_longjmp(png, 1);
}
/// What it can live with: odd chunks beside the picture.
void pass_over(png_structp, png_const_charp) {}

/// Grey or red, green, blue, of 8 or 16 bits, whatever the file packs them in.
void unpack(png_structp png) {
    png_set_expand_gray_1_2_4_to_8(png);
    png_set_palette_to_rgb(png);
    png_set_strip_alpha(png);
    if constexpr (std::endian::native == std::endian::little) png_set_swap(png);
}

bool decode_rows(png_structp png, png_infop info, std::FILE* file, const PictureHeader& header, png_bytep first, png_bytepp rows) {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_init_io(png, file);
    png_read_info(png, info);
    unpack(png);
    png_set_interlace_handling(png);
    png_read_update_info(png, info);
    if (png_get_image_width(png, info) != header.width || png_get_image_height(png, info) != header.height ||
        png_get_rowbytes(png, info) != static_cast<std::size_t>(row_bytes(header)))
        png_error(png, "its header contradicts itself");
    for (std::int64_t y = 0; y < header.height; ++y) rows[y] = first + y * row_bytes(header);
    png_read_image(png, rows);
    png_read_end(png, nullptr);
    return true;
}

}  // namespace

Result<PicturePixels> decode_png(const std::string& path, const PictureHeader& header) {
    const PictureFile file = open_picture_file(path);
    std::string complaint;
    if (file == nullptr) return undecodable(file, path, complaint);
    PicturePixels pixels(static_cast<std::size_t>(header.height * row_bytes(header)));
    std::vector<png_bytep> rows(static_cast<std::size_t>(header.height));
    png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, &complaint, leave, pass_over);
    png_infop info = png != nullptr ? png_create_info_struct(png) : nullptr;
    const bool decoded = info != nullptr && decode_rows(png, info, file.get(), header, reinterpret_cast<png_bytep>(pixels.data()), rows.data());
    png_destroy_read_struct(&png, &info, nullptr);
    if (!decoded) return undecodable(file, path, complaint);
    return pixels;
}

}  // namespace basefog::scan
