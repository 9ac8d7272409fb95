// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the keys of one TOML table, checks them, and notes every problem with its place.
#pragma once

#include "basefog/ledger/types.h"
#include "ledger/problems.h"

#include <toml++/toml.h>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace basefog::ledger_room {

[[nodiscard]] inline Place place_of(const toml::source_region& source) { return {static_cast<int>(source.begin.line), static_cast<int>(source.begin.column)}; }
[[nodiscard]] inline Place place_of(const toml::node& node) { return place_of(node.source()); }

/// "text", "a number", "a date", ... as a person would call it.
[[nodiscard]] std::string type_in_words(const toml::node& node);

/// What a number may be. `example` is a whole right line's value.
struct Range {
    double low = 0, high = 0;
    const char* unit = "";
    const char* example = "";
};

/// An id or file with the place where it was written.
struct Named {
    std::string text;
    Place place;
};

class Fields {
public:
    /// `owner` names the table in messages, e.g. `stock "t500"`.
    Fields(const toml::table& table, std::string owner, Place place, Problems& problems);

    /// Each of these makes `key` a known one. A wrong value is noted and comes back as nullopt.
    [[nodiscard]] std::optional<double> number(std::string_view key, Range range);
    [[nodiscard]] std::optional<int> whole(std::string_view key, Range range);
    /// A number of minutes, or "m:ss".
    [[nodiscard]] std::optional<double> minutes(std::string_view key, Range range);
    /// One line, without control characters; "" counts as not written.
    [[nodiscard]] std::optional<Named> text(std::string_view key, std::string_view example);
    /// The same, but it must be there.
    [[nodiscard]] std::optional<Named> required_text(std::string_view key, std::string_view example);
    [[nodiscard]] std::string plain_text(std::string_view key, std::string_view example);
    /// Several lines.
    [[nodiscard]] std::string note(std::string_view key);
    [[nodiscard]] std::optional<Date> date(std::string_view key);
    [[nodiscard]] std::optional<Date> date_or_month(std::string_view key);
    [[nodiscard]] std::optional<bool> flag(std::string_view key);
    [[nodiscard]] const toml::table* table(std::string_view key, std::string_view example);
    [[nodiscard]] const toml::array* array(std::string_view key, std::string_view example);
    [[nodiscard]] const toml::node* any(std::string_view key);

    /// Call last: whatever was not asked for is an unknown key.
    void reject_unknown();
    /// Notes that the table lacks this key.
    void missing(std::string_view key, std::string_view example);

    void wrong_type(std::string_view key, const toml::node& node, std::string_view wanted, std::string_view example);
    void wrong_value(std::string_view key, const toml::node& node, const std::string& why, const std::string& right);
    /// Checks a value got with any().
    [[nodiscard]] std::optional<double> number_in(std::string_view key, const toml::node& node, Range range);

    [[nodiscard]] const std::string& owner() const { return owner_; }
    [[nodiscard]] Place place() const { return place_; }
    [[nodiscard]] Problems& problems() { return problems_; }

private:
    [[nodiscard]] bool fits_line(std::string_view key, const toml::node& node, const std::string& text, std::size_t longest, bool lines);
    [[nodiscard]] std::optional<Date> date_in(std::string_view key, bool month_will_do);

    const toml::table& table_;
    std::string owner_;
    Place place_;
    Problems& problems_;
    std::vector<std::string> known_;
};

/// Entries in the order of the text; the parser keeps them sorted by name.
struct Entry {
    std::string name;
    Place place;  ///< of the name
    const toml::node* value = nullptr;
};
[[nodiscard]] std::vector<Entry> entries_in_order(const toml::table& table);

/// Is this name fit to be shown and to stand in a file's name? Notes why not. `what` e.g. "a roll's name".
[[nodiscard]] bool check_name(const std::string& name, std::string_view what, Place place, Problems& problems);

}  // namespace basefog::ledger_room
