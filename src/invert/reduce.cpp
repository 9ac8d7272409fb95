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

/// One source row averaged along x; `light(pixel, c)` is the linear light of a channel.
template <class Pixel, class Light>
void average_along(const Pixel* row, const std::vector<Span>& columns, float* out, const Light& light) {
    for (const Span& span : columns) {
        float r = 0, g = 0, b = 0;
        const Pixel* pixel = row + span.first;
        for (const float share : span.weights) {
            r += share * light(pixel->r);
            g += share * light(pixel->g);
            b += share * light(pixel->b);
            ++pixel;
        }
        *out++ = r;
        *out++ = g;
        *out++ = b;
    }
}

/// Size of a picture reduced to fit `long_side`; never enlarged.
PositiveSize reduced_size(PositiveSize size, int long_side) {
    const double scale = std::min(1.0, std::max(1, long_side) / double(std::max(size.width, size.height)));
    const auto side = [&](std::int64_t length) { return std::clamp<std::int64_t>(std::llround(double(length) * scale), 1, length); };
    return {side(size.width), side(size.height)};
}

/// Rows reduced along themselves come in, from the first to the last; each adds to the one or more reduced rows it is part of.
class RowFolder {
public:
    RowFolder(PositiveSize from, PositiveSize to) : rows_(spans(from.height, to.height)), out_(to.width, to.height) { open_.resize(rows_.size()); }
    void add(const float* reduced) {
        for (std::size_t y = finished_; y < rows_.size() && rows_[y].first <= next_; ++y) {
            const auto k = static_cast<std::size_t>(next_ - rows_[y].first);
            if (k >= rows_[y].weights.size()) continue;
            std::vector<float>& sums = open_[y];
            sums.resize(static_cast<std::size_t>(out_.width() * 3), 0.0f);
            const float weight = rows_[y].weights[k];
            for (std::size_t i = 0; i < sums.size(); ++i) sums[i] += weight * reduced[i];
            if (k + 1 == rows_[y].weights.size()) finish_row(y);
        }
        ++next_;
    }
    Image<EncodedRgb8> finish() { return std::move(out_); }

private:
    void finish_row(std::size_t y) {
        const float* sum = open_[y].data();
        for (std::int64_t x = 0; x < out_.width(); ++x, sum += 3) {
            const float offset = dither()[y & 7][static_cast<std::size_t>(x & 7)] + 0.5f;
            const auto byte = [&](float light) { return static_cast<std::uint8_t>(std::min(255.0f, code_of_light(light) + offset)); };
            out_(x, static_cast<std::int64_t>(y)) = {byte(sum[0]), byte(sum[1]), byte(sum[2])};
        }
        open_[y] = {};
        finished_ = y + 1;
    }

    std::vector<Span> rows_;
    std::vector<std::vector<float>> open_;  ///< sums of rows begun and not finished
    std::size_t finished_ = 0;              ///< so many reduced rows
    std::int64_t next_ = 0;
    Image<EncodedRgb8> out_;
};

