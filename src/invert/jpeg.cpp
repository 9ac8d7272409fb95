// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/pending_file.h"
#include "basefog/invert/write.h"
#include "invert/icc.h"
#include "invert/metadata.h"

#include <algorithm>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

namespace basefog {

Result<std::string> jpeg_bytes(View<const EncodedRgb8> picture, int quality) try {
    constexpr std::int64_t kLongest = 65500;  // libjpeg's limit of a side
    if (picture.empty()) return fail(ErrorCode::unwritable, "the picture has no pixels");
    if (picture.width() > kLongest || picture.height() > kLongest) return fail(ErrorCode::too_large, "the picture is too large for a JPEG file");
    cv::Mat bgr(static_cast<int>(picture.height()), static_cast<int>(picture.width()), CV_8UC3);
    for (std::int64_t y = 0; y < picture.height(); ++y) {
        cv::Vec3b* out = bgr.ptr<cv::Vec3b>(static_cast<int>(y));
        const EncodedRgb8* in = picture.row(y);
        for (std::int64_t x = 0; x < picture.width(); ++x) out[x] = cv::Vec3b(in[x].b, in[x].g, in[x].r);
    }
    std::vector<unsigned char> bytes;
    if (!cv::imencode(".jpg", bgr, bytes, {cv::IMWRITE_JPEG_QUALITY, std::clamp(quality, 1, 100), cv::IMWRITE_JPEG_OPTIMIZE, 1}))
        return fail(ErrorCode::unwritable, "the picture could not be encoded as JPEG");
    return std::string(bytes.begin(), bytes.end());
} catch (const cv::Exception& error) {
    return fail(ErrorCode::unwritable, "the picture could not be encoded as JPEG: " + error.err);
}

Result<void> write_proof_jpeg(const std::string& path, View<const EncodedRgb8> picture, int quality, const PhotoMetadata& metadata, int icc_version) {
    Result<std::string> whole = jpeg_bytes(picture, quality);
    if (whole) whole = invert::add_to_jpeg(*whole, invert::built_in_profile(OutputSpace::srgb, icc_version), metadata);
    if (!whole) {
        whole.error().path = path;
        return Failure(whole.error());
    }
    return write_whole_file(path, *whole);
}

}  // namespace basefog
