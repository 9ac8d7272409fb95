// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/opencv_reader.h"

#include "scan/constants.h"
#include "scan/decoded_source.h"
#include "scan/picture_header.h"
#include "scan/sample_reader.h"
#include "scan/settle.h"
#include "scan/tiff_page.h"

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace basefog::scan {
namespace {

Result<void> check_size(const PictureHeader& header, const std::string& path, const ScanOptions& options) {
    const std::string size = std::to_string(header.width) + " x " + std::to_string(header.height);
    if (header.width > options.max_pixels / header.height)
        return fail(ErrorCode::too_large, "its header claims " + size + " pixels, above the limit of " + std::to_string(options.max_pixels), path,
                    "raise the limit if the file is sound");
    if (header.width > kMostPictureEdge || header.height > kMostPictureEdge || header.width > kMostPicturePixels / header.height)
        return fail(ErrorCode::too_large, "has " + size + " pixels, more than is decoded from PNG and JPEG", path,
                    "save it as a TIFF, which is read piece by piece");
    return {};
}

template <class Sample>
void swap_red_and_blue(cv::Mat& image) {
    const int channels = image.channels();
    for (int y = 0; y < image.rows; ++y) {
        Sample* pixel = image.ptr<Sample>(y);
        for (int x = 0; x < image.cols; ++x, pixel += channels) std::swap(pixel[0], pixel[2]);
    }
}

/// As stored (neither turned nor scaled), red first. A transparency, which the library adds to some PNGs, is dropped.
cv::Mat arranged(cv::Mat image, int colours, int bits) {
    if (colours == 1 && image.channels() > 1) {
        cv::Mat grey;
        cv::extractChannel(image, grey, 0);
        return grey;
    }
    if (image.channels() == 4) cv::cvtColor(image, image, cv::COLOR_BGRA2BGR);
    if (image.channels() == 3 && bits == 16) swap_red_and_blue<std::uint16_t>(image);
    if (image.channels() == 3 && bits == 8) swap_red_and_blue<std::uint8_t>(image);
    return image;
}

Result<cv::Mat> decode(const std::string& path, const PictureHeader& header) {
    const std::string what = "its pixels cannot be decoded", hint = "copy or scan it again";
    try {
        cv::Mat image = cv::imread(path, cv::IMREAD_UNCHANGED);
        if (image.cols != header.width || image.rows != header.height || image.depth() != (header.bits == 16 ? CV_16U : CV_8U))
            return fail(ErrorCode::malformed, what, path, hint);
        image = arranged(std::move(image), header.colours, header.bits);
        if (image.channels() != header.colours) return fail(ErrorCode::malformed, what, path, hint);
        return image;
    } catch (const cv::Exception& error) {
        return fail(ErrorCode::malformed, what + " (" + error.err + ")", path, hint);
    }
}

ScanInfo describe_picture(const std::string& path, FileKind kind, const PictureHeader& header, const ScanOptions& options) {
    const Orientation orientation(header.orientation, header.width, header.height);
    ScanInfo info;
    info.path = path;
    info.kind = kind;
    info.width = orientation.width();
    info.height = orientation.height();
    info.bits = header.bits;
    info.colour_channels = header.colours;
    info.lossy = kind == FileKind::jpeg;
    info.date = header.date;
    std::optional<PixelsPerMm> resolution;
    if (header.x_dpi > 0 && header.y_dpi > 0) resolution = plausible_resolution(header.x_dpi, header.y_dpi, info.warnings);
    settle_resolution(info, resolution, options);
    warn_of_limits(info);
    if (header.encoding) {
        info.encoding = *header.encoding;
        info.encoding_origin = Origin::file;
    }
    if (header.unread_profile && !options.encoding)
        info.warnings.push_back("Profiles in PNG files are not read; save the scan as a TIFF, or state the encoding.");
    return info;
}

}  // namespace

Result<std::unique_ptr<ScanReader>> open_picture(const std::string& path, FileKind kind, const ScanOptions& options, Observer& observer) {
    auto file = InputFile::open(path);
    if (!file) return Failure(file.error());
    auto header = kind == FileKind::png ? read_png_header(*file) : read_jpeg_header(*file);
    if (!header) return Failure(header.error());
    if (auto fits = check_size(*header, path, options); !fits) return Failure(fits.error());
    ScanInfo info = describe_picture(path, kind, *header, options);
    Linearisation how = settle_encoding(info, header->profile, options);

    const SampleLayout layout{header->width, header->height, header->colours, header->bits == 16 ? SampleType::u16 : SampleType::u8};
    auto decode_once = [path, header = *header, image = std::make_shared<cv::Mat>()]() -> Result<DecodedSource::Pixels> {
        auto decoded = decode(path, header);
        if (!decoded) return Failure(decoded.error());
        *image = std::move(*decoded);
        return DecodedSource::Pixels{reinterpret_cast<const std::byte*>(image->data), static_cast<std::int64_t>(image->step[0])};
    };
    auto source = std::make_unique<DecodedSource>(layout, std::move(decode_once));
    return std::make_unique<SampleReader>(std::move(info), std::move(source), header->orientation, std::move(how), options, observer);
}

}  // namespace basefog::scan
