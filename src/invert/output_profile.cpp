// SPDX-License-Identifier: GPL-3.0-or-later
// Built-in spaces and matrix profiles are encoded here, by a matrix and tables; profiles with tables of their own go through lcms2.
#include "basefog/invert/colour.h"
#include "basefog/invert/inverter.h"

#include "basefog/core/wide.h"
#include "invert/constants.h"
#include "invert/gamut.h"
#include "invert/icc.h"

#include <sys/stat.h>
#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <fstream>
#include <functional>
#include <iterator>
#include <optional>
#include <vector>

namespace basefog {
namespace {

using invert::IccProfile;
using invert::kEncodeNodes;
constexpr std::int64_t kBlock = 128;
constexpr float kCodes = 65535.0f;

/// Linear light 0..1 to a 16-bit code, by nodes uniform in the square root of light: fine where codes are dense, and one sqrt cheap.
class EncodeTable {
public:
    EncodeTable() = default;
    explicit EncodeTable(const std::function<double(double)>& encode) : codes_(kEncodeNodes + 2) {
        for (int i = 0; i <= kEncodeNodes + 1; ++i) {
            const double root = std::min(1.0, i / double(kEncodeNodes));
            codes_[i] = static_cast<float>(std::clamp(encode(root * root), 0.0, 1.0) * double(kCodes)) + 0.5f;
        }
    }
    /// `n` lights to codes.
    BASEFOG_WIDE void encode(const float* lights, std::uint16_t* codes, std::int64_t n) const {
        const float* const nodes = codes_.data();
        for (std::int64_t i = 0; i < n; ++i) {
            const float at = std::sqrt(lights[i]) * static_cast<float>(kEncodeNodes);
            const int node = static_cast<int>(at);
            const float part = at - static_cast<float>(node);
            codes[i] = static_cast<std::uint16_t>(static_cast<int>(nodes[node] + part * (nodes[node + 1] - nodes[node])));
        }
    }

private:
    std::vector<float> codes_;
};

using Matrix = std::array<std::array<double, 3>, 3>;

std::optional<Matrix> inverse(const Matrix& m) {
    Matrix out{};
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) {
            const int a = (j + 1) % 3, b = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
            out[i][j] = m[a][c] * m[b][d] - m[a][d] * m[b][c];
        }
    const double determinant = m[0][0] * out[0][0] + m[0][1] * out[1][0] + m[0][2] * out[2][0];
    if (!(std::fabs(determinant) > 1e-9)) return std::nullopt;
    for (auto& row : out)
        for (double& value : row) value /= determinant;
    return out;
}

/// Columns: the primaries' XYZ in the profile connection space.
std::optional<Matrix> colorants(const IccProfile& profile) {
    Matrix m{};
    const std::array<cmsTagSignature, 3> tags{cmsSigRedColorantTag, cmsSigGreenColorantTag, cmsSigBlueColorantTag};
    for (int c = 0; c < 3; ++c) {
        const auto* xyz = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile.get(), tags[c]));
        if (xyz == nullptr) return std::nullopt;
        m[0][c] = xyz->X;
        m[1][c] = xyz->Y;
        m[2][c] = xyz->Z;
    }
    return m;
}

Result<std::string> read_profile_file(const std::string& path) {
    constexpr std::int64_t kLargest = 64 << 20;  // Chosen: the largest published printer profiles are a few MB
    struct stat about {};
    if (::stat(path.c_str(), &about) != 0)
        return fail(errno == ENOENT ? ErrorCode::not_found : ErrorCode::unreadable, std::strerror(errno), path, "give the path of an RGB ICC profile");
    if (!S_ISREG(about.st_mode)) return fail(ErrorCode::unreadable, "is not a file", path, "give the path of an RGB ICC profile");
    if (about.st_size > kLargest) return fail(ErrorCode::too_large, "is too large for an ICC profile", path);
    std::ifstream file(path, std::ios::binary);
    std::string bytes(std::istreambuf_iterator<char>(file), {});
    if (!file) return fail(ErrorCode::unreadable, "could not be read", path);
    return bytes;
}

}  // namespace

