// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/strip_encoder.h"

#include <algorithm>
#include <cstring>

namespace basefog::invert {
namespace {

constexpr int kDeflateLevel = 6;  // Chosen: libdeflate's balance of speed and size
constexpr int kZstdLevel = 3;     // Chosen: zstd's own default is 3; higher levels gain little on grain

std::uint16_t tiff_compression(Compression compression) {
    switch (compression) {
        case Compression::none:
            return COMPRESSION_NONE;
        case Compression::lzw:
            return COMPRESSION_LZW;
        case Compression::deflate:
            return COMPRESSION_ADOBE_DEFLATE;
        case Compression::zstd:
            return COMPRESSION_ZSTD;
    }
    return COMPRESSION_NONE;
}

/// What the library writes, in memory.
struct Memory {
    std::vector<std::byte> bytes;
    std::size_t at = 0;

    static Memory& self(thandle_t handle) { return *static_cast<Memory*>(handle); }
    static tmsize_t read(thandle_t, void*, tmsize_t) { return 0; }
    static tmsize_t write(thandle_t handle, void* data, tmsize_t size) {
        Memory& memory = self(handle);
        const auto end = memory.at + static_cast<std::size_t>(size);
        if (memory.bytes.size() < end) memory.bytes.resize(end);
        std::memcpy(memory.bytes.data() + memory.at, data, static_cast<std::size_t>(size));
        memory.at = end;
        return size;
    }
    static toff_t seek(thandle_t handle, toff_t offset, int whence) {
        Memory& memory = self(handle);
        const std::size_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? memory.at : memory.bytes.size();
        memory.at = from + static_cast<std::size_t>(offset);
        return memory.at;
    }
    static int close(thandle_t) { return 0; }
    static toff_t size(thandle_t handle) { return self(handle).bytes.size(); }
    static int quiet(TIFF*, void*, const char*, const char*, va_list) { return 1; }
};

}  // namespace

void set_compression(TIFF* tiff, Compression compression) {
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, tiff_compression(compression));
    if (compression != Compression::none) TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    if (compression == Compression::deflate) TIFFSetField(tiff, TIFFTAG_ZIPQUALITY, kDeflateLevel);
    if (compression == Compression::zstd) TIFFSetField(tiff, TIFFTAG_ZSTD_LEVEL, kZstdLevel);
}

std::vector<std::byte> encode_strip(EncodedRgb16* pixels, std::int64_t width, std::int64_t rows, Compression compression) {
    const tmsize_t size = rows * width * static_cast<tmsize_t>(sizeof(EncodedRgb16));
    if (compression == Compression::none) {
        const auto* first = reinterpret_cast<const std::byte*>(pixels);
        return {first, first + size};
    }
    Memory memory;
    memory.bytes.reserve(static_cast<std::size_t>(size));
    TIFFOpenOptions* const options = TIFFOpenOptionsAlloc();
    TIFFOpenOptionsSetErrorHandlerExtR(options, Memory::quiet, nullptr);
    TIFFOpenOptionsSetWarningHandlerExtR(options, Memory::quiet, nullptr);
    TIFF* const tiff =
        TIFFClientOpenExt("strip", "w", &memory, Memory::read, Memory::write, Memory::seek, Memory::close, Memory::size, nullptr, nullptr, options);
    TIFFOpenOptionsFree(options);
    if (tiff == nullptr) return {};
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(width));
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(rows));
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(rows));
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 3);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    set_compression(tiff, compression);
    const std::size_t header = memory.bytes.size();
    const bool written = TIFFWriteEncodedStrip(tiff, 0, pixels, size) >= 0 && TIFFFlushData(tiff) != 0;
    const std::size_t end = memory.bytes.size();
    TIFFClose(tiff);  // adds a directory, which nobody reads
    if (!written) return {};
    return {memory.bytes.begin() + static_cast<std::ptrdiff_t>(header), memory.bytes.begin() + static_cast<std::ptrdiff_t>(end)};
}

}  // namespace basefog::invert
