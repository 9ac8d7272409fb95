// SPDX-License-Identifier: GPL-3.0-or-later
// Embedded profiles, made here by lcms2 and compared with its own evaluation or with closed forms.
#include "scan/icc_context.h"
#include "scan/test_files.h"

#include <lcms2.h>
#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

/// An ICC gamma is stored in steps of 1/256 (version 2) or 1/65536 (version 4), and a curve's end may be rounded.
constexpr double kCurveTolerance = 3e-5;

using Bytes = std::vector<unsigned char>;

Bytes saved(cmsHPROFILE profile) {
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile, nullptr, &size);
    Bytes bytes(size);
    cmsSaveProfileToMem(profile, bytes.data(), &size);
    cmsCloseProfile(profile);
    return bytes;
}

/// Primaries and white of Rec. ITU-R BT.709, which mix the channels strongly: were they applied, the tests would see it.
cmsHPROFILE matrix_profile(cmsToneCurve* r, cmsToneCurve* g, cmsToneCurve* b) {
    const cmsCIExyY d65{0.3127, 0.3290, 1.0};
    const cmsCIExyYTRIPLE primaries{{0.64, 0.33, 1.0}, {0.30, 0.60, 1.0}, {0.15, 0.06, 1.0}};
    cmsToneCurve* curves[3] = {r, g, b};
    return cmsCreateRGBProfile(&d65, &primaries, curves);
}

Bytes gamma_profile(double r, double g, double b) {
    cmsToneCurve* curves[3] = {cmsBuildGamma(nullptr, r), cmsBuildGamma(nullptr, g), cmsBuildGamma(nullptr, b)};
    const Bytes bytes = saved(matrix_profile(curves[0], curves[1], curves[2]));
    cmsFreeToneCurveTriple(curves);
    return bytes;
}

std::unique_ptr<ScanReader> open_with(const TemporaryFolder& folder, TiffSpec spec, const Bytes& profile, const ScanOptions& options = {}) {
    spec.profile = profile;
    write_tiff(folder.file("profiled.tif"), spec);
    auto reader = open_scan(folder.file("profiled.tif"), options);
    if (!reader) FAIL(describe(reader.error()));
    return std::move(*reader);
}

double code(const TiffSpec& spec, std::int64_t x, std::int64_t y, int s) {
    return code_at(spec, x, y, s) / (spec.bits == 8 ? 255 : spec.bits == 16 ? 65535 : 1);
}

/// The largest difference between what is read and `expected(codes r, g, b)`.
double worst_difference(const TiffSpec& spec, const Image<LinearRgbi>& image, const std::function<Rgb<double>(Rgb<double>)>& expected) {
    double worst = 0;
    for (std::int64_t y = 0; y < image.height(); ++y)
        for (std::int64_t x = 0; x < image.width(); ++x) {
            const bool grey = spec.samples < 3;
            const Rgb<double> e = expected({code(spec, x, y, 0), code(spec, x, y, grey ? 0 : 1), code(spec, x, y, grey ? 0 : 2)});
            const LinearRgbi& p = image(x, y);
            worst =
                std::max({worst, std::abs(static_cast<double>(p.r) - e.r), std::abs(static_cast<double>(p.g) - e.g), std::abs(static_cast<double>(p.b) - e.b)});
        }
    return worst;
}

bool warns(const ScanInfo& info, const std::string& of) {
    return std::any_of(info.warnings.begin(), info.warnings.end(), [&](const std::string& w) { return w.find(of) != std::string::npos; });
}

