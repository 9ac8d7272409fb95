// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/page_text.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <string_view>

namespace basefog::invert {
namespace {

constexpr int kOversample = 4;
constexpr int kFont = cv::FONT_HERSHEY_SIMPLEX;
/// Height of a capital of the stroke font at scale 1, pixels (measured with getTextSize).
constexpr double kCapital = 21.0;

double font_scale(const TextStyle& style) { return style.height_px * kOversample / kCapital; }
int stroke(const TextStyle& style) { return std::max(1, static_cast<int>(std::lround(style.height_px * kOversample * style.weight / 10))); }

/// Base letters of U+00C0 to U+017F, in order (Unicode's Latin-1 Supplement and Latin Extended-A).
constexpr std::string_view kBaseLetters =
    "AAAAAAACEEEEIIIIDNOOOOOxOUUUUYTsaaaaaaaceeeeiiiidnooooo/ouuuuyty"
    "AaAaAaCcCcCcCcDdDdEeEeEeEeEeGgGgGgGgHhHhIiIiIiIiIiIiJjKkkLlLlLlLlLlNnNnNnnNnOoOoOoOoRrRrRrSsSsSsSsTtTtTtUuUuUuUuUuUuWwYyYZzZzZzs";
static_assert(kBaseLetters.size() == 0x180 - 0xC0);

char plain_letter(std::uint32_t code) {
    if (code < 0x20 || code == 0x7F || code == 0xA0 || (code >= 0x2000 && code <= 0x200A) || code == 0x202F) return ' ';
    if (code < 0x7F) return static_cast<char>(code);
    if (code >= 0xC0 && code < 0x180) return kBaseLetters[code - 0xC0];
    if ((code >= 0x2010 && code <= 0x2015) || code == 0x2212 || code == 0xB7 || code == 0x2022) return '-';
    if (code == 0x2018 || code == 0x2019) return '\'';
    if (code == 0x201C || code == 0x201D) return '"';
    if (code == 0xD7) return 'x';
    return '?';
}

}  // namespace

std::string plain_letters(const std::string& utf8) {
    std::string plain;
    for (std::size_t at = 0; at < utf8.size();) {
        const auto lead = static_cast<unsigned char>(utf8[at]);
        const std::size_t length = lead < 0x80 ? 1 : lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
        std::uint32_t code = length == 1 ? (lead < 0x80 ? lead : 0xFFFD) : lead & (0xFFu >> (length + 1));
        std::size_t used = 1;
        for (; used < length && at + used < utf8.size() && (static_cast<unsigned char>(utf8[at + used]) & 0xC0) == 0x80; ++used)
            code = code << 6 | (static_cast<unsigned char>(utf8[at + used]) & 0x3Fu);
        plain += used == length ? plain_letter(code) : '?';
        at += used;
    }
    return plain;
}

int text_width(const std::string& plain, const TextStyle& style) {
    int below = 0;
    return (cv::getTextSize(plain, kFont, font_scale(style), stroke(style), &below).width + kOversample - 1) / kOversample;
}

std::vector<std::string> wrap_text(const std::string& plain, const TextStyle& style, int width, int lines) {
    std::vector<std::string> out;
    std::string rest = plain;
    while (!rest.empty() && static_cast<int>(out.size()) < lines) {
        std::size_t end = rest.size();
        if (text_width(rest, style) > width) {
            const bool last = static_cast<int>(out.size()) == lines - 1;
            const std::string tail = last ? "..." : "";
            std::size_t space = std::string::npos;
            for (end = rest.size() - 1; end > 1 && text_width(rest.substr(0, end) + tail, style) > width; --end) {
            }
            if (!last) space = rest.rfind(' ', end);
            if (space != std::string::npos && space > 0) end = space;
            out.push_back(rest.substr(0, end) + tail);
            if (last) return out;
        } else {
            out.push_back(rest);
        }
        rest.erase(0, end);
        rest.erase(0, std::min(rest.find_first_not_of(' '), rest.size()));
    }
    return out;
}

void draw_text(View<EncodedRgb8> page, const std::string& plain, const TextStyle& style, std::int64_t x, std::int64_t baseline) {
    if (plain.empty()) return;
    const int rise = style.height_px * 3 / 2, fall = style.height_px, side = style.height_px / 2 + 1;
    const int width = text_width(plain, style) + 2 * side, height = rise + fall;
    cv::Mat large = cv::Mat::zeros(height * kOversample, width * kOversample, CV_8UC1), ink;
    cv::putText(large, plain, cv::Point(side * kOversample, rise * kOversample), kFont, font_scale(style), cv::Scalar(255), stroke(style), cv::LINE_AA);
    cv::resize(large, ink, cv::Size(width, height), 0, 0, cv::INTER_AREA);
    for (int row = 0; row < height; ++row)
        for (int column = 0; column < width; ++column) {
            const std::int64_t px = x - side + column, py = baseline - rise + row;
            if (px < 0 || py < 0 || px >= page.width() || py >= page.height()) continue;
            const int cover = ink.at<std::uint8_t>(row, column);
            const auto blend = [&](std::uint8_t under) { return static_cast<std::uint8_t>((under * (255 - cover) + style.grey * cover + 127) / 255); };
            EncodedRgb8& pixel = page(px, py);
            pixel = {blend(pixel.r), blend(pixel.g), blend(pixel.b)};
        }
}

}  // namespace basefog::invert
