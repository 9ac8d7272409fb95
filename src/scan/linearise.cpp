// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/linearise.h"

#include <algorithm>
#include <cmath>
#include <cstring>

namespace basefog::scan {
namespace {

/// The decoding of sRGB [IEC 61966-2-1:1999], with its rounded constants as published.
double linear_from_srgb(double code) { return code <= 0.04045 ? code / 12.92 : std::pow((code + 0.055) / 1.055, 2.4); }

float finite(float code) {
    if (std::isfinite(code)) return code;
    return code > 0 ? 1.0f : 0.0f;  // not a number compares false
}

template <class Sample>
float code_of(Sample sample, bool white_is_zero) {
    float code;
    if constexpr (std::is_same_v<Sample, float>)
        code = finite(sample);
    else
        code = static_cast<float>(sample) / static_cast<float>(std::numeric_limits<Sample>::max());
    return white_is_zero ? 1.0f - code : code;
}

}  // namespace

Curve curve_of(const Encoding& encoding) {
    switch (encoding.kind) {
        case Encoding::Kind::srgb:
            return linear_from_srgb;
        case Encoding::Kind::gamma:
            return [gamma = encoding.gamma](double code) { return code <= 0 ? 0.0 : std::pow(code, gamma); };
        default:
            return [](double code) { return code; };
    }
}

Lineariser::Lineariser(Linearisation how, const SampleLayout& layout, int colours, bool keep_infrared)
    : how_(std::move(how)), layout_(layout), colours_(colours), infrared_(keep_infrared && layout.samples > colours) {
    BASEFOG_ASSERT((colours == 1 || colours == 3) && layout.samples >= colours);
    if (layout.type == SampleType::f32) return;
    const int last = layout.type == SampleType::u8 ? 255 : 65535;
    const auto tabulate = [&](const Curve& curve) {
        auto table = std::make_shared<std::vector<float>>(static_cast<std::size_t>(last) + 1);
        for (int code = 0; code <= last; ++code) {
            const double value = static_cast<double>(how_.white_is_zero ? last - code : code) / last;
            (*table)[static_cast<std::size_t>(code)] = static_cast<float>(curve(value));
        }
        return table;
    };
    if (how_.identity) {
        tables_.fill(tabulate([](double code) { return code; }));
        return;
    }
    for (int channel = 0; channel < 3; ++channel)
        if (how_.colour[static_cast<std::size_t>(channel)])
            tables_[static_cast<std::size_t>(channel)] = tabulate(how_.colour[static_cast<std::size_t>(channel)]);
    tables_[3] = tabulate(how_.infrared);
}

float Lineariser::linear(int channel, float code) const {
    const float value = code_of(code, how_.white_is_zero);
    if (how_.identity) return value;
    return static_cast<float>(channel == 3 ? how_.infrared(value) : how_.colour[static_cast<std::size_t>(channel)](value));
}

void Lineariser::convert(const std::byte* samples, std::int64_t count, LinearRgbi* out, std::int64_t step) const {
    const auto run = [&](auto sample) {
        const auto* typed = reinterpret_cast<const decltype(sample)*>(samples);
        if (how_.table)
            convert_by_table(typed, count, out, step);
        else
            convert_by_curves(typed, count, out, step);
    };
    switch (layout_.type) {
        case SampleType::u8:
            run(std::uint8_t{});
            break;
        case SampleType::u16:
            run(std::uint16_t{});
            break;
        case SampleType::f32:
            run(float{});
            break;
    }
}

template <class Sample>
void Lineariser::convert_by_curves(const Sample* in, std::int64_t count, LinearRgbi* out, std::int64_t step) const {
    // Looked up through pointers of their own: the compiler cannot know that writing pixels leaves the tables alone.
    std::array<const float*, 4> table{};
    for (std::size_t c = 0; c < 4; ++c) table[c] = tables_[c] ? tables_[c]->data() : nullptr;
    const auto light = [&](std::size_t channel, Sample code) {
        if constexpr (std::is_same_v<Sample, float>)
            return linear(static_cast<int>(channel), code);
        else
            return table[channel][code];
    };
    const int samples = layout_.samples;
    const bool infrared = infrared_;
    if (colours_ == 3) {
        for (std::int64_t i = 0; i < count; ++i, in += samples, out += step)
            *out = {light(0, in[0]), light(1, in[1]), light(2, in[2]), infrared ? light(3, in[3]) : 0.0f};
    } else {
        for (std::int64_t i = 0; i < count; ++i, in += samples, out += step) {
            const float grey = light(0, in[0]);
            *out = {grey, grey, grey, infrared ? light(3, in[1]) : 0.0f};
        }
    }
}

template <class Sample>
void Lineariser::convert_by_table(const Sample* in, std::int64_t count, LinearRgbi* out, std::int64_t step) const {
    constexpr std::int64_t kRun = 256;  // pixels at a time: two small buffers on the stack
    std::array<float, 3 * kRun> codes, light;
    const int samples = layout_.samples;
    while (count > 0) {
        const std::int64_t n = std::min(count, kRun);
        for (std::int64_t i = 0; i < n; ++i)
            for (int c = 0; c < colours_; ++c) codes[static_cast<std::size_t>(i * colours_ + c)] = code_of(in[i * samples + c], how_.white_is_zero);
        how_.table(codes.data(), light.data(), n);
        for (std::int64_t i = 0; i < n; ++i, out += step) {
            const float* p = light.data() + i * colours_;
            *out = {p[0], p[colours_ == 3 ? 1 : 0], p[colours_ == 3 ? 2 : 0], infrared_ ? linear(3, in[i * samples + colours_]) : 0.0f};
        }
        in += n * samples;
        count -= n;
    }
}

}  // namespace basefog::scan
