// SPDX-License-Identifier: GPL-3.0-or-later
// Scene-linear files: OpenEXR, half float, ACES2065-1, a band of rows at a time.
#include "basefog/core/pending_file.h"
#include "basefog/invert/write.h"
#include "invert/aces.h"
#include "invert/constants.h"
#include "invert/metadata.h"

#include <Imath/half.h>
#include <OpenEXR/ImfChannelList.h>
#include <OpenEXR/ImfChromaticitiesAttribute.h>
#include <OpenEXR/ImfFrameBuffer.h>
#include <OpenEXR/ImfHeader.h>
#include <OpenEXR/ImfIO.h>
#include <OpenEXR/ImfIntAttribute.h>
#include <OpenEXR/ImfOutputFile.h>
#include <OpenEXR/ImfStandardAttributes.h>
#include <OpenEXR/ImfStringAttribute.h>
#include <fcntl.h>
#include <unistd.h>
#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <exception>
#include <stdexcept>
#include <vector>

namespace basefog {
namespace {

struct Half3 {
    half r, g, b;
};
static_assert(sizeof(Half3) == 6);

/// The library's own stream has no words for what went wrong; this one keeps the system's.
class ExrFile : public Imf::OStream {
public:
    explicit ExrFile(const std::string& path) : OStream(path.c_str()), file_(::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666)) {
        if (file_ < 0) problem_ = std::string("cannot be created: ") + std::strerror(errno);
    }
    ~ExrFile() override { (void)close(); }
    ExrFile(const ExrFile&) = delete;
    ExrFile& operator=(const ExrFile&) = delete;

    void write(const char bytes[], int n) override {
        for (int done = 0; done < n;) {
            const ssize_t wrote = ::write(file_, bytes + done, static_cast<std::size_t>(n - done));
            if (wrote < 0 && errno == EINTR) continue;
            if (wrote <= 0) {
                if (problem_.empty()) problem_ = std::string("could not be written: ") + std::strerror(wrote < 0 ? errno : ENOSPC);
                throw std::runtime_error(problem_);
            }
            done += static_cast<int>(wrote);
        }
    }
    uint64_t tellp() override { return static_cast<uint64_t>(::lseek(file_, 0, SEEK_CUR)); }
    void seekp(uint64_t position) override { (void)::lseek(file_, static_cast<off_t>(position), SEEK_SET); }

    /// Empty when everything went well, else the first reason.
    std::string close() {
        if (file_ >= 0 && ::close(file_) != 0 && problem_.empty()) problem_ = std::string("could not be written: ") + std::strerror(errno);
        file_ = -1;
        return problem_;
    }
    [[nodiscard]] const std::string& problem() const { return problem_; }

private:
    int file_;
    std::string problem_;
};

Imath::V2f v2f(invert::Chromaticity c) { return {static_cast<float>(c.x), static_cast<float>(c.y)}; }

Imf::Header header_of(PositiveSize size, Compression compression, PixelsPerMm resolution, const PhotoMetadata& metadata) {
    Imf::Header header(static_cast<int>(size.width), static_cast<int>(size.height));
    header.compression() = compression == Compression::none ? Imf::NO_COMPRESSION : Imf::ZIP_COMPRESSION;
    header.lineOrder() = Imf::INCREASING_Y;
    for (const char* channel : {"B", "G", "R"}) header.channels().insert(channel, Imf::Channel(Imf::HALF));
    Imf::addChromaticities(header, Imf::Chromaticities(v2f(invert::kAp0Red), v2f(invert::kAp0Green), v2f(invert::kAp0Blue), v2f(invert::kAcesWhite)));
    Imf::addAdoptedNeutral(header, v2f(invert::kAcesWhite));
    // The ACES container is uncompressed [SMPTE2065-4]; a compressed file must not claim to be one.
    if (compression == Compression::none) header.insert("acesImageContainerFlag", Imf::IntAttribute(1));
    if (const double dpi = dpi_from_px_per_mm(resolution); dpi > 0 && dpi < 1e6) Imf::addXDensity(header, static_cast<float>(dpi));
    if (const std::string text = invert::clean_text(metadata.description.empty() ? metadata.title : metadata.description); !text.empty())
        Imf::addComments(header, text);
    if (!metadata.software.empty()) header.insert("software", Imf::StringAttribute(invert::clean_text(metadata.software)));
    return header;
}

half half_of(float value) {
    constexpr float kMost = 65504;  // Defined: the largest half
    return half(std::isnan(value) ? 0.0f : std::clamp(value, -kMost, kMost));
}

Result<void> write_bands(Imf::OutputFile& file, PositiveSize size, const FillLight& fill) {
    Image<SceneRgb> light;
    std::vector<Half3> pixels;
    for (std::int64_t y = 0; y < size.height; y += invert::kWriterBandRows) {
        const std::int64_t rows = std::min(invert::kWriterBandRows, size.height - y);
        if (light.height() != rows) light = Image<SceneRgb>(size.width, rows);
        if (auto filled = fill(y, light.view()); !filled) return filled;
        pixels.resize(static_cast<std::size_t>(size.width * rows));
        std::transform(light.row(0), light.row(0) + size.width * rows, pixels.begin(), [](const SceneRgb& linear) {
            const SceneRgb aces = invert::aces_from_linear_srgb(linear);
            return Half3{half_of(aces.r), half_of(aces.g), half_of(aces.b)};
        });
        // A slice's base is where pixel (0, 0) would lie; the band begins at row y.
        char* const base = reinterpret_cast<char*>(pixels.data()) - static_cast<std::ptrdiff_t>(sizeof(Half3)) * y * size.width;
        const std::size_t stride = sizeof(Half3) * static_cast<std::size_t>(size.width);
        Imf::FrameBuffer buffer;
        buffer.insert("R", Imf::Slice(Imf::HALF, base, sizeof(Half3), stride));
        buffer.insert("G", Imf::Slice(Imf::HALF, base + sizeof(half), sizeof(Half3), stride));
        buffer.insert("B", Imf::Slice(Imf::HALF, base + 2 * sizeof(half), sizeof(Half3), stride));
        file.setFrameBuffer(buffer);
        file.writePixels(static_cast<int>(rows));
    }
    return {};
}

}  // namespace

Result<void> write_linear_exr(const std::string& path, PositiveSize size, const FillLight& fill, Compression compression, PixelsPerMm resolution,
                              const PhotoMetadata& metadata) {
    constexpr std::int64_t kLongest = 1 << 24;  // Chosen: far beyond a positive, and within what the library counts in
    if (size.width <= 0 || size.height <= 0) return fail(ErrorCode::unwritable, "the picture has no pixels", path);
    if (size.width > kLongest || size.height > kLongest) return fail(ErrorCode::too_large, "the picture is too large for an OpenEXR file", path);
    constexpr const char* kHint = "check that the folder may be written and has free space";
    PendingFile pending(path);
    ExrFile stream(pending.temporary_path());
    if (!stream.problem().empty()) return fail(ErrorCode::unwritable, stream.problem(), path, kHint);
    try {
        Imf::OutputFile file(stream, header_of(size, compression, resolution, metadata), 0);  // 0: no threads of its own
        if (auto written = write_bands(file, size, fill); !written) return written;
    } catch (const std::exception& error) {
        return fail(ErrorCode::unwritable, stream.problem().empty() ? std::string("could not be written: ") + error.what() : stream.problem(), path, kHint);
    }
    if (const std::string problem = stream.close(); !problem.empty()) return fail(ErrorCode::unwritable, problem, path, kHint);
    return pending.commit();
}

}  // namespace basefog
