// SPDX-License-Identifier: GPL-3.0-or-later
// What the pages on ledgers and layouts show must be read by the program, and their tables must be complete.
#include "basefog/ledger/layout_file.h"
#include "basefog/ledger/read_ledger.h"

#include "ledger/light.h"

#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>

using namespace basefog;

namespace {

std::string page(const std::string& name) {
    std::ifstream in(std::string(BASEFOG_SOURCE_DIR) + "/docs/" + name);
    std::string text{std::istreambuf_iterator<char>(in), {}};
    REQUIRE_FALSE(text.empty());
    return text;
}
std::string example_in(const std::string& text) {
    const std::string fence = "```toml\n";
    const std::size_t begin = text.find(fence);
    REQUIRE(begin != std::string::npos);
    return text.substr(begin + fence.size(), text.find("```", begin + fence.size()) - begin - fence.size());
}
/// The keys a template uses: what stands before " = " on its lines and within its braces.
std::vector<std::string> keys_in(const std::string& toml) {
    std::vector<std::string> keys;
    for (std::size_t at = toml.find(" = "); at != std::string::npos; at = toml.find(" = ", at + 1)) {
        const std::size_t begin = toml.find_last_not_of("abcdefghijklmnopqrstuvwxyz_", at - 1) + 1;
        keys.push_back(toml.substr(begin, at - begin));
    }
    return keys;
}

}  // namespace

TEST_CASE("the pages' examples are read") {
    const auto ledger = parse_ledger(example_in(page("ledger.md")), "l.toml");
    INFO((ledger ? std::string() : describe(ledger.error())));
    CHECK(ledger);
    const auto layout = parse_layouts(example_in(page("layout.md")), "l.toml");
    INFO((layout ? std::string() : describe(layout.error())));
    CHECK(layout);
}

TEST_CASE("the ledger's page names every key of the template, every light and every filter") {
    const std::string text = page("ledger.md");
    const auto keys = keys_in(ledger_template());
    CHECK(keys.size() > 40);
    for (const std::string& key : keys) {
        INFO(key);
        CHECK((text.find("`" + key + "`") != std::string::npos || text.find("`wash." + key + "`") != std::string::npos ||
               text.find(", `" + key + "`") != std::string::npos));
    }
    for (const std::string& light : ledger_room::light_names()) CHECK_THAT(text, Catch::Contains("`" + light + "`"));
    for (const std::string& filter : ledger_room::filter_names()) {
        INFO(filter);
        const double mired = ledger_room::filter_by_name(filter).value();
        const std::string cell = "| " + filter + " | " + (mired > 0 ? "+" : "") + std::to_string(static_cast<int>(mired)) + " |";
        CHECK((filter == "none" || text.find(cell) != std::string::npos));
    }
}

TEST_CASE("the layout's page names every key the program writes or understands") {
    const std::string text = page("layout.md");
    for (const char* key : {"file", "pixels_per_mm", "scale_from", "roll", "direction", "corners", "number", "kind", "grow_left_px", "grow_top_px",
                            "grow_right_px", "grow_bottom_px", "shift_px", "found"}) {
        CHECK(text.find(std::string("`").append(key).append("`")) != std::string::npos);
    }
}
