// SPDX-License-Identifier: GPL-3.0-or-later
// Proof-sized pictures: area average in linear light, and 8-bit sRGB from any positive.
#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"
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

/// The nearest 8-bit sRGB code of a light: a code's share of the range ends halfway (in code) to the next.
std::uint8_t code_of_light(float light) {
    constexpr int kCells = 4096;  // where to begin looking
    static const std::array<float, kBytes> upper = [] {
        std::array<float, kBytes> ends{};
        for (int i = 0; i < kBytes; ++i) ends[i] = static_cast<float>(srgb_decode((i + 0.5) / 255.0));
        return ends;
    }();
    static const std::array<std::uint8_t, kCells + 1> start = [] {
        std::array<std::uint8_t, kCells + 1> codes{};
        int code = 0;
        for (int i = 0; i <= kCells; ++i) {
            while (code < kBytes - 1 && upper[code] < float(i) / kCells) ++code;
            codes[i] = static_cast<std::uint8_t>(code);
        }
        return codes;
    }();
    const float bounded = std::clamp(light, 0.0f, 1.0f);
    int code = start[static_cast<int>(bounded * kCells)];
    while (code < kBytes - 1 && upper[code] < bounded) ++code;
    return static_cast<std::uint8_t>(code);
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

/// Adds one source row, reduced along x, to `sums`.
void add_row(const EncodedRgb8* row, const std::vector<Span>& columns, float weight, std::vector<float>& sums) {
    const auto& light = light_of_code();
    float* sum = sums.data();
    for (const Span& span : columns) {
        float r = 0, g = 0, b = 0;
        const EncodedRgb8* pixel = row + span.first;
        for (const float share : span.weights) {
            r += share * light[pixel->r];
            g += share * light[pixel->g];
            b += share * light[pixel->b];
            ++pixel;
        }
        sum[0] += weight * r;
        sum[1] += weight * g;
        sum[2] += weight * b;
        sum += 3;
    }
}

/// Ordered dither: the 8 x 8 threshold matrix by recursive doubling, as offsets in (-0.5, 0.5) of a code.
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
    const std::int64_t longest = std::max(picture.width(), picture.height());
    const double scale = std::min(1.0, std::max(1, long_side) / double(longest));
    const auto side = [&](std::int64_t length) { return std::clamp<std::int64_t>(std::llround(double(length) * scale), 1, length); };
    Image<EncodedRgb8> out(side(picture.width()), side(picture.height()));
    if (out.width() == picture.width() && out.height() == picture.height()) {
        for (std::int64_t y = 0; y < out.height(); ++y) std::copy_n(picture.row(y), out.width(), out.row(y));
        return out;
    }
    const std::vector<Span> columns = spans(picture.width(), out.width()), rows = spans(picture.height(), out.height());
    std::vector<float> sums(static_cast<std::size_t>(out.width() * 3));
    for (std::int64_t y = 0; y < out.height(); ++y) {
        std::fill(sums.begin(), sums.end(), 0.0f);
        const Span& span = rows[static_cast<std::size_t>(y)];
        for (std::size_t k = 0; k < span.weights.size(); ++k) add_row(picture.row(span.first + static_cast<std::int64_t>(k)), columns, span.weights[k], sums);
        const float* sum = sums.data();
        for (std::int64_t x = 0; x < out.width(); ++x, sum += 3) out(x, y) = {code_of_light(sum[0]), code_of_light(sum[1]), code_of_light(sum[2])};
    }
    return out;
}

Result<Image<EncodedRgb8>> srgb8_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes) {
    const std::string& srgb_bytes = invert::built_in_profile(OutputSpace::srgb);
    invert::IccProfile source, target;
    invert::IccTransform transform;
    if (icc_bytes != srgb_bytes) {
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