/// An input profile that is a table alone: codes of gamma 2 in a made-up sensor space, to Lab.
Bytes table_profile(bool with_curves_too) {
    cmsHPROFILE profile = with_curves_too ? nullptr : cmsCreateProfilePlaceholder(nullptr);
    if (with_curves_too) {
        cmsToneCurve* gamma = cmsBuildGamma(nullptr, 1.8);
        profile = matrix_profile(gamma, gamma, gamma);
        cmsFreeToneCurve(gamma);
    }
    cmsSetProfileVersion(profile, 4.3);
    cmsSetDeviceClass(profile, cmsSigInputClass);
    cmsSetColorSpace(profile, cmsSigRgbData);
    cmsSetPCS(profile, cmsSigLabData);
    const auto sample = [](const cmsUInt16Number in[], cmsUInt16Number out[], void*) -> cmsInt32Number {
        double c[3];
        for (int i = 0; i < 3; ++i) c[i] = std::pow(in[i] / 65535.0, 2.0);
        const cmsCIEXYZ xyz{0.9642 * (0.60 * c[0] + 0.25 * c[1] + 0.15 * c[2]), 0.30 * c[0] + 0.60 * c[1] + 0.10 * c[2],
                            0.8249 * (0.02 * c[0] + 0.10 * c[1] + 0.88 * c[2])};
        cmsCIELab lab;
        cmsXYZ2Lab(cmsD50_XYZ(), &lab, &xyz);
        cmsFloat2LabEncoded(out, &lab);
        return 1;
    };
    cmsPipeline* lut = cmsPipelineAlloc(nullptr, 3, 3);
    cmsStage* table = cmsStageAllocCLut16bit(nullptr, 17, 3, 3, nullptr);
    cmsStageSampleCLut16bit(table, sample, nullptr, 0);
    cmsPipelineInsertStage(lut, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));  // lines: the format wants curves on both sides
    cmsPipelineInsertStage(lut, cmsAT_END, table);
    cmsPipelineInsertStage(lut, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
    cmsWriteTag(profile, cmsSigAToB0Tag, lut);
    cmsPipelineFree(lut);
    cmsWriteTag(profile, cmsSigMediaWhitePointTag, cmsD50_XYZ());
    return saved(profile);
}

}  // namespace

TEST_CASE("a profile's gamma curves linearise each channel on its own") {
    const TemporaryFolder folder;
    for (const int bits : {8, 16, 32}) {
        TiffSpec spec;
        spec.bits = bits;
        const auto reader = open_with(folder, spec, gamma_profile(1.8, 2.2, 2.6));
        CHECK(reader->info().encoding.kind == Encoding::Kind::icc_profile);
        CHECK(reader->info().encoding_origin == Origin::file);
        CHECK_FALSE(reader->info().profile_name.empty());
        const auto closed_form = [](Rgb<double> c) { return Rgb<double>{std::pow(c.r, 1.8), std::pow(c.g, 2.2), std::pow(c.b, 2.6)}; };
        CHECK(worst_difference(spec, read_all(*reader), closed_form) < kCurveTolerance);
    }
}

TEST_CASE("a profile with the sRGB curve agrees with the stated encoding, which has its constants from IEC 61966-2-1") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    const auto by_profile = open_with(folder, spec, saved(cmsCreate_sRGBProfile()));
    ScanOptions stated;
    stated.encoding = Encoding{Encoding::Kind::srgb, 1.0};
    const auto by_option = open_with(folder, spec, {}, stated);
    const Image<LinearRgbi> a = read_all(*by_profile), b = read_all(*by_option);
    double worst = 0;
    for (std::int64_t y = 0; y < a.height(); ++y)
        for (std::int64_t x = 0; x < a.width(); ++x) worst = std::max(worst, std::abs(static_cast<double>(a(x, y).g - b(x, y).g)));
    CHECK(worst < kCurveTolerance);
}

TEST_CASE("a sampled curve is evaluated as lcms2 does") {
    const TemporaryFolder folder;
    std::vector<cmsUInt16Number> values(1024);
    for (std::size_t i = 0; i < values.size(); ++i) values[i] = static_cast<cmsUInt16Number>(60000.0 * std::pow(static_cast<double>(i) / 1023, 1.7) + 0.5);
    cmsToneCurve* curve = cmsBuildTabulatedToneCurve16(nullptr, static_cast<cmsUInt32Number>(values.size()), values.data());
    const TiffSpec spec;
    const auto reader = open_with(folder, spec, saved(matrix_profile(curve, curve, curve)));
    // The curve ends at 60000/65535; full scale is to be 1.
    const double full = static_cast<double>(cmsEvalToneCurveFloat(curve, 1.0f));
    const auto own = [&](Rgb<double> c) {
        const auto value = [&](double v) { return static_cast<double>(cmsEvalToneCurveFloat(curve, static_cast<float>(v))) / full; };
        return Rgb<double>{value(c.r), value(c.g), value(c.b)};
    };
    const Image<LinearRgbi> image = read_all(*reader);
    CHECK(worst_difference(spec, image, own) < 1e-6);  // one rounding to float
    CHECK(image(1, 0).r == 1.0f);                      // the code at full scale
    cmsFreeToneCurve(curve);
}

