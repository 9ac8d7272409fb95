// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/settle.h"

#include "scan/profile.h"

namespace basefog::scan {
namespace {

Linearisation by_curve(const Encoding& encoding) {
    Linearisation how;
    how.identity = encoding.kind == Encoding::Kind::linear;
    how.colour.fill(curve_of(encoding));
    how.infrared = curve_of(encoding);
    return how;
}

Linearisation by_profile(ScanInfo& info, Profile profile) {
    info.encoding = {Encoding::Kind::icc_profile, 1.0};
    info.encoding_origin = Origin::file;
    if (info.has_infrared && !profile.how.identity)
        info.warnings.push_back(profile.is_table ? "The embedded profile does not cover the infrared, which is taken as linear."
                                                 : "The embedded profile does not cover the infrared, which is taken to be encoded like green.");
    return std::move(profile.how);
}

Linearisation by_assumption(ScanInfo& info) {
    info.encoding_origin = Origin::assumed;
    info.encoding.kind = info.bits == 8 ? Encoding::Kind::srgb : Encoding::Kind::linear;
    info.warnings.push_back(info.bits == 8 ? "The file does not say how its 8-bit values were encoded; sRGB is assumed. State the encoding if it differs."
                                           : "The file does not say how its values were encoded; linear light is assumed. State the encoding if it differs.");
    return by_curve(info.encoding);
}

}  // namespace

void settle_resolution(ScanInfo& info, std::optional<PixelsPerMm> from_file, const ScanOptions& options) {
    if (options.dpi) {
        info.resolution = px_per_mm_from_dpi(*options.dpi);
        info.resolution_origin = Origin::option;
    } else if (from_file) {
        info.resolution = from_file;
        info.resolution_origin = Origin::file;
    }
}

Linearisation settle_encoding(ScanInfo& info, const std::vector<unsigned char>& bytes, const ScanOptions& options) {
    std::optional<Profile> profile;
    if (!bytes.empty()) {
        if (auto read = read_profile(bytes, info.colour_channels))
            profile = std::move(*read);
        else
            info.warnings.push_back("The embedded profile cannot be used: " + read.error().what + ".");
    }
    if (profile) info.profile_name = profile->name;
    if (options.encoding) {
        info.encoding = *options.encoding;
        info.encoding_origin = Origin::option;
        return by_curve(info.encoding);
    }
    if (profile) return by_profile(info, std::move(*profile));
    if (info.encoding_origin == Origin::file) return by_curve(info.encoding);
    return by_assumption(info);
}

void warn_of_limits(ScanInfo& info) {
    if (info.bits == 8) info.warnings.push_back("The file has 8 bits per sample, which limits how finely density is measured; scan with 16 bits.");
    if (info.lossy) info.warnings.push_back("The file was compressed with loss (JPEG), which disturbs grain, base and dust; save scans as TIFF.");
}

}  // namespace basefog::scan
