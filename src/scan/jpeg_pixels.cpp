// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/picture_file.h"
#include "scan/picture_pixels.h"

#include <array>
#include <csetjmp>
#include <cstdio>
// libjpeg's header needs the one above.
#include <jpeglib.h>

namespace basefog::scan {
namespace {

/// The library's state, and what it complained about. It leaves by a jump, so nothing with a destructor may live between.
struct Session {
    jpeg_decompress_struct decoder{};
    jpeg_error_mgr errors{};
    std::jmp_buf leave{};
    std::array<char, JMSG_LENGTH_MAX> complaint{};
};

void keep_complaint(j_common_ptr common) { common->err->format_message(common, static_cast<Session*>(common->client_data)->complaint.data()); }

void leave(j_common_ptr common) {
    keep_complaint(common);
    std::longjmp(static_cast<Session*>(common->client_data)->leave, 1);
}

/// Below zero is damage that was patched over; above, only talk.
void take_message(j_common_ptr common, int level) {
    if (level < 0) leave(common);
}

/// False, with the session's complaint, when the file is not sound all through.
bool decode_rows(Session& session, std::FILE* file, const PictureHeader& header, JSAMPLE* first) {
    jpeg_decompress_struct& decoder = session.decoder;
    decoder.err = jpeg_std_error(&session.errors);
    decoder.client_data = &session;
    session.errors.error_exit = leave;
    session.errors.emit_message = take_message;
    session.errors.output_message = keep_complaint;
    if (setjmp(session.leave) != 0) {
        jpeg_destroy_decompress(&decoder);
        return false;
    }
    jpeg_create_decompress(&decoder);
    jpeg_stdio_src(&decoder, file);
    jpeg_read_header(&decoder, TRUE);
    decoder.out_color_space = header.colours == 1 ? JCS_GRAYSCALE : JCS_RGB;
    jpeg_start_decompress(&decoder);
    const bool as_told = decoder.output_width == static_cast<JDIMENSION>(header.width) && decoder.output_height == static_cast<JDIMENSION>(header.height) &&
                         decoder.output_components == header.colours;
    while (as_told && decoder.output_scanline < decoder.output_height) {
        JSAMPROW row = first + static_cast<std::int64_t>(decoder.output_scanline) * row_bytes(header);
        jpeg_read_scanlines(&decoder, &row, 1);
    }
    if (as_told) jpeg_finish_decompress(&decoder);
    jpeg_destroy_decompress(&decoder);
    return as_told;
}

}  // namespace

Result<PicturePixels> decode_jpeg(const std::string& path, const PictureHeader& header) {
    const PictureFile file = open_picture_file(path);
    if (file == nullptr) return undecodable(file, path, {});
    PicturePixels pixels(static_cast<std::size_t>(header.height * row_bytes(header)));
    const auto session = std::make_unique<Session>();
    if (!decode_rows(*session, file.get(), header, reinterpret_cast<JSAMPLE*>(pixels.data()))) return undecodable(file, path, session->complaint.data());
    return pixels;
}

}  // namespace basefog::scan
