// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/options.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;

TEST_CASE("encodings are read and described alike") {
    CHECK(parse_encoding("linear").value() == Encoding{Encoding::Kind::linear, 1.0});
    CHECK(parse_encoding("srgb").value() == Encoding{Encoding::Kind::srgb, 1.0});
    CHECK(parse_encoding("2.2").value() == Encoding{Encoding::Kind::gamma, 2.2});
    CHECK(describe(*parse_encoding("2.2")) == "gamma 2.2");
    CHECK(describe(*parse_encoding("1.8")) == "gamma 1.8");
    CHECK(describe(*parse_encoding("srgb")) == "srgb");
    CHECK(describe(*parse_encoding("linear")) == "linear");
    ScanInfo info;
    info.encoding.kind = Encoding::Kind::icc_profile;
    info.profile_name = "a scanner";
    CHECK(describe_encoding(info) == "embedded profile (a scanner)");
}

TEST_CASE("what is no encoding is refused with a hint") {
    for (const char* text : {"", "0", "0.29", "4.1", "-2.2", "nan", "inf", "2.2x", " 2.2", "2,2", "sRGB ", "1e9"}) {
        CAPTURE(text);
        const auto parsed = parse_encoding(text);
        REQUIRE_FALSE(parsed);
        CHECK(parsed.error().code == ErrorCode::usage);
        CHECK_FALSE(parsed.error().hint.empty());
    }
}

TEST_CASE("options out of range are usage errors") {
    CHECK(validate({}));
    const auto refused = [](auto change) {
        ScanOptions options;
        change(options);
        const auto result = validate(options);
        return !result && result.error().code == ErrorCode::usage;
    };
    CHECK(refused([](ScanOptions& o) { o.dpi = 0; }));
    CHECK(refused([](ScanOptions& o) { o.dpi = std::nan(""); }));
    CHECK(refused([](ScanOptions& o) { o.dpi = 1e6; }));
    CHECK(refused([](ScanOptions& o) { o.max_pixels = 0; }));
    CHECK(refused([](ScanOptions& o) { o.memory_bytes = 1000; }));
    CHECK(refused([](ScanOptions& o) { o.encoding = Encoding{Encoding::Kind::gamma, 5}; }));
    CHECK(refused([](ScanOptions& o) { o.encoding = Encoding{Encoding::Kind::icc_profile, 1}; }));
}
