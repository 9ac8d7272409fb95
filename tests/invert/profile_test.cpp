// SPDX-License-Identifier: GPL-3.0-or-later
#include "files.h"
#include "invert_world.h"

#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"

#include <lcms2.h>
#include <array>
#include <catch2/catch.hpp>
#include <limits>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <sstream>
#include <vector>

using namespace basefog;
using namespace basefog::test;

namespace {

OutputProfile profile_for(OutputSpace space, const std::string& path = {}, int version = 4) {
    InvertOptions options;
    options.icc_version = version;
    options.output = space;
    options.profile_path = path;
    auto made = OutputProfile::make(options);
    if (!made) FAIL(describe(made.error()));
    return std::move(*made);
}

EncodedRgb16 encode(const OutputProfile& profile, SceneRgb in) {
    EncodedRgb16 out;
    profile.encode(&in, &out, 1);
    return out;
}

std::vector<SceneRgb> colours(int n, std::uint64_t seed) {
    Random random(seed);
    std::vector<SceneRgb> all{{0, 0, 0}, {1, 1, 1}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0.18F, 0.18F, 0.18F}};
    while (static_cast<int>(all.size()) < n)
        all.push_back({static_cast<float>(random()), static_cast<float>(random() * random()), static_cast<float>(random())});
    return all;
}

/// What lcms2's own command makes of linear light in `from`, as 16-bit codes of `to`.
std::vector<std::array<double, 3>> by_transicc(const TemporaryFolder& folder, const std::string& from, const std::string& to, const std::vector<SceneRgb>& in) {
    write_file(folder.file("from.icc"), from);
    write_file(folder.file("to.icc"), to);
    std::ostringstream values;
    values.precision(9);
    for (const SceneRgb& c : in) values << c.r * 255.0 << ' ' << c.g * 255.0 << ' ' << c.b * 255.0 << '\n';
    write_file(folder.file("in.txt"), values.str());
    std::istringstream out(output_of("transicc -n -t0 -b -c0 -i" + folder.file("from.icc") + " -o" + folder.file("to.icc") + " <" + folder.file("in.txt")));
    std::vector<std::array<double, 3>> all;
    for (std::array<double, 3> c{}; out >> c[0] >> c[1] >> c[2];) all.push_back({c[0] * 257, c[1] * 257, c[2] * 257});
    return all;
}

/// An RGB printer profile with tables, made here with lcms2: it shows every colour at half its saturation.
std::string table_profile() {
    cmsHPROFILE profile = cmsCreateProfilePlaceholder(nullptr);
    cmsSetProfileVersion(profile, 4.3);
    cmsSetDeviceClass(profile, cmsSigOutputClass);
    cmsSetColorSpace(profile, cmsSigRgbData);
    cmsSetPCS(profile, cmsSigLabData);
    cmsHPROFILE srgb = cmsCreate_sRGBProfile(), lab = cmsCreateLab4Profile(nullptr);
    cmsHTRANSFORM to_srgb = cmsCreateTransform(lab, TYPE_Lab_DBL, srgb, TYPE_RGB_16, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
    cmsHTRANSFORM to_lab = cmsCreateTransform(srgb, TYPE_RGB_16, lab, TYPE_Lab_DBL, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
    const auto add = [&](cmsTagSignature tag, auto sample, void* transform) {
        cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
        cmsStage* table = cmsStageAllocCLut16bit(nullptr, 17, 3, 3, nullptr);
        cmsStageSampleCLut16bit(table, sample, transform, 0);
        cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
        cmsPipelineInsertStage(pipeline, cmsAT_END, table);
        cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
        CHECK(cmsWriteTag(profile, tag, pipeline));
        cmsPipelineFree(pipeline);
    };
    add(
        cmsSigBToA0Tag,
        +[](const cmsUInt16Number in[], cmsUInt16Number out[], void* transform) -> cmsInt32Number {
            cmsCIELab value;
            cmsLabEncoded2Float(&value, in);
            value.a /= 2;
            value.b /= 2;
            cmsDoTransform(transform, &value, out, 1);
            return 1;
        },
        to_srgb);
    add(
        cmsSigAToB0Tag,
        +[](const cmsUInt16Number in[], cmsUInt16Number out[], void* transform) -> cmsInt32Number {
            cmsCIELab value;
            cmsDoTransform(transform, in, &value, 1);
            value.a *= 2;
            value.b *= 2;
            cmsFloat2LabEncoded(out, &value);
            return 1;
        },
        to_lab);
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile, nullptr, &size);
    std::string bytes(size, '\0');
    cmsSaveProfileToMem(profile, bytes.data(), &size);
    cmsDeleteTransform(to_srgb);
    cmsDeleteTransform(to_lab);
    cmsCloseProfile(srgb);
    cmsCloseProfile(lab);
    cmsCloseProfile(profile);
    return bytes;
}

}  // namespace

