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

bool start(Session& session, std::FILE* file, const PictureHeader& header) {
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

bool end(Session& session) {
    if (setjmp(session.leave) != 0) return false;
    jpeg_finish_decompress(&session.decoder);
    return true;
}

class JpegRows final : public RowDecoder {
public:
    JpegRows(std::string path, PictureHeader header) : path_(std::move(path)), header_(std::move(header)), file_(nullptr, std::fclose) {}
    ~JpegRows() override { close(); }
    JpegRows(const JpegRows&) = delete;
    JpegRows& operator=(const JpegRows&) = delete;

    [[nodiscard]] Result<void> begin() override {
        close();
        y_ = 0, broken_ = false;
        file_ = open_picture_file(path_);
        if (file_ == nullptr) return undecodable(file_, path_, {});
        session_ = std::make_unique<Session>();
        if (!start(*session_, file_.get(), header_)) return undecodable(file_, path_, session_->complaint.data());
        return {};
    }
    [[nodiscard]] Result<void> next(std::byte* row) override {
        // After a failure the library's state is not to be used again.
        broken_ = broken_ || !read_row(*session_, reinterpret_cast<JSAMPLE*>(row));
        if (!broken_ && ++y_ == header_.height) broken_ = !end(*session_);
        return broken_ ? undecodable(file_, path_, session_->complaint.data()) : Result<void>{};
    }

private:
    void close() {
        if (session_ != nullptr) jpeg_destroy_decompress(&session_->decoder);
        session_.reset();
    }

    std::string path_;
    PictureHeader header_;
    PictureFile file_;
    std::unique_ptr<Session> session_;
    std::int64_t y_ = 0;
    bool broken_ = false;
};

}  // namespace

std::unique_ptr<RowDecoder> jpeg_rows(const std::string& path, const PictureHeader& header) { return std::make_unique<JpegRows>(path, header); }

}  // namespace basefog::scan