TEST_CASE("grey profiles linearise, also where white is zero") {
    const TemporaryFolder folder;
    for (const bool white_is_zero : {false, true}) {
        TiffSpec spec;
        spec.samples = 1;
        spec.white_is_zero = white_is_zero;
        cmsToneCurve* gamma = cmsBuildGamma(nullptr, 2.2);
        const auto reader = open_with(folder, spec, saved(cmsCreateGrayProfile(cmsD50_xyY(), gamma)));
        cmsFreeToneCurve(gamma);
        CHECK(reader->info().encoding.kind == Encoding::Kind::icc_profile);
        const auto closed_form = [&](Rgb<double> c) {
            const double v = std::pow(white_is_zero ? 1 - c.r : c.r, 2.2);
            return Rgb<double>{v, v, v};
        };
        CHECK(worst_difference(spec, read_all(*reader), closed_form) < kCurveTolerance);
    }
}

TEST_CASE("a table profile leads to the linear light that lcms2 and the published ROMM matrix give") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    const Bytes bytes = table_profile(false);
    const auto reader = open_with(folder, spec, bytes);
    CHECK(reader->info().encoding.kind == Encoding::Kind::icc_profile);
    cmsHPROFILE profile = cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size())), xyz = cmsCreateXYZProfile();
    cmsHTRANSFORM transform =
        cmsCreateTransform(profile, TYPE_RGB_FLT, xyz, TYPE_XYZ_DBL, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
    REQUIRE(transform != nullptr);
    const auto romm = [&](Rgb<double> c) {
        const float in[3] = {static_cast<float>(c.r), static_cast<float>(c.g), static_cast<float>(c.b)};
        double v[3];
        cmsDoTransform(transform, in, v, 1);
        // XYZ (D50) to linear ROMM RGB, ISO 22028-2, as printed there with four decimals (from memory).
        return Rgb<double>{1.3460 * v[0] - 0.2556 * v[1] - 0.0511 * v[2], -0.5446 * v[0] + 1.5082 * v[1] + 0.0205 * v[2], 1.2123 * v[2]};
    };
    const Rgb<double> white = romm({1, 1, 1});
    const auto expected = [&](Rgb<double> c) {
        const Rgb<double> v = romm(c);
        return Rgb<double>{v.r / white.r, v.g / white.g, v.b / white.b};
    };
    const Image<LinearRgbi> image = read_all(*reader);
    CHECK(worst_difference(spec, image, expected) < 5e-4);  // the matrix is printed with four decimals
    CHECK(image(1, 0).r == Approx(1.0).margin(1e-6));
    cmsDeleteTransform(transform);
    cmsCloseProfile(profile);
    cmsCloseProfile(xyz);
}

TEST_CASE("where a profile has both, its curves keep the sensor's channels unmixed") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    const auto reader = open_with(folder, spec, table_profile(true));
    const auto closed_form = [](Rgb<double> c) { return Rgb<double>{std::pow(c.r, 1.8), std::pow(c.g, 1.8), std::pow(c.b, 1.8)}; };
    CHECK(worst_difference(spec, read_all(*reader), closed_form) < kCurveTolerance);
}

TEST_CASE("infrared beside a profile is taken to be encoded like green, and that is said") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.samples = 4;
    const auto reader = open_with(folder, spec, gamma_profile(1.8, 2.2, 2.6));
    CHECK(warns(reader->info(), "infrared"));
    const Image<LinearRgbi> image = read_all(*reader);
    CHECK(static_cast<double>(image(7, 9).ir) == Approx(std::pow(code(spec, 7, 9, 3), 2.2)).margin(kCurveTolerance));
}

