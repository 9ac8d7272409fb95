// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/spill.h"

#include "scan/block_source.h"
#include "scan/constants.h"

#include <unistd.h>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <vector>

namespace basefog::scan {
namespace {

class TemporaryFile {
public:
    explicit TemporaryFile(int descriptor) : descriptor_(descriptor) {}
    ~TemporaryFile() {
        if (descriptor_ >= 0) ::close(descriptor_);
    }
    TemporaryFile(const TemporaryFile&) = delete;
    TemporaryFile& operator=(const TemporaryFile&) = delete;

    [[nodiscard]] bool write_at(std::int64_t offset, const std::byte* bytes, std::int64_t count) const {
        while (count > 0) {
            const auto put = ::pwrite(descriptor_, bytes, static_cast<std::size_t>(count), offset);
            if (put < 0 && errno == EINTR) continue;
            if (put <= 0) return false;
            bytes += put;
            offset += put;
            count -= put;
        }
        return true;
    }
    [[nodiscard]] bool read_at(std::int64_t offset, std::byte* bytes, std::int64_t count) const {
        while (count > 0) {
            const auto got = ::pread(descriptor_, bytes, static_cast<std::size_t>(count), offset);
            if (got < 0 && errno == EINTR) continue;
            if (got <= 0) return false;
            bytes += got;
            offset += got;
            count -= got;
        }
        return true;
    }

private:
    int descriptor_;
};

/// /var/tmp before /tmp: the latter is often kept in memory, which a spill is there to save.
std::string system_folder() {
    if (const char* named = std::getenv("TMPDIR"); named != nullptr && *named != '\0') return named;
    return ::access("/var/tmp", W_OK) == 0 ? "/var/tmp" : "/tmp";
}

class SpilledTiles final : public BlockDecoder {
public:
    SpilledTiles(const SampleLayout& layout, std::unique_ptr<TemporaryFile> file, std::string scan_path)
        : layout_(layout), file_(std::move(file)), scan_path_(std::move(scan_path)), columns_((layout.width + kSpillTile - 1) / kSpillTile) {}
    [[nodiscard]] const SampleLayout& layout() const override { return layout_; }
    [[nodiscard]] std::int64_t block_width() const override { return kSpillTile; }
    [[nodiscard]] std::int64_t block_height() const override { return kSpillTile; }
    [[nodiscard]] std::int64_t tile_bytes() const { return kSpillTile * kSpillTile * layout_.pixel_bytes(); }
    [[nodiscard]] std::int64_t columns() const { return columns_; }
    [[nodiscard]] std::int64_t offset(std::int64_t column, std::int64_t row) const { return (row * columns_ + column) * tile_bytes(); }
    [[nodiscard]] const TemporaryFile& file() const { return *file_; }
    [[nodiscard]] Result<void> decode(std::int64_t column, std::int64_t row, std::byte* out) override {
        if (file_->read_at(offset(column, row), out, tile_bytes())) return {};
        return fail(ErrorCode::unreadable, "the temporary copy of the scan could not be read back near row " + std::to_string(row * kSpillTile), scan_path_,
                    "check the disk that holds temporary files");
    }

private:
    SampleLayout layout_;
    std::unique_ptr<TemporaryFile> file_;
    std::string scan_path_;
    std::int64_t columns_;
};

Result<std::unique_ptr<TemporaryFile>> create(const std::string& folder, const std::string& scan_path) {
    std::string name = folder + "/basefog-spill-XXXXXX";
    const int descriptor = ::mkstemp(name.data());
    if (descriptor < 0)
        return fail(ErrorCode::unwritable, "no temporary file can be made in " + folder + " (" + std::strerror(errno) + "), which reading this scan needs",
                    scan_path, "name a folder for temporary files that may be written");
    ::unlink(name.c_str());  // from here on it has no name, so nothing can leave it behind
    return std::make_unique<TemporaryFile>(descriptor);
}

/// One row of tiles: the band's pixels are sorted into tiles in memory, then written in one go.
Result<void> write_band(SampleSource& source, const SpilledTiles& tiles, std::int64_t row, std::vector<std::byte>& band, const std::string& scan_path) {
    const std::int64_t pixel = tiles.layout().pixel_bytes();
    const PxRect region{0, row * kSpillTile, tiles.layout().width, std::min((row + 1) * kSpillTile, tiles.layout().height)};
    const auto sort_into_tiles = [&](PxRect piece, const std::byte* samples, std::int64_t stride) {
        for (std::int64_t y = piece.y0; y < piece.y1; ++y, samples += stride) {
            for (std::int64_t x = piece.x0; x < piece.x1;) {
                const std::int64_t column = x / kSpillTile, next = std::min(piece.x1, (column + 1) * kSpillTile);
                std::byte* to = band.data() + column * tiles.tile_bytes() + ((y - region.y0) * kSpillTile + x - column * kSpillTile) * pixel;
                std::memcpy(to, samples + (x - piece.x0) * pixel, static_cast<std::size_t>((next - x) * pixel));
                x = next;
            }
        }
    };
    if (auto read = source.visit(region, sort_into_tiles); !read) return read;
    if (tiles.file().write_at(tiles.offset(0, row), band.data(), static_cast<std::int64_t>(band.size()))) return {};
    return fail(ErrorCode::unwritable, std::string("its temporary copy could not be written: ") + std::strerror(errno), scan_path,
                "free some space, or name a folder for temporary files on another disk");
}

}  // namespace

Result<std::unique_ptr<SampleSource>> spill(SampleSource& source, const std::string& folder, std::int64_t cache_bytes, const std::string& scan_path,
                                            Observer& observer) {
    const std::string place = folder.empty() ? system_folder() : folder;
    auto file = create(place, scan_path);
    if (!file) return Failure(file.error());
    auto tiles = std::make_unique<SpilledTiles>(source.layout(), std::move(*file), scan_path);
    const std::int64_t rows = (source.layout().height + kSpillTile - 1) / kSpillTile;
    const std::int64_t megabytes = rows * tiles->columns() * tiles->tile_bytes() / 1'000'000 + 1;
    observer.notice(scan_path + ": can only be read from the top; laying it out once in " + place + " (" + std::to_string(megabytes) +
                    " MB, removed afterwards)");
    std::vector<std::byte> band(static_cast<std::size_t>(tiles->columns() * tiles->tile_bytes()));
    for (std::int64_t row = 0; row < rows; ++row) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while the scan was laid out for reading", scan_path);
        if (auto written = write_band(source, *tiles, row, band, scan_path); !written) return Failure(written.error());
        observer.progress("laying out", static_cast<double>(row + 1), static_cast<double>(rows));
    }
    return std::make_unique<BlockSource>(std::move(tiles), cache_bytes);
}

}  // namespace basefog::scan
