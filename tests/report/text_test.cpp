// SPDX-License-Identifier: GPL-3.0-or-later
#include "../../src/report/text.h"

#include <catch2/catch.hpp>

#include <cmath>

using namespace basefog::report;

TEST_CASE("base64 gives the vectors of RFC 4648 section 10") {
    CHECK(base64("") == "");
    CHECK(base64("f") == "Zg==");
    CHECK(base64("fo") == "Zm8=");
    CHECK(base64("foo") == "Zm9v");
    CHECK(base64("foob") == "Zm9vYg==");
    CHECK(base64("fooba") == "Zm9vYmE=");
    CHECK(base64("foobar") == "Zm9vYmFy");
    CHECK(base64(std::string("\xff\xff\xff\0", 4)) == "////AA==");
}

TEST_CASE("text passes the valid examples of RFC 3629 section 7 unchanged") {
    for (const char* text :
         {"\x41\xe2\x89\xa2\xce\x91\x2e", "\xed\x95\x9c\xea\xb5\xad\xec\x96\xb4", "\xe6\x97\xa5\xe6\x9c\xac\xe8\xaa\x9e", "\xf0\xa3\x8e\xb4"})
        CHECK(clean(text) == text);
}

TEST_CASE("overlong forms, surrogates and stray bytes are replaced, byte by byte") {
    const std::string r = "\xef\xbf\xbd";
    CHECK(clean("\xc0\x80") == r + r);  // RFC 3629 section 10: the overlong NUL, and the overlong dot below
    CHECK(clean("\x2f\xc0\xae\x2e\x2f") == "/" + r + r + "./");
    CHECK(clean("\xed\xa0\x80") == r + r + r);
    CHECK(clean("\xf4\x90\x80\x80") == r + r + r + r);
    CHECK(clean("a\xe2\x82") == "a" + r + r);
    CHECK(clean("\xff") == r);
}

TEST_CASE("control characters and direction marks do not reach the page, line breaks become spaces") {
    const std::string r = "\xef\xbf\xbd";
    CHECK(clean(std::string("a\0b", 3)) == "a" + r + "b");
    CHECK(clean("a\r\nb\tc") == "a  b c");
    CHECK(clean("\xe2\x80\xaegpj.exe") == r + "gpj.exe");  // U+202E
    CHECK(clean("\xe2\x81\xa6x\xe2\x81\xa9") == r + "x" + r);
    CHECK(clean("\xc2\x85") == r);
    CHECK(escape("<a href=\"x\" b='&'>") == "&lt;a href=&quot;x&quot; b=&#39;&amp;&#39;&gt;");
}

TEST_CASE("links stay relative whatever the path") {
    CHECK(link_to("positives/R1-07.tif") == "positives/R1-07.tif");
    CHECK(link_to("javascript:alert(1)") == "javascript%3Aalert%281%29");
    CHECK(link_to("//elsewhere/x") == ".//elsewhere/x");
    CHECK(link_to("a b\"<\xc3\xa4") == "a%20b%22%3C%C3%A4");
}

TEST_CASE("numbers read well") {
    CHECK(fixed(0.2138, 3) == "0.214");
    CHECK(fixed(-0.0001, 2) == "0.00");
    CHECK(fixed(-1.25, 1) ==
          "\xe2\x88\x92"
          "1.2");  // halves go to even in the decimal expansion of a binary number: -1.25 is exact
    CHECK(with_sign(0.42, 2) == "+0.42");
    CHECK(with_sign(0, 1) == "0.0");
    CHECK(with_sign(-2, 0) ==
          "\xe2\x88\x92"
          "2");
    CHECK(fixed(std::nan(""), 2) == "\xe2\x80\x93");
    CHECK(with_uncertainty("+0.42", 0.08, 2) == "+0.42 \xc2\xb1 0.08");
    CHECK(with_uncertainty("+0.42", 0.001, 2) == "+0.42 \xc2\xb1 0.01");  // never "± 0.00"
    CHECK(with_uncertainty("+0.42", 0, 2) == "+0.42");
    CHECK(percent(0) == "0");
    CHECK(percent(0.01) == "under 0.1");
    CHECK(percent(3.84) == "3.8");
    CHECK(percent(27.1) == "27");
    CHECK(percent_with_uncertainty(21.5, 0.4) == "22 \xc2\xb1 1");
    CHECK(short_number(400) == "400");
    CHECK(short_number(3.25) == "3.25");
    CHECK(svg_number(12.50) == "12.5");
    CHECK(svg_number(-0.001) == "0");
    CHECK(svg_number(100, 0) == "100");
    CHECK(counted(1, "roll", "rolls") == "1 roll");
    CHECK(shortened("abcdef", 4) == "abc\xe2\x80\xa6");
    CHECK(shortened("\xc3\xa4\xc3\xa4", 2) == "\xc3\xa4\xc3\xa4");
}
