// SPDX-License-Identifier: GPL-3.0-or-later
#include "edge_code.h"

#include <zbar.h>
#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace basefog::frames {
namespace {

/// Chosen: density that is drawn black for the decoder. Print stands 0.3 and more above base.
constexpr double kBlackDensity = 0.5;
/// Chosen: the band is enlarged so that the narrowest bars of a symbol are several pixels wide, which is what the decoder wants.
constexpr double kEnlarge = 3;
/// Chosen: shorter texts are as likely an accident: one wrong symbol in 103 has a right check character.
constexpr std::size_t kLeastText = 4;

std::string printable(const std::string& text) {
    std::string out;
    for (const char c : text)
        if (c >= ' ' && c <= '~') out += c;
    return out;
}

}  // namespace

std::optional<EdgeCode> read_edge_code(const cv::Mat& band) {
    if (band.empty()) return std::nullopt;
    cv::Mat grey;
    band.convertTo(grey, CV_8U, -255 / kBlackDensity, 255);  // base white, print black
    cv::resize(grey, grey, {}, kEnlarge, kEnlarge, cv::INTER_CUBIC);
    zbar::ImageScanner scanner;
    scanner.set_config(zbar::ZBAR_NONE, zbar::ZBAR_CFG_ENABLE, 0);
    scanner.set_config(zbar::ZBAR_CODE128, zbar::ZBAR_CFG_ENABLE, 1);
    scanner.set_config(zbar::ZBAR_NONE, zbar::ZBAR_CFG_X_DENSITY, 0);  // bars stand upright: rows only
    const auto width = static_cast<unsigned>(grey.cols), height = static_cast<unsigned>(grey.rows);
    zbar::Image image(width, height, "Y800", grey.data, static_cast<unsigned long>(width) * height);
    if (scanner.scan(image) <= 0) return std::nullopt;
    std::optional<EdgeCode> first;
    int first_x = 0;
    for (auto symbol = image.symbol_begin(); symbol != image.symbol_end(); ++symbol) {
        const std::string text = printable(symbol->get_data());
        if (symbol->get_type() != zbar::ZBAR_CODE128 || text.size() < kLeastText || symbol->get_location_size() <= 0) continue;
        const int x = symbol->get_location_x(0);
        if (first && x >= first_x) continue;
        first_x = x;
        const auto way = symbol->get_orientation();
        first = EdgeCode{text, way == zbar::ZBAR_ORIENT_DOWN};
    }
    return first;
}

}  // namespace basefog::frames
