// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/options.h"

#include "basefog/core/lens.h"

#include "scan/constants.h"

#include <charconv>

namespace basefog {
using namespace scan;

Result<void> validate(const ScanOptions& options) {
    if (options.encoding && options.encoding->kind == Encoding::Kind::icc_profile)
        return fail(ErrorCode::usage, "an embedded profile cannot be stated as the encoding", {}, "state linear, srgb or a gamma number, or nothing");
    if (options.encoding && options.encoding->kind == Encoding::Kind::gamma &&
        !(options.encoding->gamma >= kLeastGamma && options.encoding->gamma <= kMostGamma))
        return fail(ErrorCode::usage, "a gamma must be from 0.3 to 4", {}, "2.2 and 1.8 are usual; linear scans have 1");
    if (options.dpi && !(*options.dpi >= kLeastDpi && *options.dpi <= kMostDpi))
        return fail(ErrorCode::usage, "a resolution must be from 100 to 25000 dpi", {}, "give the scan's own resolution, e.g. 2400");
    if (!options.dark_frame_path.empty() && options.light_frame_path.empty())
        return fail(ErrorCode::usage, "a dark frame goes with a light frame", {}, "name a frame of the bare light as well");
    if (options.lens && !is_sound(*options.lens)) return fail(ErrorCode::usage, "no lens bends so much, or so oddly", {}, "the terms are of some hundredths");
    if (!options.join && !options.further_shots.empty())
        return fail(ErrorCode::usage, "how the shots of a strip lie has not been told", {}, "measure them first");
    if (options.join && (options.join->shots.size() != options.further_shots.size() + 1 || options.join->seams.size() != options.further_shots.size()))
        return fail(ErrorCode::usage, "a join of other shots than these", {}, "measure them again");
    if (options.join && (options.join->width < 1 || options.join->height < 1 || options.join->width > options.max_pixels / options.join->height))
        return fail(ErrorCode::too_large, "the joined strip would have more pixels than --max-pixels allows", {}, "raise --max-pixels, or join fewer shots");
    if (options.max_pixels < 1) return fail(ErrorCode::usage, "the limit of pixels must be at least 1");
    if (options.memory_bytes < kLeastMemory) return fail(ErrorCode::usage, "the memory for decoded pixels must be at least 64 KiB");
    return {};
}

Result<Encoding> parse_encoding(const std::string& text) {
    if (text == "linear") return Encoding{Encoding::Kind::linear, 1.0};
    if (text == "srgb") return Encoding{Encoding::Kind::srgb, 1.0};
    double gamma = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), gamma);
    const bool whole = error == std::errc{} && end == text.data() + text.size();
    if (whole && gamma >= kLeastGamma && gamma <= kMostGamma) return Encoding{Encoding::Kind::gamma, gamma};
    return fail(ErrorCode::usage, "\"" + text + "\" is no encoding of scans", {}, "use linear, srgb or a gamma number from 0.3 to 4, e.g. 2.2");
}

}  // namespace basefog
