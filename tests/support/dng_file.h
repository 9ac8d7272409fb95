// SPDX-License-Identifier: GPL-3.0-or-later
// Digital negatives as the published specification describes them [DNG14], of a camera that does not exist.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace synthetic {

/// What a camera notes of how a shot was taken (Exif: ExposureTime, FNumber, ISOSpeedRatings).
struct ShotSettings {
    double seconds = 0.02, f_number = 8;
    std::uint16_t iso = 100;
};

/// How a negative is laid out.
struct DngSpec {
    std::uint32_t width = 96, height = 64;
    bool linear = false;                              ///< three samples a pixel (LinearRaw), else a mosaic of two by two (CFA)
    std::array<std::uint8_t, 4> pattern{0, 1, 1, 2};  ///< colour of the mosaic's places: 0 red, 1 green, 2 blue
    std::vector<float> black{512};                    ///< one, or one for each place of the mosaic; none: not stated
    std::uint32_t white = 16000;
    int orientation = 1;
    std::string model = "Copy stand";
    std::optional<ShotSettings> settings;
    /// The part of the sensor that light falls on, top, left, bottom, right; none: not stated.
    std::vector<std::uint32_t> active_area;
    int cfa_layout = 1;                        ///< 1: rectangular; 2 to 5: staggered, as of sensors turned by 45 degrees
    std::array<float, 2> default_scale{1, 1};  ///< how much a pixel is to be stretched, across and down
    bool preview_first = false;                ///< a small picture as the first page, the sensor's below it, as cameras write
};

/// The code at a place and its colour: 0 red, 1 green, 2 blue.
using DngCode = std::function<std::uint16_t(std::uint32_t x, std::uint32_t y, int colour)>;

/// Throws std::runtime_error when it cannot be written.
void write_dng(const std::string& path, const DngSpec& spec, const DngCode& code);

/// A negative with a preview and metadata, and nothing of the sensor.
void write_dng_without_sensor(const std::string& path, const DngSpec& spec);

}  // namespace synthetic
