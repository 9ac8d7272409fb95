// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/picture_pixels.h"

#include <png.h>
#include <algorithm>
#include <bit>
#include <csetjmp>
#include <vector>

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

bool read_header(png_structp png, png_infop info, std::FILE* file, const PictureHeader& header) {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_init_io(png, file);
    png_read_info(png, info);
    unpack(png);
    png_set_interlace_handling(png);
    png_read_update_info(png, info);
    if (png_get_image_width(png, info) != header.width || png_get_image_height(png, info) != header.height ||
        png_get_rowbytes(png, info) != static_cast<std::size_t>(row_bytes(header)))
        png_error(png, "its header contradicts itself");
    return true;
}

bool read_row(png_structp png, png_bytep row) {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_read_row(png, row, nullptr);
    return true;
}

bool read_all(png_structp png, png_bytepp rows) {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_read_image(png, rows);
    return true;
}

bool read_end(png_structp png) {
    if (setjmp(png_jmpbuf(png)) != 0) return false;
    png_read_end(png, nullptr);
    return true;
}

class PngRows final : public RowDecoder {
public:
    using RowDecoder::RowDecoder;
    ~PngRows() override { close(); }

private:
    [[nodiscard]] bool start(std::FILE* file) override {
        close();
        png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &complaint_, leave, pass_over);
        info_ = png_ != nullptr ? png_create_info_struct(png_) : nullptr;
        return info_ != nullptr && read_header(png_, info_, file, header()) && (!header().out_of_order || take_whole());
    }
    [[nodiscard]] bool read(std::int64_t y, std::byte* row) override {
        if (!header().out_of_order) return read_row(png_, reinterpret_cast<png_bytep>(row));
        std::copy_n(whole_.begin() + y * row_bytes(header()), row_bytes(header()), row);
        return true;
    }
    [[nodiscard]] bool end() override { return read_end(png_); }
    [[nodiscard]] std::string complaint() const override { return complaint_; }

    [[nodiscard]] bool take_whole() {
        whole_.resize(static_cast<std::size_t>(header().height * row_bytes(header())));
        std::vector<png_bytep> rows;
        for (std::int64_t y = 0; y < header().height; ++y) rows.push_back(reinterpret_cast<png_bytep>(whole_.data() + y * row_bytes(header())));
        return read_all(png_, rows.data());
    }
    void close() {
        if (png_ != nullptr) png_destroy_read_struct(&png_, &info_, nullptr);
        png_ = nullptr, info_ = nullptr;
    }

    std::string complaint_;
    png_structp png_ = nullptr;
    png_infop info_ = nullptr;
    std::vector<std::byte> whole_;  ///< of an interlaced file
};

}  // namespace

std::unique_ptr<RowDecoder> png_rows(const std::string& path, const PictureHeader& header) { return std::make_unique<PngRows>(path, header); }

}  // namespace basefog::scan
