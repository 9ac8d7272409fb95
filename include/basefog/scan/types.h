// SPDX-License-Identifier: GPL-3.0-or-later
// What a scan is: a description apart from its pixels, and the reduced picture of it that every measurement uses.
#pragma once

#include "basefog/core/falloff.h"
#include "basefog/core/image.h"
#include "basefog/core/lens.h"
#include "basefog/core/similarity.h"
#include "basefog/core/units.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace basefog {

enum class FileKind { tiff, png, jpeg, raw };

/// How code values relate to linear light.
struct Encoding {
    enum class Kind { linear, srgb, gamma, icc_profile };
    Kind kind = Kind::linear;
    double gamma = 1.0;  ///< for Kind::gamma: linear = code^gamma
    friend bool operator==(const Encoding&, const Encoding&) = default;
};
/// "linear", "srgb", "gamma 2.2", "embedded profile"
[[nodiscard]] std::string describe(const Encoding& encoding);

/// Where something that could come from several places did come from.
enum class Origin { file, option, assumed };

/// What a camera noted of how it took a shot; 0 or empty where it noted nothing.
struct CameraSettings {
    std::string camera;  ///< make and model, as the camera spells them
    double seconds = 0;  ///< the shutter's
    double f_number = 0;
    double iso = 0;
    friend bool operator==(const CameraSettings&, const CameraSettings&) = default;
};

/// How overlapping shots of one strip are joined: the strip runs down the joined picture, and shots are in that order.
struct StripJoin {
    struct Shot {
        int file = 0;                ///< 0: the scan itself, n: the n-th further shot
        Similarity to_strip;         ///< from the straightened shot's pixels to the joined picture's
        Rgb<double> level{1, 1, 1};  ///< light is divided by it, to agree with the other shots
        friend bool operator==(const Shot&, const Shot&) = default;
    };
    /// Where a shot goes over into the next: by halves at row `at`, and not at all further than `half` from it.
    struct Seam {
        double at = 0, half = 1;
        friend bool operator==(const Seam&, const Seam&) = default;
    };
    std::int64_t width = 0, height = 0;  ///< of the joined picture
    std::vector<Shot> shots;
    std::vector<Seam> seams;             ///< one less than shots; they do not run into each other
    std::optional<ShotFalloff> falloff;  ///< light is divided by it, too; none where a light frame told
    std::optional<PixelsPerMm> about;    ///< its resolution, to a per cent, where the film's perforations told it; how fine it is measured depends on that
    friend bool operator==(const StripJoin&, const StripJoin&) = default;
};

struct ScanInfo {
    std::string path;
    FileKind kind = FileKind::tiff;
    std::int64_t width = 0, height = 0;  ///< after the orientation tag was obeyed
    int orientation = 1;                 ///< that tag
    int bits = 16;                       ///< per sample as stored: 8, 16 or 32 (float)
    bool float_samples = false;
    int colour_channels = 3;     ///< 1 (grey, handed out as r = g = b) or 3
    bool has_infrared = false;   ///< a fourth sample, a second page or a second file
    std::string infrared_from;   ///< "fourth sample", "second page", the second file's path, or empty
    bool light_divided = false;  ///< by a frame of the bare light: 1 is bare light everywhere, and full scale is no limit
    bool lossy = false;          ///< JPEG compression: warn, measurements suffer
    Encoding encoding;
    Origin encoding_origin = Origin::assumed;
    std::string profile_name;                    ///< description of the embedded ICC profile, if any
    std::optional<PixelsPerMm> resolution;       ///< nullopt: neither the file nor an option says
    Origin resolution_origin = Origin::assumed;  ///< file or option when `resolution` is set
    CameraSettings settings;                     ///< of a camera's shot
    std::optional<LensModel> lens;               ///< pixels are handed out as if the lens had not done this
    int shots = 1;                               ///< of one strip that were joined
    std::vector<double> other_exposures;         ///< of the shots merged with this one, as shares of its own; fitted to the pictures
    std::string date;                            ///< ISO 8601 from the file's DateTime, or empty
    std::vector<std::string> warnings;           ///< plain sentences: 8 bits, lossy, unequal resolutions...
};

/// As describe(), with the name of the embedded profile: "embedded profile (NAME)".
[[nodiscard]] std::string describe_encoding(const ScanInfo& info);

/// Which ways of reading are cheap.
enum class Access {
    random,      ///< any region at the cost of its own pixels (tiles, or many strips)
    sequential,  ///< rows from the top only; a region costs decoding everything above it
};

/// The sheet, area-averaged by a whole factor, kept in memory: everything is measured on it.
struct Overview {
    Image<LinearRgbi> pixels;
    int factor = 1;  ///< scan pixels per overview pixel, each way
    std::int64_t scan_width = 0, scan_height = 0;
    std::optional<PixelsPerMm> scan_resolution;  ///< of the full scan, as in ScanInfo
    bool has_infrared = false;
    bool monochrome_file = false;  ///< one colour channel in the file
    bool light_divided = false;    ///< as in ScanInfo
    int bits = 16;
    Rgb<double> clipped_share;  ///< share of scan pixels at the file's full scale, per channel
};

}  // namespace basefog