struct OutputProfile::Impl {
    std::string icc, name;
    // Either: linear light by a matrix, clipped, then curves ...
    bool same_primaries = true;
    float from_srgb[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    float luminance[3] = {};
    std::array<EncodeTable, 3> curves;
    invert::Gamut gamut;
    // ... or lcms2 (clipped to the sRGB gamut before).
    IccProfile source, target;
    invert::IccTransform transform;

    Impl() {
        std::transform(invert::kLuminance.begin(), invert::kLuminance.end(), luminance, [](double y) { return static_cast<float>(y); });
    }
    Result<void> use_matrix(const IccProfile& profile, const std::string& path);
    Result<void> use_tables(const std::string& path);
    void to_target(float* r, float* g, float* b, std::int64_t n) const;
    void clip(float* r, float* g, float* b, std::int64_t n) const;
    void through_lcms(const float* r, const float* g, const float* b, EncodedRgb16* out, std::int64_t n) const;
    void encode_block(float* r, float* g, float* b, EncodedRgb16* out, std::int64_t n) const;
};

Result<void> OutputProfile::Impl::use_matrix(const IccProfile& profile, const std::string& path) {
    const std::optional<Matrix> primaries = colorants(profile), back = primaries ? inverse(*primaries) : std::nullopt;
    const std::optional<Matrix> srgb = colorants(invert::open_profile(invert::built_in_profile(OutputSpace::linear)));
    if (!back || !srgb) return fail(ErrorCode::malformed, "the profile's primaries cannot be used", path);
    same_primaries = false;
    Matrix to_target{};
    for (int i = 0; i < 3; ++i) {
        luminance[i] = static_cast<float>((*primaries)[1][i]);
        for (int j = 0; j < 3; ++j) {
            double sum = 0;
            for (int k = 0; k < 3; ++k) sum += (*back)[i][k] * (*srgb)[k][j];
            from_srgb[i][j] = static_cast<float>(sum);
            to_target[i][j] = sum;
        }
    }
    gamut = invert::Gamut(to_target);
    const std::array<cmsTagSignature, 3> tags{cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    for (int c = 0; c < 3; ++c) {
        const auto* curve = static_cast<const cmsToneCurve*>(cmsReadTag(profile.get(), tags[c]));
        const invert::IccCurve reversed(curve != nullptr ? cmsReverseToneCurve(curve) : nullptr);
        if (reversed == nullptr) return fail(ErrorCode::malformed, "the profile's curves cannot be used", path);
        curves[c] = EncodeTable([&](double light) { return double(cmsEvalToneCurveFloat(reversed.get(), static_cast<float>(light))); });
    }
    return {};
}

Result<void> OutputProfile::Impl::use_tables(const std::string& path) {
    source = invert::open_profile(invert::built_in_profile(OutputSpace::linear));
    target = invert::open_profile(icc);
    // No cache: one transform serves every thread. Float: no rounding between the steps.
    transform.reset(
        cmsCreateTransform(source.get(), TYPE_RGB_FLT, target.get(), TYPE_RGB_FLT, INTENT_PERCEPTUAL, cmsFLAGS_NOCACHE | cmsFLAGS_BLACKPOINTCOMPENSATION));
    if (transform == nullptr) return fail(ErrorCode::unsupported, "colours cannot be converted into this profile", path, "it may lack the tables for output");
    return {};
}

Result<OutputProfile> OutputProfile::make(const InvertOptions& options) {
    auto impl = std::make_unique<Impl>();
    if (options.output != OutputSpace::profile_file) {
        impl->icc = invert::built_in_profile(options.output, options.icc_version);
        impl->name = invert::built_in_name(options.output);
        if (options.output == OutputSpace::wide) {
            if (const auto used = impl->use_matrix(invert::open_profile(impl->icc), {}); !used) return Failure(used.error());
            impl->curves.fill(EncodeTable([](double light) { return std::pow(light, 1 / invert::kWideGamma); }));
        } else if (options.output == OutputSpace::linear) {
            impl->curves.fill(EncodeTable([](double light) { return light; }));
        } else {
            impl->curves.fill(EncodeTable(srgb_encode));
        }
        return OutputProfile(std::move(impl));
    }
    auto bytes = read_profile_file(options.profile_path);
    if (!bytes) return Failure(bytes.error());
    const IccProfile profile = invert::open_profile(*bytes);
    if (profile == nullptr) return fail(ErrorCode::malformed, "is not an ICC profile", options.profile_path, "give the path of an RGB ICC profile");
    const auto kind = cmsGetDeviceClass(profile.get());
    if (cmsGetColorSpace(profile.get()) != cmsSigRgbData || (kind != cmsSigDisplayClass && kind != cmsSigOutputClass && kind != cmsSigColorSpaceClass))
        return fail(ErrorCode::unsupported, "is not an RGB profile of a display, a printer or a colour space", options.profile_path);
    impl->icc = std::move(*bytes);
    impl->name = invert::profile_name(profile);
    const bool tables = cmsIsTag(profile.get(), cmsSigBToA0Tag) || cmsIsTag(profile.get(), cmsSigBToD0Tag) || !cmsIsMatrixShaper(profile.get());
    const Result<void> used = tables ? impl->use_tables(options.profile_path) : impl->use_matrix(profile, options.profile_path);
    if (!used) return Failure(used.error());
    return OutputProfile(std::move(impl));
}

OutputProfile::OutputProfile(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
OutputProfile::OutputProfile(OutputProfile&&) noexcept = default;
OutputProfile& OutputProfile::operator=(OutputProfile&&) noexcept = default;
OutputProfile::~OutputProfile() = default;
const std::string& OutputProfile::icc_bytes() const { return impl_->icc; }
const std::string& OutputProfile::name() const { return impl_->name; }

BASEFOG_WIDE void OutputProfile::Impl::to_target(float* r, float* g, float* b, std::int64_t n) const {
    for (std::int64_t i = 0; i < n; ++i) {
        const float x = r[i], y = g[i], z = b[i];
        r[i] = from_srgb[0][0] * x + from_srgb[0][1] * y + from_srgb[0][2] * z;
        g[i] = from_srgb[1][0] * x + from_srgb[1][1] * y + from_srgb[1][2] * z;
        b[i] = from_srgb[2][0] * x + from_srgb[2][1] * y + from_srgb[2][2] * z;
    }
}

/// Colour outside 0..1 moves towards the grey of its own luminance until it fits: luminance and hue stay, saturation gives way.
BASEFOG_WIDE void OutputProfile::Impl::clip(float* r, float* g, float* b, std::int64_t n) const {
    const auto fits = [](float value) { return (value >= 0.0f) & (value <= 1.0f); };
    int all_fit = 1;
    for (std::int64_t i = 0; i < n; ++i) all_fit &= fits(r[i]) & fits(g[i]) & fits(b[i]);
    if (all_fit != 0) return;
    for (std::int64_t i = 0; i < n; ++i) {
        float grey = luminance[0] * r[i] + luminance[1] * g[i] + luminance[2] * b[i];
        grey = grey > 0.0f ? grey : 0.0f;
        grey = grey < 1.0f ? grey : 1.0f;
        const float low = std::min(std::min(r[i], g[i]), b[i]), high = std::max(std::max(r[i], g[i]), b[i]);
        const float down = low < 0.0f ? grey / (grey - low) : 1.0f, up = high > 1.0f ? (1.0f - grey) / (high - grey) : 1.0f;
        const float keep = std::min(down, up);
        for (float* channel : {r, g, b}) {
            const float value = grey + keep * (channel[i] - grey);
            const float inside = keep < 1.0f ? value : channel[i];  // what fits is not touched
            const float above = inside > 0.0f ? inside : 0.0f;      // and rounding, or NaN, cannot leave the range
            channel[i] = above < 1.0f ? above : 1.0f;
        }
    }
}

void OutputProfile::Impl::through_lcms(const float* r, const float* g, const float* b, EncodedRgb16* out, std::int64_t n) const {
    std::array<float, 3 * kBlock> from{}, to{};
    for (std::int64_t i = 0; i < n; ++i) {
        from[3 * i] = r[i];
        from[3 * i + 1] = g[i];
        from[3 * i + 2] = b[i];
    }
    cmsDoTransform(transform.get(), from.data(), to.data(), static_cast<cmsUInt32Number>(n));
    const auto code = [](float value) { return static_cast<std::uint16_t>((value > 0.0f ? (value < 1.0f ? value : 1.0f) : 0.0f) * kCodes + 0.5f); };
    for (std::int64_t i = 0; i < n; ++i) out[i] = {code(to[3 * i]), code(to[3 * i + 1]), code(to[3 * i + 2])};
}

void OutputProfile::Impl::encode_block(float* r, float* g, float* b, EncodedRgb16* out, std::int64_t n) const {
    if (!same_primaries) to_target(r, g, b, n);
    clip(r, g, b, n);
    if (transform != nullptr) return through_lcms(r, g, b, out, n);
    std::array<std::uint16_t, kBlock> red, green, blue;
    curves[0].encode(r, red.data(), n);
    curves[1].encode(g, green.data(), n);
    curves[2].encode(b, blue.data(), n);
    for (std::int64_t i = 0; i < n; ++i) out[i] = {red[i], green[i], blue[i]};
}

void OutputProfile::fit_row(float* r, float* g, float* b, std::int64_t n) const { impl_->gamut.fit_row(r, g, b, n); }

void OutputProfile::encode_row(float* r, float* g, float* b, EncodedRgb16* out, std::int64_t n) const {
    for (std::int64_t start = 0; start < n; start += kBlock) impl_->encode_block(r + start, g + start, b + start, out + start, std::min(kBlock, n - start));
}

void OutputProfile::encode(const SceneRgb* in, EncodedRgb16* out, std::int64_t n) const {
    std::array<float, kBlock> r, g, b;
    for (std::int64_t start = 0; start < n; start += kBlock) {
        const std::int64_t m = std::min(kBlock, n - start);
        for (std::int64_t i = 0; i < m; ++i) {
            r[i] = in[start + i].r;
            g[i] = in[start + i].g;
            b[i] = in[start + i].b;
        }
        impl_->encode_block(r.data(), g.data(), b.data(), out + start, m);
    }
}

}  // namespace basefog
