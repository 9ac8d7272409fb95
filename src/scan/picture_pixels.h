// SPDX-License-Identifier: GPL-3.0-or-later
// PNG and JPEG pixels, row by row through libpng and libjpeg themselves: damage that other readers patch over and only mention on the terminal
// is an error here, and nothing is printed.
#pragma once

#include "scan/picture_file.h"
#include "scan/picture_header.h"

#include <cstddef>
#include <memory>
#include <string>

namespace basefog::scan {

[[nodiscard]] inline std::int64_t row_bytes(const PictureHeader& header) { return header.width * header.colours * header.bits / 8; }

/// Rows from the top. Pixels that a file holds in another order (an interlaced PNG, a progressive JPEG) are held as a whole.
class RowDecoder {
public:
    RowDecoder(std::string path, PictureHeader header) : path_(std::move(path)), header_(std::move(header)), file_(nullptr, std::fclose) {}
    virtual ~RowDecoder() = default;
    RowDecoder(const RowDecoder&) = delete;
    RowDecoder& operator=(const RowDecoder&) = delete;

    /// Opens the file, or goes back to its top. Errors: malformed, unreadable.
    [[nodiscard]] Result<void> begin() {
        y_ = 0;
        file_ = open_picture_file(path_);
        usable_ = file_ != nullptr && start(file_.get());
        return outcome();
    }
    /// The next row: samples as stored, red first, in this machine's byte order, without transparency. After the last one the rest of the file is looked at,
    /// too. Errors: malformed, unreadable; then until begin() is called again.
    [[nodiscard]] Result<void> next(std::byte* row) {
        usable_ = usable_ && read(y_, row) && (++y_ < header_.height || end());
        return outcome();
    }

protected:
    [[nodiscard]] const PictureHeader& header() const { return header_; }

private:
    /// Each is false where the library found fault, and is not to be used again until start(), which lets go of what it had.
    [[nodiscard]] virtual bool start(std::FILE* file) = 0;
    [[nodiscard]] virtual bool read(std::int64_t y, std::byte* row) = 0;
    [[nodiscard]] virtual bool end() = 0;
    /// The library's, or empty.
    [[nodiscard]] virtual std::string complaint() const = 0;

    [[nodiscard]] Result<void> outcome() const { return usable_ ? Result<void>{} : undecodable(file_, path_, complaint()); }

    std::string path_;
    PictureHeader header_;
    PictureFile file_;
    std::int64_t y_ = 0;
    bool usable_ = false;
};
[[nodiscard]] std::unique_ptr<RowDecoder> png_rows(const std::string& path, const PictureHeader& header);
[[nodiscard]] std::unique_ptr<RowDecoder> jpeg_rows(const std::string& path, const PictureHeader& header);

}  // namespace basefog::scan
