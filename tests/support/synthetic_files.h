// SPDX-License-Identifier: GPL-3.0-or-later
// Synthetic sheets as files.
#pragma once

#include "support/synthetic_film.h"

#include <string>

namespace synthetic {

enum class Packing { none, deflate };

/// A TIFF of 8 or 16 bits as the specification asks, in strips, with resolution (unless dpi is 0); infrared as a fourth, unspecified sample.
/// Throws std::runtime_error when it cannot be written.
void write_tiff(const std::string& path, const cv::Mat& samples, double dpi, Packing packing = Packing::deflate);

/// The truth as JSON text. Coordinates in pixels of the scan, (0, 0) at its top-left corner.
[[nodiscard]] std::string truth_json(const SheetSpec& spec, const Sheet& sheet);

}  // namespace synthetic
