// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/nearest.h"
#include "ledger/text_checks.h"

#include <catch2/catch.hpp>

using namespace basefog::ledger_room;

TEST_CASE("edit distances are those of the textbooks") {
    // The usual worked examples of Levenshtein's distance (kitten/sitting, saturday/sunday) and of the restricted one
    // with swaps ("ca" to "abc" is 3, where the unrestricted one is 2); from memory.
    CHECK(edit_distance("kitten", "sitting") == 3);
    CHECK(edit_distance("saturday", "sunday") == 3);
    CHECK(edit_distance("ca", "abc") == 3);
    CHECK(edit_distance("ab", "ba") == 1);
    CHECK(edit_distance("", "abc") == 3);
    CHECK(edit_distance("Roll", "rOLL") == 0);
    CHECK(edit_distance("été", "ete") == 2);  // characters, not bytes
}

TEST_CASE("a near word is offered, else all of them") {
    CHECK(suggestion("flp", {"turn", "flip"}, "keys") == "did you mean \"flip\"?");
    CHECK(suggestion("xyzzy", {"turn", "flip"}, "keys") == "known keys, nearest first: \"turn\", \"flip\"");
    CHECK(suggestion("x", {}, "keys").empty());
    CHECK(suggestion("ab", {"cd"}, "keys") == "known keys, nearest first: \"cd\"");  // everything replaced is not near
}

TEST_CASE("UTF-8 is checked to the letter of the standard") {
    // RFC 3629, section 4 (first and last of each well-formed range) and section 3 (what must not be decoded).
    for (const char* good :
         {"", "a", "\x7F", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80", "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"}) {
        CHECK_FALSE(find_invalid_utf8(good));
        CHECK(utf8(code_points(good)) == good);
    }
    for (const char* bad : {"\x80", "\xC0\x80", "\xC1\xBF", "\xC2", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xED\xBF\xBF", "\xE2\x82", "\xF0\x8F\xBF\xBF",
                            "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\xFF"}) {
        CHECK(find_invalid_utf8(std::string("ab") + bad) == std::size_t{2});
    }
}

TEST_CASE("text in messages is short and prints harmlessly") {
    CHECK(in_quotes("a\x1B[31m\n") == "\"a<U+001B>[31m<U+000A>\"");
    CHECK(in_quotes(std::string(1000, 'x')) == "\"" + std::string(60, 'x') + "...\"");
    CHECK(in_quotes("\xFF") == "\"\xEF\xBF\xBD\"");
    std::string accents;
    for (int i = 0; i < 60; ++i) accents += "é";
    CHECK(in_quotes(accents) == "\"" + accents + "\"");
}
