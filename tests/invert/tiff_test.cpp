// SPDX-License-Identifier: GPL-3.0-or-later
#include "files.h"
#include "invert_world.h"

#include "basefog/invert/write.h"

#include <lcms2.h>
#include <sys/resource.h>
#include <tiffio.h>
#include <catch2/catch.hpp>
#include <csignal>
#include <cstring>
#include <exiv2/exiv2.hpp>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

using namespace basefog;
using namespace basefog::test;

namespace {

Image<EncodedRgb16> picture(std::int64_t width, std::int64_t height) {
    Image<EncodedRgb16> out(width, height);
    Random random(17);
    for (std::int64_t y = 0; y < height; ++y)
        for (std::int64_t x = 0; x < width; ++x) {
            const auto grain = static_cast<unsigned>(random() * 900);
            out(x, y) = {static_cast<std::uint16_t>(x * 300 + grain), static_cast<std::uint16_t>(y * 500 + grain),
                         static_cast<std::uint16_t>(65535 - x * 200 - grain)};
        }
    return out;
}

PhotoMetadata description() {
    PhotoMetadata metadata;
    metadata.title = "roll R1, frame 7";
    metadata.description = "tungsten 500 negative, rated 250, session 3 \xE2\x80\x93 \"second\" bath & r\xC3\xA9serve <1 l>";
    metadata.date = "2024-05-06T07:08:09";
    metadata.roll = "R1";
    metadata.frame_number = 7;
    metadata.exposure_index = 250;
    metadata.keywords = {"R1", "tungsten 500", "C-41", "R1", ""};
    metadata.software = "basefog test";
    return metadata;
}

std::string srgb_icc() { return OutputProfile::make({})->icc_bytes(); }
const char* name_of(Compression c) { return c == Compression::none ? "none" : c == Compression::lzw ? "lzw" : c == Compression::deflate ? "deflate" : "zstd"; }

bool equal_by_libtiff(const std::string& path, View<const EncodedRgb16> want) {
    TIFF* tiff = TIFFOpen(path.c_str(), "r");
    if (tiff == nullptr) return false;
    std::uint32_t width = 0, height = 0;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    bool equal = width == want.width() && height == want.height();
    std::vector<EncodedRgb16> row(width);
    for (std::uint32_t y = 0; equal && y < height; ++y)
        equal = TIFFReadScanline(tiff, row.data(), y) >= 0 && std::memcmp(row.data(), want.row(y), width * sizeof(EncodedRgb16)) == 0;
    TIFFClose(tiff);
    return equal;
}

bool equal_by_opencv(const std::string& path, View<const EncodedRgb16> want) {
    const cv::Mat read = cv::imread(path, cv::IMREAD_UNCHANGED);
    if (read.type() != CV_16UC3 || read.cols != want.width() || read.rows != want.height()) return false;
    for (int y = 0; y < read.rows; ++y)
        for (int x = 0; x < read.cols; ++x) {
            const auto bgr = read.at<cv::Vec<std::uint16_t, 3>>(y, x);
            const EncodedRgb16 p = want(x, y);
            if (bgr[2] != p.r || bgr[1] != p.g || bgr[0] != p.b) return false;
        }
    return true;
}

/// Raw samples as another program decodes them.
bool equal_by_convert(const std::string& path, View<const EncodedRgb16> want) {
    const std::string raw = output_of("convert '" + path + "' -depth 16 -endian LSB rgb:-");
    if (raw.size() != static_cast<std::size_t>(want.width() * want.height()) * 6) return false;
    for (std::int64_t y = 0; y < want.height(); ++y)
        if (std::memcmp(raw.data() + y * want.width() * 6, want.row(y), static_cast<std::size_t>(want.width()) * 6) != 0) return false;
    return true;
}

}  // namespace

