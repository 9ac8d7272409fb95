// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/icc.h"

#include "basefog/core/assert.h"
#include "basefog/core/limited_memory.h"
#include "invert/constants.h"

#include <lcms2_plugin.h>

#include <array>

namespace basefog::invert {
namespace {

// Defined: chromaticities of the white D65 and of the primaries [IEC61966-2-1], [BT2020].
constexpr cmsCIExyY kD65{0.3127, 0.3290, 1};
constexpr cmsCIExyYTRIPLE kSrgbPrimaries{{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}};
constexpr cmsCIExyYTRIPLE kWidePrimaries{{0.708, 0.292, 1}, {0.170, 0.797, 1}, {0.131, 0.046, 1}};
constexpr const char* kRights = "No copyright: may be used, copied and changed freely.";

IccCurve make_curve(OutputSpace space) {
    if (space == OutputSpace::srgb) {
        // ICC parametric type 4, y = (a x + b)^g above d, else c x [ICC1] 10.16, with the decoding constants of [IEC61966-2-1].
        const std::array<double, 5> parameters{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
        return IccCurve(cmsBuildParametricToneCurve(nullptr, 4, parameters.data()));
    }
    return IccCurve(cmsBuildGamma(nullptr, space == OutputSpace::wide ? kWideGamma : 1.0));
}

void write_text(void* profile, cmsTagSignature tag, const char* text) {
    cmsMLU* words = cmsMLUalloc(nullptr, 1);
    BASEFOG_ASSERT(words != nullptr && cmsMLUsetASCII(words, "en", "US", text) && cmsWriteTag(profile, tag, words));
    cmsMLUfree(words);
}

std::string bytes_of(void* profile) {
    cmsUInt32Number size = 0;
    BASEFOG_ASSERT(cmsSaveProfileToMem(profile, nullptr, &size));
    std::string bytes(size, '\0');
    BASEFOG_ASSERT(cmsSaveProfileToMem(profile, bytes.data(), &size));
    return bytes;
}

/// lcms2 stamps the time of making; a fixed date keeps files the same from run to run.
std::string with_fixed_date(std::string bytes, int version) {
    constexpr std::size_t kDateOffset = 24;  // [ICC1] 7.2: year, month, day, hour, minute, second, 16 bits each, big-endian
    constexpr std::array<unsigned char, 12> kDate{0x07, 0xE9, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};  // 1 January 2025
    for (std::size_t i = 0; i < kDate.size(); ++i) bytes[kDateOffset + i] = static_cast<char>(kDate[i]);
    if (version < 4) return bytes;  // the bytes of the identity are reserved there, and zero
    const IccProfile dated = open_profile(bytes);
    BASEFOG_ASSERT(dated != nullptr && cmsMD5computeID(dated.get()));
    return bytes_of(dated.get());
}

/// For profiles from files: what asks for more memory than a sound one cannot be read.
cmsContext make_context() {
    cmsPluginMemHandler limited{};
    limited.base = {cmsPluginMagicNumber, 2000, cmsPluginMemHandlerSig, nullptr};
    limit_icc_memory(limited);
    return cmsCreateContext(&limited, nullptr);
}

std::string make_profile(OutputSpace space, int version) {
    const IccCurve curve = make_curve(space);
    cmsToneCurve* curves[3] = {curve.get(), curve.get(), curve.get()};
    const IccProfile profile(cmsCreateRGBProfile(&kD65, space == OutputSpace::wide ? &kWidePrimaries : &kSrgbPrimaries, curves));
    BASEFOG_ASSERT(profile != nullptr);
    // Version 2.4 has no parametric curves: lcms2 then writes sRGB's as a table, and texts in that version's form.
    if (version < 4) cmsSetProfileVersion(profile.get(), 2.4);
    write_text(profile.get(), cmsSigProfileDescriptionTag, built_in_name(space));
    write_text(profile.get(), cmsSigCopyrightTag, kRights);
    cmsSetHeaderRenderingIntent(profile.get(), INTENT_PERCEPTUAL);
    return with_fixed_date(bytes_of(profile.get()), version);
}

}  // namespace

const char* built_in_name(OutputSpace space) {
    switch (space) {
        case OutputSpace::wide:
            return "Wide RGB, BT.2020 primaries, D65, gamma 2.2";
        case OutputSpace::linear:
            return "Linear RGB, sRGB primaries, D65";
        default:
            return "sRGB IEC 61966-2-1";
    }
}

const std::string& built_in_profile(OutputSpace space, int version) {
    struct Versions {
        std::string four, two;
        explicit Versions(OutputSpace of) : four(make_profile(of, 4)), two(make_profile(of, 2)) {}
    };
    static const Versions srgb(OutputSpace::srgb), wide(OutputSpace::wide), linear(OutputSpace::linear);
    const Versions& versions = space == OutputSpace::wide ? wide : space == OutputSpace::linear ? linear : srgb;
    return version < 4 ? versions.two : versions.four;
}

IccProfile open_profile(std::string_view bytes) {
    constexpr std::size_t kHeader = 128;
    if (bytes.size() < kHeader || bytes.size() > UINT32_MAX) return nullptr;
    static const cmsContext context = make_context();  // for as long as the process lives: what is made of profiles may be kept
    return IccProfile(cmsOpenProfileFromMemTHR(context, bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
}

std::string profile_name(const IccProfile& profile) {
    std::array<char, 256> text{};
    cmsGetProfileInfoASCII(profile.get(), cmsInfoDescription, "en", "US", text.data(), text.size());
    return text.data();
}

}  // namespace basefog::invert
