// SPDX-License-Identifier: GPL-3.0-or-later
// The floor: the least that any program must do through libtiff alone. Reads every strip of a scan once and writes the frames' parts, nothing changed,
// compressed as positives are.
//   basefog-bench-floor SCAN FOLDER < frames        a frame per line: x0 y0 x1 y1
#include <tiffio.h>
#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <iostream>
#include <string>
#include <vector>

namespace {

struct Frame {
    std::int64_t x0, y0, x1, y1;
    TIFF* file = nullptr;
    std::uint32_t strip_rows = 1, next = 0;
    std::vector<std::uint16_t> rows;
};

TIFF* open_frame(const std::string& path, Frame& frame) {
    TIFF* const tiff = TIFFOpen(path.c_str(), "w");
    const auto width = static_cast<std::uint32_t>(frame.x1 - frame.x0), height = static_cast<std::uint32_t>(frame.y1 - frame.y0);
    frame.strip_rows = std::clamp<std::uint32_t>(256 * 1024 / (width * 6), 1, height);
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, width);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, height);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 3);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
    TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    TIFFSetField(tiff, TIFFTAG_ZIPQUALITY, 6);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, frame.strip_rows);
    return tiff;
}

void put_strip(Frame& frame) {
    if (!frame.rows.empty()) TIFFWriteEncodedStrip(frame.file, frame.next++, frame.rows.data(), static_cast<tmsize_t>(frame.rows.size() * 2));
    frame.rows.clear();
}

}  // namespace

int main(int argc, char** argv) {
    TIFF* const scan = argc == 3 ? TIFFOpen(argv[1], "r") : nullptr;
    if (scan == nullptr) {
        std::fprintf(stderr, "basefog-bench-floor SCAN FOLDER < frames\n");
        return 1;
    }
    std::vector<Frame> frames;
    for (Frame frame{}; std::cin >> frame.x0 >> frame.y0 >> frame.x1 >> frame.y1;) frames.push_back(frame);
    for (std::size_t i = 0; i < frames.size(); ++i) frames[i].file = open_frame(std::string(argv[2]) + "/" + std::to_string(i) + ".tif", frames[i]);
    std::uint32_t width = 0, height = 0, strip_rows = 0;
    std::uint16_t samples = 0;
    TIFFGetField(scan, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(scan, TIFFTAG_IMAGELENGTH, &height);
    TIFFGetField(scan, TIFFTAG_ROWSPERSTRIP, &strip_rows);
    TIFFGetField(scan, TIFFTAG_SAMPLESPERPIXEL, &samples);
    std::vector<std::uint16_t> strip(std::size_t{width} * strip_rows * samples);
    for (std::int64_t y0 = 0; y0 < height; y0 += strip_rows) {
        if (TIFFReadEncodedStrip(scan, static_cast<std::uint32_t>(y0 / strip_rows), strip.data(), -1) < 0) return 1;
        for (std::int64_t y = y0; y < std::min<std::int64_t>(height, y0 + strip_rows); ++y)
            for (Frame& frame : frames) {
                if (y < frame.y0 || y >= frame.y1) continue;
                const std::uint16_t* pixel = strip.data() + ((y - y0) * width + frame.x0) * samples;
                for (std::int64_t x = frame.x0; x < frame.x1; ++x, pixel += samples) frame.rows.insert(frame.rows.end(), pixel, pixel + 3);
                if ((y - frame.y0 + 1) % frame.strip_rows == 0 || y + 1 == frame.y1) put_strip(frame);
            }
    }
    for (Frame& frame : frames) TIFFClose(frame.file);
    TIFFClose(scan);
    return 0;
}