TEST_CASE("positives are read back bit for bit by three readers, whatever the compression") {
    TemporaryFolder folder;
    const Image<EncodedRgb16> whole = picture(431, 307);
    const bool other_program = installed("convert");
    if (!other_program) WARN("ImageMagick's convert is not installed: third reader skipped");
    for (const Compression compression : {Compression::none, Compression::lzw, Compression::deflate, Compression::zstd}) {
        CAPTURE(name_of(compression));
        const std::string path = folder.file(std::string(name_of(compression)) + ".tif");
        // A part of a larger picture: the stride is not the width.
        const View<const EncodedRgb16> part = View<const EncodedRgb16>(whole.view()).part(3, 5, 400, 300);
        REQUIRE(write_positive_tiff(path, part, srgb_icc(), compression, px_per_mm_from_dpi(3200), description()));
        CHECK(equal_by_libtiff(path, part));
        if (compression != Compression::zstd || other_program) CHECK(equal_by_opencv(path, part));
        if (other_program) CHECK(equal_by_convert(path, part));
        const std::string first = read_file(path);
        REQUIRE(write_positive_tiff(path, part, srgb_icc(), compression, px_per_mm_from_dpi(3200), description()));
        CHECK(read_file(path) == first);
    }
    CHECK(folder.count() == 4);  // nothing temporary left
}

