// SPDX-License-Identifier: GPL-3.0-or-later
// A TIFF open through libtiff, with its messages kept here instead of printed, and its allocations bounded.
#pragma once

#include "scan/input_file.h"
#include "scan/mapping.h"

#include <memory>
#include <string>

struct tiff;

namespace basefog::scan {

class TiffFile {
public:
    enum class Way {
        read,    ///< by system calls
        mapped,  ///< mapped into memory, so that a huge compressed strip need not be copied whole; see forget_mapped_pages()
    };
    /// Positioned at page 0. Errors: as InputFile::open, malformed.
    [[nodiscard]] static Result<std::unique_ptr<TiffFile>> open(const std::string& path, std::int64_t most_allocation, Way way = Way::read);
    ~TiffFile();
    TiffFile(const TiffFile&) = delete;
    TiffFile& operator=(const TiffFile&) = delete;

    [[nodiscard]] tiff* handle() const { return handle_; }
    [[nodiscard]] const InputFile& file() const { return file_; }
    /// Go to a page, counting from 0. Errors: malformed.
    [[nodiscard]] Result<void> go_to_page(int page);
    /// Up to `most`; a damaged chain of pages counts as far as it can be followed. Leaves the position at page 0.
    [[nodiscard]] int count_pages(int most);
    /// An error about this file: unreadable if the system failed, else malformed; the library's own words are added.
    [[nodiscard]] Failure failure(const std::string& what, const std::string& hint) const;
    /// Did others make the file shorter, so that what was decoded of it since means nothing? Known of mapped files only.
    [[nodiscard]] bool cut_short() const { return map_ != nullptr && map_->cut_short(); }
    /// Gives mapped pages back to the system; they are read again from the file when touched.
    void forget_mapped_pages() const;

private:
    explicit TiffFile(InputFile file) : file_(std::move(file)) {}
    struct Callbacks;
    InputFile file_;
    tiff* handle_ = nullptr;
    std::int64_t position_ = 0;
    std::unique_ptr<Mapping> map_;
    std::string message_;   ///< the library's last complaint
    int system_error_ = 0;  ///< errno of the last read that failed
};

}  // namespace basefog::scan