/// Rows of a positive as light of the sRGB primaries, fitted into sRGB where its profile is another. Const; any number of threads.
class SrgbLight {
public:
    /// Error: malformed.
    static Result<SrgbLight> make(const std::string& icc_bytes) {
        SrgbLight light;
        if (icc_bytes == invert::built_in_profile(OutputSpace::srgb) || icc_bytes == invert::built_in_profile(OutputSpace::srgb, 2)) return light;
        light.source_ = invert::open_profile(icc_bytes);
        light.target_ = invert::open_profile(invert::built_in_profile(OutputSpace::linear));
        if (light.source_ != nullptr)
            light.transform_.reset(cmsCreateTransform(light.source_.get(), TYPE_RGB_FLT, light.target_.get(), TYPE_RGB_FLT, INTENT_PERCEPTUAL,
                                                      cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE | cmsFLAGS_BLACKPOINTCOMPENSATION));
        if (light.transform_ == nullptr) return fail(ErrorCode::malformed, "the picture's profile cannot be used for a proof");
        return light;
    }
    void average(const EncodedRgb16* codes, std::int64_t width, const std::vector<Span>& columns, float* out) const {
        if (transform_ == nullptr) {
            const float* const table = decode().data();
            return average_along(codes, columns, out, [table](std::uint16_t code) { return table[code]; });
        }
        const auto n = static_cast<std::size_t>(width);
        std::vector<float> mixed(3 * n), r(n), g(n), b(n);
        // Float on both sides: only so lcms2 keeps what lies outside sRGB.
        for (std::size_t i = 0; i < n; ++i) {
            mixed[3 * i] = static_cast<float>(codes[i].r) / 65535.0f;
            mixed[3 * i + 1] = static_cast<float>(codes[i].g) / 65535.0f;
            mixed[3 * i + 2] = static_cast<float>(codes[i].b) / 65535.0f;
        }
        cmsDoTransform(transform_.get(), mixed.data(), mixed.data(), static_cast<cmsUInt32Number>(n));
        for (std::size_t i = 0; i < n; ++i) r[i] = mixed[3 * i], g[i] = mixed[3 * i + 1], b[i] = mixed[3 * i + 2];
        gamut_.fit_row(r.data(), g.data(), b.data(), width);
        std::vector<SceneRgb> row(n);
        for (std::size_t i = 0; i < n; ++i) row[i] = {r[i], g[i], b[i]};
        average_along(row.data(), columns, out, [](float light) { return light; });
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
    RowFolder folder(from, to);
    const std::vector<Span> columns = spans(from.width, to.width);
    std::vector<float> row(static_cast<std::size_t>(3 * to.width));
    for (std::int64_t y = 0; y < from.height; ++y) {
        average_along(picture.row(y), columns, row.data(), [](std::uint8_t code) { return light_of_code()[code]; });
        folder.add(row.data());
    }
    return folder.finish();
}

struct ProofMaker::Impl {
    PositiveSize from, to;
    SrgbLight light;
    std::vector<Span> columns;
    RowFolder folder;
};

ProofMaker::ProofMaker(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
ProofMaker::ProofMaker(ProofMaker&&) noexcept = default;
ProofMaker& ProofMaker::operator=(ProofMaker&&) noexcept = default;
ProofMaker::~ProofMaker() = default;

Result<ProofMaker> ProofMaker::make(PositiveSize size, const std::string& icc_bytes, int long_side) {
    auto light = SrgbLight::make(icc_bytes);
    if (!light) return Failure(std::move(light.error()));
    const PositiveSize to = reduced_size(size, long_side);
    return ProofMaker(std::make_unique<Impl>(Impl{size, to, std::move(*light), spans(size.width, to.width), RowFolder(size, to)}));
}

std::int64_t ProofMaker::row_numbers() const { return 3 * impl_->to.width; }

void ProofMaker::reduce_row(const EncodedRgb16* row, float* reduced) const { impl_->light.average(row, impl_->from.width, impl_->columns, reduced); }

void ProofMaker::add_row(const float* reduced) { impl_->folder.add(reduced); }

Image<EncodedRgb8> ProofMaker::finish() { return impl_->folder.finish(); }

Result<Image<EncodedRgb8>> proof_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes, int long_side) {
    if (picture.empty()) return Image<EncodedRgb8>{};
    auto maker = ProofMaker::make({picture.width(), picture.height()}, icc_bytes, long_side);
    if (!maker) return Failure(std::move(maker.error()));
    std::vector<float> row(static_cast<std::size_t>(maker->row_numbers()));
    for (std::int64_t y = 0; y < picture.height(); ++y) {
        maker->reduce_row(picture.row(y), row.data());
        maker->add_row(row.data());
    }
    return maker->finish();
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
