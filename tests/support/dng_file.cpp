// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/dng_file.h"

#include <tiffio.h>

#include <stdexcept>

namespace synthetic {
namespace {

// PhotometricInterpretation: LinearRaw and CFA [DNG14]; CFA is of TIFF/EP.
constexpr std::uint16_t kLinearRaw = 34892, kMosaic = 32803;
constexpr std::uint32_t kPreviewWidth = 24, kPreviewHeight = 16;

class File {
public:
    explicit File(const std::string& path) : tiff_(TIFFOpen(path.c_str(), "wl")) {
        if (tiff_ == nullptr) throw std::runtime_error("the negative could not be created");
    }
    ~File() { TIFFClose(tiff_); }
    File(const File&) = delete;
    File& operator=(const File&) = delete;
    template <class... Value>
    void set(std::uint32_t tag, Value... value) {
        if (TIFFSetField(tiff_, tag, value...) == 0) throw std::runtime_error("a tag of the negative was refused");
    }
    void row(std::vector<std::uint16_t>& samples, std::uint32_t y) {
        if (TIFFWriteScanline(tiff_, samples.data(), y, 0) != 1) throw std::runtime_error("the negative could not be written");
    }
    [[nodiscard]] TIFF* handle() const { return tiff_; }

private:
    TIFF* tiff_;
};

void set_camera(File& file, const DngSpec& spec) {
    const std::uint8_t version[4] = {1, 4, 0, 0}, backward[4] = {1, 1, 0, 0};
    file.set(TIFFTAG_DNGVERSION, version);
    file.set(TIFFTAG_DNGBACKWARDVERSION, backward);
    file.set(TIFFTAG_MAKE, "Invented");
    file.set(TIFFTAG_MODEL, spec.model.c_str());
    file.set(TIFFTAG_UNIQUECAMERAMODEL, ("Invented " + spec.model).c_str());
    file.set(TIFFTAG_DATETIME, "2025:11:02 10:20:30");
    const float matrix[9] = {0.9F, -0.2F, -0.1F, -0.4F, 1.2F, 0.2F, -0.1F, 0.2F, 0.7F};
    file.set(TIFFTAG_COLORMATRIX1, 9, matrix);
    file.set(TIFFTAG_CALIBRATIONILLUMINANT1, 21);  // D65
    const float neutral[3] = {0.5F, 1.0F, 0.7F};   // a white balance that must not be applied
    file.set(TIFFTAG_ASSHOTNEUTRAL, 3, neutral);
    file.set(TIFFTAG_ORIENTATION, spec.orientation);
}

void set_picture(File& file, std::uint32_t width, std::uint32_t height, int samples, bool reduced) {
    file.set(TIFFTAG_SUBFILETYPE, reduced ? FILETYPE_REDUCEDIMAGE : 0);
    file.set(TIFFTAG_IMAGEWIDTH, width);
    file.set(TIFFTAG_IMAGELENGTH, height);
    file.set(TIFFTAG_BITSPERSAMPLE, 16);
    file.set(TIFFTAG_SAMPLESPERPIXEL, samples);
    file.set(TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    file.set(TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    file.set(TIFFTAG_ROWSPERSTRIP, height);
}

void set_sensor(File& file, const DngSpec& spec) {
    const int samples = spec.linear ? 3 : 1;
    set_picture(file, spec.width, spec.height, samples, false);
    file.set(TIFFTAG_PHOTOMETRIC, spec.linear ? kLinearRaw : kMosaic);
    if (!spec.linear) {
        const std::uint16_t repeat[2] = {2, 2};
        file.set(TIFFTAG_CFAREPEATPATTERNDIM, repeat);
        file.set(TIFFTAG_CFAPATTERN, 4, spec.pattern.data());
        if (spec.cfa_layout != 1) file.set(TIFFTAG_CFALAYOUT, spec.cfa_layout);
    }
    if (spec.black.size() == 4) {
        const std::uint16_t repeat[2] = {2, 2};
        file.set(TIFFTAG_BLACKLEVELREPEATDIM, repeat);
    }
    if (!spec.black.empty() && !spec.linear) file.set(TIFFTAG_BLACKLEVEL, static_cast<int>(spec.black.size()), spec.black.data());
    const std::vector<std::uint32_t> white(static_cast<std::size_t>(samples), spec.white);
    file.set(TIFFTAG_WHITELEVEL, samples, white.data());
    if (spec.default_scale != std::array<float, 2>{1, 1}) file.set(TIFFTAG_DEFAULTSCALE, spec.default_scale.data());
    if (!spec.active_area.empty()) file.set(TIFFTAG_ACTIVEAREA, spec.active_area.data());
}

void write_sensor(File& file, const DngSpec& spec, const DngCode& code) {
    const std::uint32_t samples = spec.linear ? 3 : 1;
    // The mosaic's places count from the active area's corner [DNG14].
    const std::uint32_t top = spec.active_area.empty() ? 0 : spec.active_area[0], left = spec.active_area.empty() ? 0 : spec.active_area[1];
    std::vector<std::uint16_t> row(spec.width * samples);
    for (std::uint32_t y = 0; y < spec.height; ++y) {
        for (std::uint32_t x = 0; x < spec.width; ++x)
            for (std::uint32_t s = 0; s < samples; ++s)
                row[x * samples + s] = code(x, y, spec.linear ? static_cast<int>(s) : spec.pattern[(y + top % 2) % 2 * 2 + (x + left % 2) % 2]);
        file.row(row, y);
    }
}

void write_preview(File& file) {
    set_picture(file, kPreviewWidth, kPreviewHeight, 3, true);
    file.set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    std::vector<std::uint16_t> row(3 * kPreviewWidth);
    for (std::uint32_t y = 0; y < kPreviewHeight; ++y) {
        for (std::uint32_t i = 0; i < row.size(); ++i) row[i] = static_cast<std::uint16_t>(i * y * 50);
        file.row(row, y);
    }
}

/// The directory of photographic tags; its place goes into the first page, which must be the current one and closed.
void add_settings(File& file, const ShotSettings& settings) {
    TIFF* tiff = file.handle();
    if (TIFFWriteDirectory(tiff) != 1 || TIFFCreateEXIFDirectory(tiff) != 0) throw std::runtime_error("the negative's settings could not be begun");
    file.set(EXIFTAG_EXPOSURETIME, settings.seconds);
    file.set(EXIFTAG_FNUMBER, settings.f_number);
    file.set(EXIFTAG_ISOSPEEDRATINGS, 1, &settings.iso);
    std::uint64_t place = 0;
    if (TIFFWriteCustomDirectory(tiff, &place) != 1 || TIFFSetDirectory(tiff, 0) != 1) throw std::runtime_error("the negative's settings could not be written");
    file.set(TIFFTAG_EXIFIFD, place);
}

}  // namespace

void write_dng(const std::string& path, const DngSpec& spec, const DngCode& code) {
    File file(path);
    set_camera(file, spec);
    if (spec.preview_first) {
        const std::uint64_t below[1] = {0};
        file.set(TIFFTAG_SUBIFD, 1, below);
        write_preview(file);
        if (TIFFWriteDirectory(file.handle()) != 1) throw std::runtime_error("the negative could not be written");
    }
    set_sensor(file, spec);
    write_sensor(file, spec, code);
    if (spec.settings && !spec.preview_first) add_settings(file, *spec.settings);
}

void write_dng_without_sensor(const std::string& path, const DngSpec& spec) {
    File file(path);
    set_camera(file, spec);
    write_preview(file);
    if (spec.settings) add_settings(file, *spec.settings);
}

}  // namespace synthetic
