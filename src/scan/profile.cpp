// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/profile.h"

#include "scan/icc_context.h"

#include <cmath>

namespace basefog::scan {
namespace {

/// Everything of lcms2 that must live as long as a curve or table is evaluated. A context of its own: no shared state.
struct Session {
    cmsContext context = make_icc_context();
    cmsHPROFILE profile = nullptr, linear = nullptr;
    cmsHTRANSFORM transform = nullptr;
    Session() = default;
    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;
    ~Session() {
        if (transform != nullptr) cmsDeleteTransform(transform);
        if (linear != nullptr) cmsCloseProfile(linear);
        if (profile != nullptr) cmsCloseProfile(profile);
        if (context != nullptr) cmsDeleteContext(context);
    }
};

Failure refuse(const std::string& why) { return fail(ErrorCode::malformed, why); }

std::string description(cmsHPROFILE profile) {
    std::array<char, 256> text{};
    cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", text.data(), static_cast<cmsUInt32Number>(text.size()) - 1);
    std::string name;
    for (const char c : text) {
        if (c == '\0') break;
        if (c >= 32 && c < 127) name += c;
    }
    return name;
}

const cmsToneCurve* tone_curve(cmsHPROFILE profile, cmsTagSignature tag) {
    return cmsIsTag(profile, tag) != 0 ? static_cast<const cmsToneCurve*>(cmsReadTag(profile, tag)) : nullptr;
}

/// A curve that rises from 0 to 1 without turning back; what a damaged profile gives is something else.
bool usable(const cmsToneCurve* curve) {
    constexpr int kProbes = 64;
    float before = cmsEvalToneCurveFloat(curve, 0.0f);
    const float first = before;
    for (int i = 1; i <= kProbes; ++i) {
        const float here = cmsEvalToneCurveFloat(curve, static_cast<float>(i) / kProbes);
        if (!std::isfinite(here) || here < before) return false;
        before = here;
    }
    return std::isfinite(first) && before > first && before > 0.1f;  // full scale must be light
}

/// Scaled so that full scale is exactly 1, which sampled curves may miss by a rounding.
Curve evaluate(std::shared_ptr<Session> session, const cmsToneCurve* curve) {
    const double full = static_cast<double>(cmsEvalToneCurveFloat(curve, 1.0f));
    return
        [session = std::move(session), curve, full](double code) { return static_cast<double>(cmsEvalToneCurveFloat(curve, static_cast<float>(code))) / full; };
}

/// The linear light a table leads to: a space so wide that no sensor's colour is cut, with the white of the profile
/// connection space [ICC.1:2022, ROMM RGB primaries of ISO 22028-2].
cmsHPROFILE linear_light(cmsContext context, int colours) {
    cmsToneCurve* line = cmsBuildGamma(context, 1.0);
    if (line == nullptr) return nullptr;
    const cmsCIExyYTRIPLE primaries{{0.7347, 0.2653, 1.0}, {0.1596, 0.8404, 1.0}, {0.0366, 0.0001, 1.0}};
    cmsToneCurve* lines[3] = {line, line, line};
    cmsHPROFILE profile =
        colours == 1 ? cmsCreateGrayProfileTHR(context, cmsD50_xyY(), line) : cmsCreateRGBProfileTHR(context, cmsD50_xyY(), &primaries, lines);
    cmsFreeToneCurve(line);
    return profile;
}

Result<Profile> by_table(const std::shared_ptr<Session>& session, Profile profile, int colours) {
    session->linear = linear_light(session->context, colours);
    if (session->linear == nullptr) return refuse("linear light could not be set up");
    const cmsUInt32Number format = colours == 1 ? TYPE_GRAY_FLT : TYPE_RGB_FLT;
    session->transform = cmsCreateTransformTHR(session->context, session->profile, format, session->linear, format, INTENT_RELATIVE_COLORIMETRIC,
                                               cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE);
    if (session->transform == nullptr) return refuse("it has neither tone curves nor a table that can be used");
    const std::array<float, 3> ones{1, 1, 1};
    std::array<float, 3> white{};
    cmsDoTransform(session->transform, ones.data(), white.data(), 1);
    for (int c = 0; c < colours; ++c)
        if (!(white[static_cast<std::size_t>(c)] > 0.1f) || !std::isfinite(white[static_cast<std::size_t>(c)]))
            return refuse("its table gives no light at full scale");
    profile.is_table = true;
    profile.how.table = [session, white, colours](const float* codes, float* linear, std::int64_t count) {
        cmsDoTransform(session->transform, codes, linear, static_cast<cmsUInt32Number>(count));
        for (std::int64_t i = 0; i < count * colours; ++i) {
            const float value = linear[i] / white[static_cast<std::size_t>(i % colours)];
            linear[i] = std::isfinite(value) ? value : 0.0f;
        }
    };
    profile.how.infrared = curve_of({});
    return profile;
}

}  // namespace

Result<Profile> read_profile(const std::vector<unsigned char>& bytes, int colours) {
    const auto session = std::make_shared<Session>();
    if (session->context == nullptr) return refuse("there is no memory for it");
    session->profile = cmsOpenProfileFromMemTHR(session->context, bytes.data(), static_cast<cmsUInt32Number>(bytes.size()));
    if (session->profile == nullptr) return refuse("it is damaged");
    if (cmsGetColorSpace(session->profile) != (colours == 1 ? cmsSigGrayData : cmsSigRgbData))
        return refuse(colours == 1 ? "it is not for grey pictures" : "it is not for RGB pictures");

    Profile profile;
    profile.name = description(session->profile);
    using Tags = std::array<cmsTagSignature, 3>;
    const Tags tags = colours == 1 ? Tags{cmsSigGrayTRCTag, cmsSigGrayTRCTag, cmsSigGrayTRCTag} : Tags{cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    std::array<const cmsToneCurve*, 3> curves{};
    for (std::size_t c = 0; c < 3; ++c) curves[c] = tone_curve(session->profile, tags[c]);
    if (curves[0] == nullptr || curves[1] == nullptr || curves[2] == nullptr) return by_table(session, std::move(profile), colours);
    bool linear = true;
    for (std::size_t c = 0; c < 3; ++c) {
        if (!usable(curves[c])) return refuse("its tone curves do not rise from dark to light");
        linear = linear && cmsIsToneCurveLinear(curves[c]) != 0;
        profile.how.colour[c] = evaluate(session, curves[c]);
    }
    profile.how.identity = linear;
    profile.how.infrared = profile.how.colour[1];
    return profile;
}

}  // namespace basefog::scan