TEST_CASE("sRGB codes are the standard's") {
    const OutputProfile profile = profile_for(OutputSpace::srgb);
    // IEC 61966-2-1: 0.18 encodes to 30234.97 of 65535, 0.5 to 48191.6.
    CHECK(encode(profile, {0.18F, 0.18F, 0.18F}).g == 30235);
    CHECK(encode(profile, {0.5F, 0.5F, 0.5F}).r == 48192);
    CHECK(encode(profile, {0, 0, 0}).b == 0);
    CHECK(encode(profile, {1, 1, 1}).b == 65535);
    // The table against the formula, everywhere: never more than the nearest code or, within 0.06 of a tie, its neighbour.
    int worst = 0;
    for (int i = 0; i <= 200000; ++i) {
        const double light = std::pow(i / 200000.0, 2.2);
        const double exact = srgb_encode(static_cast<float>(light)) * 65535;
        const int code = encode(profile, {static_cast<float>(light), 0, 0}).r;
        if (std::fabs(code - exact) > 0.56) ++worst;
    }
    CHECK(worst == 0);
}

TEST_CASE("built-in profiles read back with lcms2: names, rights, primaries, and the same bytes every time") {
    for (const OutputSpace space : {OutputSpace::srgb, OutputSpace::wide, OutputSpace::linear}) {
        const OutputProfile profile = profile_for(space);
        const std::string bytes = profile.icc_bytes();
        CHECK(bytes == profile_for(space).icc_bytes());
        cmsHPROFILE opened = cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size()));
        REQUIRE(opened != nullptr);
        char text[200] = {};
        cmsGetProfileInfoASCII(opened, cmsInfoDescription, "en", "US", text, sizeof text);
        CHECK(std::string(text) == profile.name());
        CHECK(cmsGetProfileInfoASCII(opened, cmsInfoCopyright, "en", "US", text, sizeof text) > 10);
        CHECK(cmsGetColorSpace(opened) == cmsSigRgbData);
        CHECK(cmsGetDeviceClass(opened) == cmsSigDisplayClass);
        tm made{};
        CHECK(cmsGetHeaderCreationDateTime(opened, &made));
        CHECK(made.tm_year == 125);
        if (space != OutputSpace::wide) {
            // Bradford-adapted sRGB primaries computed from the standard's chromaticities; 5e-4 covers the two usual roundings of the white.
            const auto* red = static_cast<const cmsCIEXYZ*>(cmsReadTag(opened, cmsSigRedColorantTag));
            REQUIRE(red != nullptr);
            CHECK(red->X == Approx(0.43604).margin(5e-4));
            CHECK(red->Y == Approx(0.22248).margin(5e-4));
            CHECK(red->Z == Approx(0.01392).margin(5e-4));
        }
        cmsCloseProfile(opened);
    }
}

