// SPDX-License-Identifier: GPL-3.0-or-later
#include "fuzz/memory_file.h"
#include "fuzz/targets.h"

#include "basefog/core/assert.h"
#include "basefog/scan/reader.h"
#include "scan/profile.h"

#include <cmath>

namespace basefog::fuzz {
namespace {

bool starts_with_any(std::string_view bytes, std::initializer_list<std::string_view> magics) {
    for (const std::string_view magic : magics)
        if (bytes.substr(0, magic.size()) == magic) return true;
    return false;
}
bool is_picture(std::string_view bytes) { return starts_with_any(bytes, {"\x89PNG", "\xff\xd8\xff"}); }

void must_be_told(const Error& error) { BASEFOG_ASSERT(!error.what.empty() && error.what.size() < 2000); }

/// Opened, read whole into an overview, and once more in part, as a run does.
void read_scan(std::string_view bytes) {
    const MemoryFile file(bytes);
    ScanOptions options;
    options.max_pixels = 1 << 18;
    options.memory_bytes = 1 << 20;
    auto reader = open_scan(file.path(), options);
    if (!reader) return must_be_told(reader.error());
    const ScanInfo info = (*reader)->info();
    BASEFOG_ASSERT(info.width > 0 && info.height > 0 && info.width <= options.max_pixels / info.height);
    const auto overview = read_overview(**reader, {});
    if (!overview) return must_be_told(overview.error());
    for (std::int64_t y = 0; y < overview->pixels.height(); ++y)
        for (std::int64_t x = 0; x < overview->pixels.width(); ++x) {
            const LinearRgbi& p = overview->pixels(x, y);
            BASEFOG_ASSERT(std::isfinite(p.r) && std::isfinite(p.g) && std::isfinite(p.b) && std::isfinite(p.ir));
        }
    const PxRect middle{info.width / 3, info.height / 3, info.width / 3 + 1 + info.width / 4, info.height / 3 + 1 + info.height / 4};
    const PxRect part = intersection(middle, {0, 0, info.width, info.height});
    Image<LinearRgbi> pixels(part.width(), part.height());
    if (const auto again = (*reader)->read_region(part, pixels.view()); !again) must_be_told(again.error());
}

}  // namespace

void feed_tiff(std::string_view bytes) {
    if (starts_with_any(bytes, {"II", "MM"})) read_scan(bytes);
}

void feed_raw(std::string_view bytes) {
    if (!is_picture(bytes)) read_scan(bytes);
}

void feed_picture(std::string_view bytes) {
    if (is_picture(bytes)) read_scan(bytes);
}

void feed_profile(std::string_view bytes) {
    const std::vector<unsigned char> profile(bytes.begin(), bytes.end());
    for (const int colours : {1, 3}) {
        const auto read = scan::read_profile(profile, colours);
        if (!read) {
            must_be_told(read.error());
            continue;
        }
        const std::array<float, 6> codes{0, 0.5F, 1, 0.25F, 0.75F, 1};
        std::array<float, 6> linear{};
        if (read->is_table) {
            read->how.table(codes.data(), linear.data(), 6 / colours);
            for (const float value : linear) BASEFOG_ASSERT(std::isfinite(value));
            continue;
        }
        for (int c = 0; c < colours; ++c)
            for (const double code : {0.0, 0.5, 1.0})
                if (read->how.colour[static_cast<std::size_t>(c)]) BASEFOG_ASSERT(std::isfinite(read->how.colour[static_cast<std::size_t>(c)](code)));
    }
}

}  // namespace basefog::fuzz
