// SPDX-License-Identifier: GPL-3.0-or-later
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

bool read_header(Session& session, std::FILE* file, const PictureHeader& header) {
    jpeg_decompress_struct& decoder = session.decoder;
    decoder.err = jpeg_std_error(&session.errors);
    decoder.client_data = &session;
    session.errors.error_exit = leave;
    session.errors.emit_message = take_message;
    session.errors.output_message = keep_complaint;
    if (setjmp(session.leave) != 0) return false;
    jpeg_create_decompress(&decoder);
    jpeg_stdio_src(&decoder, file);
    jpeg_read_header(&decoder, TRUE);
    decoder.out_color_space = header.colours == 1 ? JCS_GRAYSCALE : JCS_RGB;
    jpeg_start_decompress(&decoder);
    return decoder.output_width == static_cast<JDIMENSION>(header.width) && decoder.output_height == static_cast<JDIMENSION>(header.height) &&
           decoder.output_components == header.colours;
}

bool read_row(Session& session, JSAMPLE* to) {
    if (setjmp(session.leave) != 0) return false;
    JSAMPROW row = to;
    return jpeg_read_scanlines(&session.decoder, &row, 1) == 1;
}

bool read_end(Session& session) {
    if (setjmp(session.leave) != 0) return false;
    jpeg_finish_decompress(&session.decoder);
    return true;
}

class JpegRows final : public RowDecoder {
public:
    using RowDecoder::RowDecoder;
    ~JpegRows() override { close(); }

private:
    [[nodiscard]] bool start(std::FILE* file) override {
        close();
        session_ = std::make_unique<Session>();
        return read_header(*session_, file, header());
    }
    [[nodiscard]] bool read(std::int64_t, std::byte* row) override { return read_row(*session_, reinterpret_cast<JSAMPLE*>(row)); }
    [[nodiscard]] bool end() override { return read_end(*session_); }
    [[nodiscard]] std::string complaint() const override { return session_ != nullptr ? session_->complaint.data() : std::string(); }

    void close() {
        if (session_ != nullptr) jpeg_destroy_decompress(&session_->decoder);
        session_.reset();
    }

    std::unique_ptr<Session> session_;
};

}  // namespace

std::unique_ptr<RowDecoder> jpeg_rows(const std::string& path, const PictureHeader& header) { return std::make_unique<JpegRows>(path, header); }

}  // namespace basefog::scan