TEST_CASE("version 2 profiles say the same as version 4, in the older form") {
    for (const OutputSpace space : {OutputSpace::srgb, OutputSpace::wide, OutputSpace::linear}) {
        const OutputProfile four = profile_for(space), two = profile_for(space, {}, 2);
        CHECK(two.icc_bytes() == profile_for(space, {}, 2).icc_bytes());
        CHECK(two.name() == four.name());
        cmsHPROFILE opened = cmsOpenProfileFromMem(two.icc_bytes().data(), static_cast<cmsUInt32Number>(two.icc_bytes().size()));
        REQUIRE(opened != nullptr);
        CHECK(cmsGetProfileVersion(opened) == Approx(2.4));
        // What version 2 [ICC1] has not: parametric curves, texts in many languages, an identity in the header.
        CHECK(two.icc_bytes().find("para") == std::string::npos);
        CHECK(two.icc_bytes().find("mluc") == std::string::npos);
        CHECK(two.icc_bytes().substr(84, 16) == std::string(16, '\0'));
        CHECK(two.icc_bytes().substr(24, 12) == four.icc_bytes().substr(24, 12));  // the same fixed date
        char text[200] = {};
        cmsGetProfileInfoASCII(opened, cmsInfoDescription, "en", "US", text, sizeof text);
        CHECK(std::string(text) == two.name());
        // lcms2's own conversion from one to the other. Version 2 keeps a curve as 16-bit light: half a step of it is 6.5 codes of sRGB at the dark end
        // (12.92 codes to a step), on the way in and on the way out.
        cmsHPROFILE other = cmsOpenProfileFromMem(four.icc_bytes().data(), static_cast<cmsUInt32Number>(four.icc_bytes().size()));
        cmsHTRANSFORM transform = cmsCreateTransform(opened, TYPE_RGB_DBL, other, TYPE_RGB_DBL, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
        double worst = 0;
        for (int i = 0; i <= 1000; ++i) {
            const double codes[3] = {i / 1000.0, 0.3 + 0.4 * i / 1000, 1 - i / 1000.0};
            double out[3];
            cmsDoTransform(transform, codes, out, 1);
            for (int c = 0; c < 3; ++c) worst = std::max(worst, std::fabs(out[c] - codes[c]));
        }
        CAPTURE(two.name(), worst * 65535);
        CHECK(worst * 65535 < (space == OutputSpace::srgb ? 13 : 3));
        cmsDeleteTransform(transform);
        cmsCloseProfile(other);
        cmsCloseProfile(opened);
    }
}

TEST_CASE("a written picture converted by tificc is the picture written in the other space") {
    if (!installed("tificc")) {
        WARN("tificc (liblcms2-utils) is not installed: outside check of whole files skipped");
        return;
    }
    const TemporaryFolder folder;
    const std::vector<SceneRgb> in = colours(240, 8);
    for (const int version : {4, 2}) {
        const OutputProfile srgb = profile_for(OutputSpace::srgb, {}, version), wide = profile_for(OutputSpace::wide, {}, version);
        Image<EncodedRgb16> one(240, 1), other(240, 1);
        srgb.encode(in.data(), one.row(0), 240);
        wide.encode(in.data(), other.row(0), 240);
        REQUIRE(write_positive_tiff(folder.file("srgb.tif"), one.view(), srgb.icc_bytes(), Compression::none, PixelsPerMm(40), {}));
        write_file(folder.file("wide.icc"), wide.icc_bytes());
        // It takes the profile of the input from the file itself.
        (void)output_of("tificc -e -t0 -b -c0 -w16 -o" + folder.file("wide.icc") + " " + folder.file("srgb.tif") + " " + folder.file("wide.tif"));
        const cv::Mat read = cv::imread(folder.file("wide.tif"), cv::IMREAD_UNCHANGED);
        REQUIRE(read.type() == CV_16UC3);
        double worst = 0;
        for (int x = 0; x < 240; ++x) {
            const auto& theirs = read.at<cv::Vec3w>(0, x);
            const EncodedRgb16& ours = other(x, 0);
            worst = std::max({worst, std::fabs(theirs[2] - double(ours.r)), std::fabs(theirs[1] - double(ours.g)), std::fabs(theirs[0] - double(ours.b))});
        }
        CAPTURE(version, worst);
        // Its way from codes to codes is 16 bits wide: the rounding of the file's codes, spread up to twice over in the darks, and one of its own.
        CHECK(worst < 4);
    }
}

TEST_CASE("encoding agrees with lcms2's transicc") {
    if (!installed("transicc")) {
        WARN("transicc (liblcms2-utils) is not installed: outside check of profiles skipped");
        return;
    }
    const std::string linear = profile_for(OutputSpace::linear).icc_bytes();
    const std::vector<SceneRgb> in = colours(200, 21);
    TemporaryFolder folder;
    write_file(folder.file("table.icc"), table_profile());
    for (const auto& [space, version] : {std::pair{OutputSpace::srgb, 4},
                                         {OutputSpace::wide, 4},
                                         {OutputSpace::linear, 4},
                                         {OutputSpace::srgb, 2},
                                         {OutputSpace::wide, 2},
                                         {OutputSpace::linear, 2},
                                         {OutputSpace::profile_file, 4}}) {
        const OutputProfile profile = profile_for(space, folder.file("table.icc"), version);
        const auto theirs = by_transicc(folder, linear, profile.icc_bytes(), in);
        REQUIRE(theirs.size() == in.size());
        // transicc prints four decimals of 0..255 (0.013 of a 16-bit code); profiles store primaries to 1.5e-5, up to 2 codes in the darks of a gamma curve.
        const double tolerance = 2.5;
        double worst = 0;
        for (std::size_t i = 0; i < in.size(); ++i) {
            const EncodedRgb16 ours = encode(profile, in[i]);
            worst = std::max({worst, std::fabs(ours.r - theirs[i][0]), std::fabs(ours.g - theirs[i][1]), std::fabs(ours.b - theirs[i][2])});
        }
        CAPTURE(profile.name(), version, worst);
        // Version 2 keeps sRGB's curve as 16-bit light, half a step of which is 6.5 codes at the dark end.
        CHECK(worst < tolerance + (version == 2 && space == OutputSpace::srgb ? 6.5 : 0));
    }
}

TEST_CASE("a matrix profile from a file is used like the built-in of the same primaries") {
    TemporaryFolder folder;
    const OutputProfile wide = profile_for(OutputSpace::wide);
    write_file(folder.file("wide.icc"), wide.icc_bytes());
    const OutputProfile from_file = profile_for(OutputSpace::profile_file, folder.file("wide.icc"));
    CHECK(from_file.icc_bytes() == wide.icc_bytes());
    for (const SceneRgb& c : colours(100, 4)) {
        const EncodedRgb16 a = encode(wide, c), b = encode(from_file, c);
        CHECK(std::abs(a.r - b.r) <= 1);
        CHECK(std::abs(a.g - b.g) <= 1);
        CHECK(std::abs(a.b - b.b) <= 1);
    }
}

TEST_CASE("colour outside the gamut keeps its hue, and NaN stays inside") {
    const OutputProfile profile = profile_for(OutputSpace::linear);
    const SceneRgb outside{1.4F, 0.6F, -0.1F};
    const EncodedRgb16 out = encode(profile, outside);
    CHECK(out.r <= 65535);
    CHECK((double(out.g) - out.b) / (double(out.r) - out.b) == Approx((0.6 + 0.1) / (1.4 + 0.1)).epsilon(1e-3));
    CHECK((0.2126390 * out.r + 0.7151687 * out.g + 0.0721923 * out.b) / 65535 == Approx(0.2126390 * 1.4 + 0.7151687 * 0.6 - 0.0721923 * 0.1).epsilon(1e-3));
    CHECK(encode(profile, {5, 5, 5}).g == 65535);
    CHECK(encode(profile, {-5, -5, -5}).g == 0);
    const float nan = std::numeric_limits<float>::quiet_NaN();
    (void)encode(profile, {nan, nan, nan});
    (void)encode(profile, {nan, 0.5F, std::numeric_limits<float>::infinity()});
    profile.encode(nullptr, nullptr, 0);
}

TEST_CASE("profiles that cannot be used are errors that say why") {
    TemporaryFolder folder;
    InvertOptions options;
    options.output = OutputSpace::profile_file;
    options.profile_path = folder.file("absent.icc");
    CHECK(OutputProfile::make(options).error().code == ErrorCode::not_found);
    options.profile_path = folder.file("text.icc");
    write_file(options.profile_path, "this is not a profile, although it is longer than a header would be: " + std::string(200, '.'));
    CHECK(OutputProfile::make(options).error().code == ErrorCode::malformed);
    write_file(options.profile_path, "");
    CHECK(OutputProfile::make(options).error().code == ErrorCode::malformed);
    options.profile_path = folder.file(".");
    CHECK(OutputProfile::make(options).error().code == ErrorCode::unreadable);
    cmsHPROFILE lab = cmsCreateLab4Profile(nullptr);
    CHECK(cmsSaveProfileToFile(lab, folder.file("lab.icc").c_str()));
    cmsCloseProfile(lab);
    options.profile_path = folder.file("lab.icc");
    CHECK(OutputProfile::make(options).error().code == ErrorCode::unsupported);
    // Cut short anywhere: an error or a usable profile, never a crash.
    const std::string whole = profile_for(OutputSpace::srgb).icc_bytes();
    for (std::size_t n = 0; n < whole.size(); n += 7) {
        write_file(folder.file("cut.icc"), whole.substr(0, n));
        options.profile_path = folder.file("cut.icc");
        (void)OutputProfile::make(options);
    }
}