TEST_CASE("positives carry resolution, profile and strips of a sensible size") {
    TemporaryFolder folder;
    const Image<EncodedRgb16> whole = picture(700, 500);
    REQUIRE(write_positive_tiff(folder.file("a.tif"), whole.view(), srgb_icc(), Compression::deflate, px_per_mm_from_dpi(2400), description()));
    TIFF* tiff = TIFFOpen(folder.file("a.tif").c_str(), "r");
    REQUIRE(tiff != nullptr);
    float dpi = 0;
    std::uint16_t unit = 0, predictor = 0, compression = 0;
    std::uint32_t rows = 0, icc_size = 0;
    void* icc = nullptr;
    TIFFGetField(tiff, TIFFTAG_XRESOLUTION, &dpi);
    TIFFGetField(tiff, TIFFTAG_RESOLUTIONUNIT, &unit);
    TIFFGetField(tiff, TIFFTAG_PREDICTOR, &predictor);
    TIFFGetField(tiff, TIFFTAG_COMPRESSION, &compression);
    TIFFGetField(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
    CHECK(dpi == Approx(2400));
    CHECK(unit == RESUNIT_INCH);
    CHECK(predictor == PREDICTOR_HORIZONTAL);
    CHECK(compression == COMPRESSION_ADOBE_DEFLATE);
    CHECK(rows * 700 * 6 <= 256 * 1024);
    CHECK(rows * 700 * 6 > 128 * 1024);
    REQUIRE(TIFFGetField(tiff, TIFFTAG_ICCPROFILE, &icc_size, &icc) == 1);
    CHECK(std::string(static_cast<const char*>(icc), icc_size) == srgb_icc());
    cmsHPROFILE profile = cmsOpenProfileFromMem(icc, icc_size);
    CHECK(profile != nullptr);
    if (profile != nullptr) cmsCloseProfile(profile);
    TIFFClose(tiff);
}

TEST_CASE("positives' metadata is found by Exiv2 where photo libraries look") {
    TemporaryFolder folder;
    const PhotoMetadata metadata = description();
    for (const Compression compression : {Compression::none, Compression::deflate}) {
        const std::string path = folder.file(std::string(name_of(compression)) + ".tif");
        REQUIRE(write_positive_tiff(path, picture(64, 48).view(), srgb_icc(), compression, px_per_mm_from_dpi(3200), metadata));
        auto image = Exiv2::ImageFactory::open(path);
        image->readMetadata();
        CHECK(image->pixelWidth() == 64);
        Exiv2::ExifData& exif = image->exifData();
        CHECK(exif["Exif.Image.ImageDescription"].toString() == metadata.description);
        CHECK(exif["Exif.Image.Software"].toString() == "basefog test");
        CHECK(exif["Exif.Photo.DateTimeOriginal"].toString() == "2024:05:06 07:08:09");
        CHECK(exif["Exif.Photo.ISOSpeedRatings"].toLong() == 250);
        Exiv2::IptcData& iptc = image->iptcData();
        CHECK(iptc["Iptc.Application2.ObjectName"].toString() == metadata.title);
        CHECK(iptc["Iptc.Application2.Caption"].toString() == metadata.description);
        int keywords = 0;
        for (const auto& entry : iptc) keywords += entry.key() == "Iptc.Application2.Keywords";
        CHECK(keywords == 3);
        Exiv2::XmpData& xmp = image->xmpData();
        CHECK(xmp["Xmp.dc.title"].toString() == "lang=\"x-default\" " + metadata.title);
        CHECK(xmp["Xmp.dc.description"].toString() == "lang=\"x-default\" " + metadata.description);
        CHECK(xmp["Xmp.dc.subject"].toString() == "R1, tungsten 500, C-41");
    }
    if (installed("exiv2"))
        CHECK(output_of("exiv2 -pt -g Exif.Photo.ISOSpeedRatings pr '" + folder.file("none.tif") + "'").find("250") != std::string::npos);
    else
        WARN("the exiv2 command is not installed: outside check of metadata skipped");
}

TEST_CASE("metadata may be empty, odd or broken text") {
    TemporaryFolder folder;
    PhotoMetadata metadata;
    const Image<EncodedRgb16> small = picture(8, 6);
    REQUIRE(write_positive_tiff(folder.file("empty.tif"), small.view(), "", Compression::none, PixelsPerMm(0), metadata));
    CHECK(equal_by_libtiff(folder.file("empty.tif"), small.view()));
    metadata.title = std::string("line\nbreak \x01 \xFF\xC0 half \xE2\x82", 22);
    metadata.description = std::string(5000, 'x') + "\xC3\xA9";
    metadata.date = "yesterday";
    metadata.exposure_index = std::numeric_limits<double>::quiet_NaN();
    metadata.keywords = {std::string(200, 'k'), "</x:xmpmeta><script>"};
    REQUIRE(write_positive_tiff(folder.file("odd.tif"), small.view(), srgb_icc(), Compression::deflate, PixelsPerMm(std::nan("")), metadata));
    CHECK(equal_by_libtiff(folder.file("odd.tif"), small.view()));
    auto image = Exiv2::ImageFactory::open(folder.file("odd.tif"));
    image->readMetadata();
    CHECK(image->xmpData()["Xmp.dc.subject"].toString().find("</x:xmpmeta><script>") != std::string::npos);
    CHECK(image->iptcData()["Iptc.Application2.Caption"].toString().size() == 2000);
    CHECK(image->exifData().findKey(Exiv2::ExifKey("Exif.Photo.DateTimeOriginal")) == image->exifData().end());
}

TEST_CASE("what cannot be written is an error with the reason, and leaves nothing behind") {
    TemporaryFolder folder;
    const Image<EncodedRgb16> whole = picture(600, 400);
    const auto none = write_positive_tiff(folder.file("a.tif"), View<const EncodedRgb16>(), srgb_icc(), Compression::none, px_per_mm_from_dpi(3200), {});
    REQUIRE_FALSE(none);
    CHECK(none.error().code == ErrorCode::unwritable);
    const auto absent = write_positive_tiff(folder.file("no/such/a.tif"), whole.view(), srgb_icc(), Compression::none, px_per_mm_from_dpi(3200), {});
    REQUIRE_FALSE(absent);
    CHECK(absent.error().code == ErrorCode::unwritable);
    CHECK(absent.error().what.find("No such file") != std::string::npos);

    // A full disk, played by a limit on file size (the system's call fails midway just so).
    rlimit before{};
    getrlimit(RLIMIT_FSIZE, &before);
    const auto old_handler = std::signal(SIGXFSZ, SIG_IGN);
    for (const rlim_t limit : {rlim_t{0}, rlim_t{200'000}, rlim_t{600 * 400 * 6 + 100}}) {
        for (const Compression compression : {Compression::none, Compression::deflate, Compression::lzw, Compression::zstd}) {
            if (compression != Compression::none && limit > 200'000) continue;  // they fit
            rlimit small = before;
            small.rlim_cur = limit;
            setrlimit(RLIMIT_FSIZE, &small);
            const auto full = write_positive_tiff(folder.file("full.tif"), whole.view(), srgb_icc(), compression, px_per_mm_from_dpi(3200), description());
            setrlimit(RLIMIT_FSIZE, &before);
            CAPTURE(name_of(compression), limit);
            REQUIRE_FALSE(full);
            CHECK(full.error().code == ErrorCode::unwritable);
            CHECK(full.error().what.find("File too large") != std::string::npos);
            CHECK(folder.count() == 0);
        }
    }
    std::signal(SIGXFSZ, old_handler);
}
