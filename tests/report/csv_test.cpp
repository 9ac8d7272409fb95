// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>

#include <cstdlib>

using namespace basefog;

namespace {

using Table = std::vector<std::vector<std::string>>;

/// A reader of its own, after the grammar of RFC 4180 section 2; any break of it throws.
Table parse_csv(const std::string& text) {
    Table table;
    std::vector<std::string> row;
    std::size_t i = 0;
    while (i < text.size()) {
        std::string cell;
        if (text[i] == '"') {
            for (++i;; ++i) {
                if (i >= text.size()) throw std::runtime_error("quote not closed");
                if (text[i] != '"')
                    cell += text[i];
                else if (i + 1 < text.size() && text[i + 1] == '"')
                    cell += text[++i];
                else
                    break;
            }
            ++i;
        } else {
            for (; i < text.size() && text[i] != ',' && text[i] != '\r'; ++i) {
                if (text[i] == '"' || text[i] == '\n') throw std::runtime_error("bare quote or line feed");
                cell += text[i];
            }
        }
        row.push_back(cell);
        if (i < text.size() && text[i] == ',') {
            ++i;
            continue;
        }
        if (text.compare(i, 2, "\r\n") != 0) throw std::runtime_error("record does not end with CRLF");
        i += 2;
        table.push_back(std::move(row));
        row.clear();
    }
    return table;
}

std::string at(const Table& table, std::size_t row, const std::string& column) {
    const auto found = std::find(table[0].begin(), table[0].end(), column);
    REQUIRE(found != table[0].end());
    return table[row][static_cast<std::size_t>(found - table[0].begin())];
}

}  // namespace

TEST_CASE("the test's own CSV reader reads the examples of RFC 4180 section 2") {
    CHECK(parse_csv("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n") == Table{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(parse_csv("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n") == Table{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(parse_csv("\"aaa\",\"b\"\"bb\",\"ccc\"\r\n") == Table{{"aaa", "b\"bb", "ccc"}});
    CHECK_THROWS(parse_csv("aaa,bbb\nccc\r\n"));
}

TEST_CASE("frames.csv has one row per frame and the same cells in each") {
    const RunRecord record = sample::rich();
    const Table table = parse_csv(frames_csv(record));
    REQUIRE(table.size() == 1 + 35);  // four strips of 6, 6, 6, 5 and two of 6
    for (const auto& row : table) CHECK(row.size() == table[0].size());
    CHECK(at(table, 1, "roll") == "R1");
    CHECK(at(table, 1, "stock") == "tungsten 500");
    CHECK(at(table, 1, "rating_ei") == "400");
    CHECK(at(table, 1, "session_date") == "2026-03-14");
    CHECK(at(table, 1, "rolls_done_before_in_bath") == "4");
    CHECK(at(table, 1, "reel") == "1");
    CHECK(at(table, 13, "stock") == "tungsten 500, short ends of 2009");
    CHECK(at(table, 13, "kind") == "fogged");
    CHECK(at(table, 13, "exposure_offset_stops") == "");
    CHECK(at(table, 13, "strip_on_scan") == "3");
    CHECK(at(table, 14, "strip_residue_grade") == "partial");
    CHECK(at(table, 24, "roll") == "R3");
    CHECK(at(table, 24, "positive") == "positives/R3-01.tif");
}

TEST_CASE("numbers in frames.csv read back to the same bits") {
    const RunRecord record = sample::rich();
    const Table table = parse_csv(frames_csv(record));
    for (std::size_t f = 0; f < 6; ++f) {
        const StripRecord& strip = record.scans[0].strips[0];
        CHECK(std::strtod(at(table, f + 1, "exposure_offset_stops").c_str(), nullptr) == strip.frames[f].exposure.offset.value.value());
        CHECK(std::strtod(at(table, f + 1, "shadow_lost_percent").c_str(), nullptr) == strip.frames[f].exposure.shadow_lost_percent.value);
        CHECK(std::strtod(at(table, f + 1, "base_density_blue").c_str(), nullptr) == strip.base.base.b.value.value());
    }
}

TEST_CASE("no text cell starts a formula, and hostile names keep the table's shape") {
    const Table table = parse_csv(frames_csv(sample::hostile()));
    REQUIRE(table.size() == 1 + 35);
    for (const auto& row : table) {
        REQUIRE(row.size() == table[0].size());
        for (const std::string& cell : row) {
            if (cell.empty()) continue;
            char* end = nullptr;
            std::strtod(cell.c_str(), &end);
            const bool is_number = *end == '\0';
            if (!is_number) CHECK(std::string("=+-@\t\r").find(cell[0]) == std::string::npos);
            CHECK(cell.find_first_of("\r\n\x01") == std::string::npos);
        }
    }
    CHECK(at(table, 1, "roll").substr(0, 4) == "'=R\"");
}

TEST_CASE("what is unknown or not finite is an empty cell") {
    const Table none = parse_csv(frames_csv(sample::no_ledger()));
    for (const char* column : {"stock", "box_speed_ei", "rating_ei", "session", "bath", "rolls_done_before_in_bath", "positive"})
        CHECK(at(none, 1, column) == "");
    const Table odd = parse_csv(frames_csv(sample::not_finite()));
    CHECK(at(odd, 1, "exposure_offset_stops") == "");
    CHECK(at(odd, 1, "base_density_red") == "");
    CHECK(parse_csv(frames_csv(sample::empty())).size() == 1);
}