TEST_CASE("a profile that cannot be used is a warning, and the assumption stands") {
    const TemporaryFolder folder;
    Bytes cut = gamma_profile(2.2, 2.2, 2.2);
    cut.resize(200);
    Bytes noise(3000);
    for (std::size_t i = 0; i < noise.size(); ++i) noise[i] = static_cast<unsigned char>(i * 37);
    cmsUInt16Number falling[3] = {65535, 30000, 0};
    cmsToneCurve* down = cmsBuildTabulatedToneCurve16(nullptr, 3, falling);
    cmsToneCurve* gamma = cmsBuildGamma(nullptr, 2.2);
    const Bytes inverted = saved(matrix_profile(down, down, down)), grey = saved(cmsCreateGrayProfile(cmsD50_xyY(), gamma));
    cmsFreeToneCurve(down);
    cmsFreeToneCurve(gamma);
    for (const Bytes& bytes : {cut, noise, inverted, grey}) {
        const TiffSpec spec;
        const auto reader = open_with(folder, spec, bytes);
        CHECK(warns(reader->info(), "profile cannot be used"));
        CHECK(warns(reader->info(), "linear light is assumed"));
        CHECK(reader->info().encoding_origin == Origin::assumed);
        const auto same_codes = [](Rgb<double> c) { return c; };
        CHECK(worst_difference(spec, read_all(*reader), same_codes) < 1e-7);
    }
}

TEST_CASE("a stated encoding wins over a profile, which is still named") {
    const TemporaryFolder folder;
    const TiffSpec spec;
    ScanOptions options;
    options.encoding = Encoding{Encoding::Kind::gamma, 2.0};
    const auto reader = open_with(folder, spec, gamma_profile(1.8, 1.8, 1.8), options);
    CHECK(reader->info().encoding_origin == Origin::option);
    CHECK_FALSE(reader->info().profile_name.empty());
    const auto squared = [](Rgb<double> c) { return Rgb<double>{c.r * c.r, c.g * c.g, c.b * c.b}; };
    CHECK(worst_difference(spec, read_all(*reader), squared) < 1e-6);
}

TEST_CASE("without a profile 8 bits are taken as sRGB and more as linear, and the guess is said") {
    const TemporaryFolder folder;
    for (const int bits : {8, 16, 32}) {
        TiffSpec spec;
        spec.bits = bits;
        const auto reader = open_with(folder, spec, {});
        CHECK(reader->info().encoding.kind == (bits == 8 ? Encoding::Kind::srgb : Encoding::Kind::linear));
        CHECK(reader->info().encoding_origin == Origin::assumed);
        CHECK(warns(reader->info(), "assumed"));
        CHECK(warns(reader->info(), "8 bits") == (bits == 8));
    }
}

TEST_CASE("sRGB decodes to the values of lcms2's own sRGB profile") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.bits = 8;
    const auto reader = open_with(folder, spec, {});
    cmsHPROFILE srgb = cmsCreate_sRGBProfile();
    const auto* curve = static_cast<const cmsToneCurve*>(cmsReadTag(srgb, cmsSigRedTRCTag));
    const auto own = [&](Rgb<double> c) {
        const auto value = [&](double v) { return static_cast<double>(cmsEvalToneCurveFloat(curve, static_cast<float>(v))); };
        return Rgb<double>{value(c.r), value(c.g), value(c.b)};
    };
    CHECK(worst_difference(spec, read_all(*reader), own) < kCurveTolerance);
    cmsCloseProfile(srgb);
}

TEST_CASE("a profile's memory is limited, whatever counts it states") {
    const cmsContext context = scan::make_icc_context();
    REQUIRE(context != nullptr);
    void* sound = _cmsMalloc(context, kMostIccBytes);
    CHECK(sound != nullptr);
    CHECK(_cmsMalloc(context, kMostIccBytes + 1) == nullptr);
    CHECK(_cmsMallocZero(context, kMostIccBytes + 1) == nullptr);
    CHECK(_cmsCalloc(context, kMostIccBytes / 16 + 1, 16) == nullptr);
    CHECK(_cmsRealloc(context, sound, kMostIccBytes + 1) == nullptr);  // the block stays as it was
    _cmsFree(context, sound);
    cmsDeleteContext(context);
}
