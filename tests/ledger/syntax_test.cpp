// SPDX-License-Identifier: GPL-3.0-or-later
// Text that is not TOML at all, or hostile: the place, and the remedy for the slips people make by hand.
#include "basefog/ledger/read_ledger.h"

#include "checks.h"

using namespace basefog;
using ledger_checks::must_say;

namespace {
const std::string kPath = "l.toml";
std::string repeated(const std::string& text, int count) {
    std::string out;
    for (int i = 0; i < count; ++i) out += text;
    return out;
}
}  // namespace

TEST_CASE("slips of the pen are placed and get the right remedy") {
    const std::vector<std::pair<std::string, std::vector<std::string>>> slips = {
        {"[roll.R1]\nstock = t500\n", {"line 2, column 10: not valid TOML", "text stands in quotes: \"t500\""}},
        {"[roll.R1]\nstock = portside", {"line 2, column 9", "text stands in quotes: \"portside\""}},
        {"strips = [ { roll = R1, first = 1 } ]\n", {"line 1, column 21", "text stands in quotes: \"R1\""}},
        {"volume = 3,5\n", {"line 1, column 11", "decimals take a point: 3.5"}},
        {"date = 14.03.2026\n", {"line 1, column 13", "year-month-day in full"}},
        {"date = 2026-3-1\n", {"line 1, column 14", "year-month-day in full"}},
        {"date = 2026-02-30\n", {"line 1, column 18", "expected day between 1 and 28"}},
        {"minutes = 3:15\n", {"line 1, column 12", "minutes and seconds stand in quotes: \"3:15\""}},
        {"temperature = 38 C\n", {"line 1, column 18", "the key's name holds the unit"}},
        {"note = \xE2\x80\x9Chi\xE2\x80\x9D\n", {"line 1, column 8", "use straight quotes"}},
        {"file = \"scans\\sheet.tif\"\n", {"line 1, column 15", "in a path write / for \\"}},
        {"file = \"scans\n", {"line 1, column 14", "close the text with the quotation mark it began with"}},
        {"flip = yes\n", {"line 1, column 8", "write true"}},
        {"flip = True\n", {"line 1, column 8", "write true"}},
        {"flip = no\n", {"line 1, column 9", "write false"}},
        {"wash = { a = 1,\n b = 2 }\n", {"line 1, column 16", "must be on one line"}},
        {"[roll.R1]\n[roll.R1]\n", {"line 2, column 1", "cannot redefine", "rename one, or merge the two"}},
        {"a = 1\na = 2\n", {"line 2, column 5", "cannot redefine"}},
        {"[roll.R 1]\n", {"line 1, column 9", "[roll.\"R 1\"]"}},
        {"[roll.\xC3\xA9]\n", {"line 1, column 7", "letters other than a-z"}},
        {"box speed = 3\n", {"line 1, column 5", "put any other name in quotes"}},
        {"rating\n", {"line 1, column 7", "write key = value"}},
        {"rating =\n", {"line 1, column 9", "write a value after =, or delete the line"}},
        {"a = 99999999999999999999\n", {"line 1", "write a number of ordinary size"}},
    };
    for (const auto& [text, says] : slips) {
        INFO(text);
        must_say(parse_ledger(text, kPath), kPath, says);
    }
}

TEST_CASE("text that is not UTF-8 says where, and what to do") {
    must_say(parse_ledger("[roll.R1]\nnote = \"caf\xE9\"\n", kPath), kPath, {"line 2, column 12: byte 0xE9 is not UTF-8 text; save the file as UTF-8 text"});
    must_say(parse_ledger("\xEF\xBB\xBF# \xC3\xA9\xFF", kPath), kPath, {"line 1, column 4: byte 0xFF"});
    must_say(parse_ledger(std::string("\xFF\xFE[\0r\0", 6), kPath), kPath, {"line 1, column 1: this is UTF-16 text, not UTF-8"});
    must_say(parse_ledger(std::string("a = 1\n\0", 7), kPath), kPath, {"line 2, column 1: a zero byte"});
    // Ill-formed by [RFC 3629]: an overlong slash, a surrogate, a code point past U+10FFFF.
    for (const char* bad : {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80"})
        must_say(parse_ledger(std::string("# ") + bad, kPath), kPath, {"line 1, column 3: byte"});
}

TEST_CASE("text nested beyond reason is refused before it is parsed") {
    const int far = 200'000;
    const std::vector<std::string> bombs = {
        std::string("a = ") + repeated("[", far),
        std::string("a = ") + repeated("{b = ", far),
        repeated("a.", far) + "b = 1\n",
        repeated("\"a\" . ", far) + "b = 1\n",
        std::string("[") + repeated("a.", far) + "b]\n",
        std::string("a = {") + repeated("a.", far) + "b = 1}\n",
        std::string("a = '''x''''\n") + repeated("a.", far) + "b = 1\n",
        std::string("a = \"\"\"\\\"\"\"\"\"\n") + repeated("a.", far) + "b = 1\n",
        std::string("a = \"#\"\n") + repeated("a.", far) + "b = 1\n",
    };
    for (const std::string& bomb : bombs) {
        INFO(bomb.substr(0, 40));
        must_say(parse_ledger(bomb, kPath), kPath, {"nest deeper than 16"});
    }
}

TEST_CASE("dots and brackets within text, comments and numbers are no nesting") {
    const std::string dots = repeated(".", 70), brackets = repeated("[", 70);
    CHECK(parse_ledger("# " + dots + brackets + "\n[roll.\"" + dots + "\"]\nnote = '" + brackets + dots + "'\ntank = \"\\\"" + brackets + "\"\n", kPath));
    CHECK(parse_ledger("[roll.a]\nnote = \"\"\"" + brackets + "\n\"" + dots + "\"\"\"\n", kPath));
    must_say(parse_ledger(std::string("[roll.a]\nreel = [") + repeated("1.5, ", 100) + "]\n", kPath), kPath, {"is a list, but must be a number"});
}
