// SPDX-License-Identifier: GPL-3.0-or-later
// Proof-sized pictures: area average in linear light, and 8-bit sRGB from any positive.
#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"
#include "invert/gamut.h"
#include "invert/icc.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <vector>

namespace basefog {
namespace {

constexpr int kBytes = 256;

/// Linear light of each 8-bit sRGB code.
const std::array<float, kBytes>& light_of_code() {
    static const std::array<float, kBytes> table = [] {
        std::array<float, kBytes> light{};
        for (int i = 0; i < kBytes; ++i) light[i] = static_cast<float>(srgb_decode(i / 255.0));
        return light;
    }();
    return table;
}

/// The 8-bit sRGB code of a light, not rounded: between two codes in proportion to light, which is within a hundredth of a code of the curve.
float code_of_light(float light) {
    constexpr int kCells = 4096;  // where to begin looking
    static const std::array<std::uint8_t, kCells + 1> start = [] {
        std::array<std::uint8_t, kCells + 1> codes{};
        int code = 0;
        for (int i = 0; i <= kCells; ++i) {
            while (code < kBytes - 2 && light_of_code()[code + 1] <= float(i) / kCells) ++code;
            codes[i] = static_cast<std::uint8_t>(code);
        }
        return codes;
    }();
    const auto& lights = light_of_code();
    const float bounded = std::clamp(light, 0.0f, 1.0f);
    int code = start[static_cast<int>(bounded * kCells)];
    while (code < kBytes - 2 && lights[code + 1] <= bounded) ++code;
    return static_cast<float>(code) + (bounded - lights[code]) / (lights[code + 1] - lights[code]);
}

/// Ordered dither: the 8 x 8 threshold matrix by recursive doubling, as offsets of a code, at most 63/128: what is a code to within a hundredth stays it.
const std::array<std::array<float, 8>, 8>& dither() {
    static const auto matrix = [] {
        std::array<std::array<float, 8>, 8> m{};
        for (unsigned y = 0; y < 8; ++y)
            for (unsigned x = 0; x < 8; ++x) {
                unsigned rank = 0;
                for (unsigned bit = 0; bit < 3; ++bit) {
                    const unsigned xb = (x >> bit) & 1, yb = (y >> bit) & 1;
                    rank = rank * 4 + ((xb ^ yb) * 2 + yb);
                }
                m[y][x] = (static_cast<float>(rank) + 0.5f) / 64.0f - 0.5f;
            }
        return m;
    }();
    return matrix;
}

/// Which source pixels, and how much of each, make one reduced pixel.
struct Span {
    std::int64_t first = 0;
    std::vector<float> weights;  ///< sum 1
};
std::vector<Span> spans(std::int64_t from, std::int64_t to) {
    std::vector<Span> all(static_cast<std::size_t>(to));
    const double scale = double(from) / double(to);
    for (std::int64_t i = 0; i < to; ++i) {
        const double begin = double(i) * scale, end = std::min(double(i + 1) * scale, double(from));
        Span& span = all[static_cast<std::size_t>(i)];
        span.first = static_cast<std::int64_t>(begin);
        for (std::int64_t k = span.first; k < from && double(k) < end; ++k)
            span.weights.push_back(static_cast<float>((std::min(end, double(k + 1)) - std::max(begin, double(k))) / scale));
    }
    return all;
}

/// Adds one source row, reduced along x, to `sums`; `light(pixel, c)` is the linear light of a channel.
template <class Pixel, class Light>
void add_row(const Pixel* row, const std::vector<Span>& columns, float weight, std::vector<float>& sums, const Light& light) {
    float* sum = sums.data();
    for (const Span& span : columns) {
        float r = 0, g = 0, b = 0;
        const Pixel* pixel = row + span.first;
        for (const float share : span.weights) {
            r += share * light(pixel->r);
            g += share * light(pixel->g);
            b += share * light(pixel->b);
            ++pixel;
        }
        sum[0] += weight * r;
        sum[1] += weight * g;
        sum[2] += weight * b;
        sum += 3;
    }
}

/// Size of a picture reduced to fit `long_side`; never enlarged.
PositiveSize reduced_size(PositiveSize size, int long_side) {
    const double scale = std::min(1.0, std::max(1, long_side) / double(std::max(size.width, size.height)));
    const auto side = [&](std::int64_t length) { return std::clamp<std::int64_t>(std::llround(double(length) * scale), 1, length); };
    return {side(size.width), side(size.height)};
}

/// Reduces a picture of which `add(y, columns, weight, sums)` adds one row of light.
template <class AddRow>
Image<EncodedRgb8> reduced(PositiveSize from, PositiveSize to, const AddRow& add) {
    Image<EncodedRgb8> out(to.width, to.height);
    const std::vector<Span> columns = spans(from.width, to.width), rows = spans(from.height, to.height);
    std::vector<float> sums(static_cast<std::size_t>(to.width * 3));
    for (std::int64_t y = 0; y < to.height; ++y) {
        std::fill(sums.begin(), sums.end(), 0.0f);
        const Span& span = rows[static_cast<std::size_t>(y)];
        for (std::size_t k = 0; k < span.weights.size(); ++k) add(span.first + static_cast<std::int64_t>(k), columns, span.weights[k], sums);
        const float* sum = sums.data();
        for (std::int64_t x = 0; x < to.width; ++x, sum += 3) {
            const float offset = dither()[static_cast<std::size_t>(y & 7)][static_cast<std::size_t>(x & 7)] + 0.5f;
            const auto byte = [&](float light) { return static_cast<std::uint8_t>(std::min(255.0f, code_of_light(light) + offset)); };
            out(x, y) = {byte(sum[0]), byte(sum[1]), byte(sum[2])};
        }
    }
    return out;
}

/// Rows of a positive as light of the sRGB primaries, fitted into sRGB where its profile is another.
class SrgbLight {
public:
    /// Error: malformed.
    static Result<SrgbLight> make(const std::string& icc_bytes, std::int64_t width) {
        SrgbLight light;
        if (icc_bytes == invert::built_in_profile(OutputSpace::srgb) || icc_bytes == invert::built_in_profile(OutputSpace::srgb, 2)) return light;
        light.source_ = invert::open_profile(icc_bytes);
        light.target_ = invert::open_profile(invert::built_in_profile(OutputSpace::linear));
        if (light.source_ != nullptr)
            light.transform_.reset(cmsCreateTransform(light.source_.get(), TYPE_RGB_FLT, light.target_.get(), TYPE_RGB_FLT, INTENT_PERCEPTUAL,
                                                      cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE | cmsFLAGS_BLACKPOINTCOMPENSATION));
        if (light.transform_ == nullptr) return fail(ErrorCode::malformed, "the picture's profile cannot be used for a proof");
        light.mixed_.resize(static_cast<std::size_t>(3 * width));
        light.row_.resize(static_cast<std::size_t>(width));
        for (std::vector<float>* channel : {&light.r_, &light.g_, &light.b_}) channel->resize(static_cast<std::size_t>(width));
        return light;
    }
    void add(const EncodedRgb16* codes, const std::vector<Span>& columns, float weight, std::vector<float>& sums) {
        if (transform_ == nullptr) return add_row(codes, columns, weight, sums, [](std::uint16_t code) { return decode()[code]; });
        const auto n = static_cast<std::int64_t>(row_.size());
        // Float on both sides: only so lcms2 keeps what lies outside sRGB.
        for (std::size_t i = 0; i < row_.size(); ++i) {
            mixed_[3 * i] = static_cast<float>(codes[i].r) / 65535.0f;
            mixed_[3 * i + 1] = static_cast<float>(codes[i].g) / 65535.0f;
            mixed_[3 * i + 2] = static_cast<float>(codes[i].b) / 65535.0f;
        }
        cmsDoTransform(transform_.get(), mixed_.data(), mixed_.data(), static_cast<cmsUInt32Number>(n));
        for (std::size_t i = 0; i < row_.size(); ++i) r_[i] = mixed_[3 * i], g_[i] = mixed_[3 * i + 1], b_[i] = mixed_[3 * i + 2];
        gamut_.fit_row(r_.data(), g_.data(), b_.data(), n);
        for (std::size_t i = 0; i < row_.size(); ++i) row_[i] = {r_[i], g_[i], b_[i]};
        add_row(row_.data(), columns, weight, sums, [](float light) { return light; });
    }

private:
    static const std::vector<float>& decode() {
        static const std::vector<float> light = [] {
            std::vector<float> all(65536);
            for (std::size_t i = 0; i < all.size(); ++i) all[i] = static_cast<float>(srgb_decode(double(i) / 65535));
            return all;
        }();
        return light;
    }
    invert::IccProfile source_, target_;
    invert::IccTransform transform_;
    invert::Gamut gamut_;
    std::vector<float> mixed_, r_, g_, b_;
    std::vector<SceneRgb> row_;
};

void dither_row(const EncodedRgb16* row, std::int64_t y, std::int64_t width, EncodedRgb8* out) {
    constexpr float kCodesPerByte = 257;  // 65535 / 255
    for (std::int64_t x = 0; x < width; ++x) {
        const float offset = dither()[static_cast<std::size_t>(y & 7)][static_cast<std::size_t>(x & 7)] + 0.5f;
        const auto code = [&](std::uint16_t value) { return static_cast<std::uint8_t>(std::min(255.0f, static_cast<float>(value) / kCodesPerByte + offset)); };
        out[x] = {code(row[x].r), code(row[x].g), code(row[x].b)};
    }
}

}  // namespace

Image<EncodedRgb8> reduce_srgb(View<const EncodedRgb8> picture, int long_side) {
    if (picture.empty()) return {};
    const PositiveSize from{picture.width(), picture.height()}, to = reduced_size(from, long_side);
    if (to == from) {
        Image<EncodedRgb8> out(to.width, to.height);
        for (std::int64_t y = 0; y < to.height; ++y) std::copy_n(picture.row(y), to.width, out.row(y));
        return out;
    }
    return reduced(from, to, [&](std::int64_t y, const std::vector<Span>& columns, float weight, std::vector<float>& sums) {
        add_row(picture.row(y), columns, weight, sums, [](std::uint8_t code) { return light_of_code()[code]; });
    });
}

Result<Image<EncodedRgb8>> proof_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes, int long_side) {
    if (picture.empty()) return Image<EncodedRgb8>{};
    auto light = SrgbLight::make(icc_bytes, picture.width());
    if (!light) return Failure(std::move(light.error()));
    const PositiveSize from{picture.width(), picture.height()};
    return reduced(from, reduced_size(from, long_side), [&](std::int64_t y, const std::vector<Span>& columns, float weight, std::vector<float>& sums) {
        light->add(picture.row(y), columns, weight, sums);
    });
}

Result<Image<EncodedRgb8>> srgb8_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes) {
    const std::string& srgb_bytes = invert::built_in_profile(OutputSpace::srgb);
    invert::IccProfile source, target;
    invert::IccTransform transform;
    if (icc_bytes != srgb_bytes && icc_bytes != invert::built_in_profile(OutputSpace::srgb, 2)) {
        source = invert::open_profile(icc_bytes);
        target = invert::open_profile(srgb_bytes);
        if (source != nullptr)
            transform.reset(cmsCreateTransform(source.get(), TYPE_RGB_16, target.get(), TYPE_RGB_16, INTENT_PERCEPTUAL,
                                               cmsFLAGS_NOCACHE | cmsFLAGS_BLACKPOINTCOMPENSATION));
        if (transform == nullptr) return fail(ErrorCode::malformed, "the picture's profile cannot be used for a proof");
    }
    Image<EncodedRgb8> out(std::max<std::int64_t>(0, picture.width()), std::max<std::int64_t>(0, picture.height()));
    std::vector<EncodedRgb16> row(static_cast<std::size_t>(out.width()));
    for (std::int64_t y = 0; y < out.height() && out.width() > 0; ++y) {
        const EncodedRgb16* codes = picture.row(y);
        if (transform != nullptr) {
            cmsDoTransform(transform.get(), codes, row.data(), static_cast<cmsUInt32Number>(out.width()));
            codes = row.data();
        }
        dither_row(codes, y, out.width(), out.row(y));
    }
    return out;
}

}  // namespace basefog
