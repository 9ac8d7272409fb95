// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/syntax_hint.h"

#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>

namespace basefog::ledger_room {
namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool holds(std::string_view text, std::string_view part) { return text.find(part) != std::string_view::npos; }

/// The shape of a value: every run of digits becomes "9", every run of letters "a".
std::string shape(std::string_view text) {
    std::string out;
    for (const char c : text) {
        const char kind = is_digit(c) ? '9' : is_letter(c) || static_cast<unsigned char>(c) >= 0x80 ? 'a' : c;
        if (out.empty() || out.back() != kind || (kind != '9' && kind != 'a')) out += kind;
    }
    return out;
}

/// The value the parser was in: from the last '=' before the column to the end, a comma between keys or a comment.
std::string_view value_at(std::string_view line, int column) {
    const std::size_t until = std::min(line.size(), static_cast<std::size_t>(std::max(column, 1)));
    const std::size_t equals = line.substr(0, until).rfind('=');
    if (equals == std::string_view::npos) return {};
    std::string_view rest = line.substr(equals + 1);
    rest = rest.substr(0, rest.find('#'));
    const std::size_t next_key = rest.find('=');
    if (next_key != std::string_view::npos) rest = rest.substr(0, rest.rfind(',', next_key));
    rest = trimmed(rest);
    while (!rest.empty() && (rest.back() == '}' || rest.back() == ',' || rest.back() == ']')) rest = trimmed(rest.substr(0, rest.size() - 1));
    return rest.substr(0, 80);
}

bool typographic_quotes(std::string_view line) {
    constexpr std::string_view kinds[] = {"\u201C", "\u201D", "\u201E", "\u2018", "\u2019", "\u00AB", "\u00BB"};
    return std::any_of(std::begin(kinds), std::end(kinds), [&](std::string_view kind) { return holds(line, kind); });
}

std::string hint_for_value(std::string_view value) {
    const std::string form = shape(value);
    if (form == "9.9.9" || form == "9/9/9" || form == "9-9-9") return "a date is written year-month-day in full: 2026-03-04";
    if (form == "9,9") {
        const std::size_t comma = value.find(',');
        return fmt::format("decimals take a point: {}.{}", value.substr(0, comma), value.substr(comma + 1));
    }
    if (form == "9:9") return fmt::format("minutes and seconds stand in quotes: \"{}\"", value);
    if (form == "9" && value.front() == '0') return "write the number without leading zeros, or a date or name in quotes";
    if (form.starts_with("9a") || form.starts_with("9 a") || form.starts_with("9.9a") || form.starts_with("9.9 a")) {
        return "the key's name holds the unit: write the number alone, or text in quotes";
    }
    const std::string lower = ascii_lower(value);
    if (lower == "yes" || lower == "true" || lower == "on") return "write true";
    if (lower == "no" || lower == "false" || lower == "off") return "write false";
    if (!form.empty() && form.front() == 'a') return fmt::format("text stands in quotes: \"{}\"", value);
    return {};
}

std::string hint_for_key(std::string_view line) {
    const std::string_view text = trimmed(line);
    if (text.starts_with('[')) return "a heading is written [roll.R1], or [roll.\"R 1\"] when the name holds spaces or letters other than a-z";
    const std::size_t equals = text.find('=');
    if (equals == std::string_view::npos) return "write key = value";
    return "a key holds only a-z, digits, - and _; put any other name in quotes";
}

}  // namespace

std::string plain_syntax_error(std::string_view description) {
    constexpr std::string_view preamble = "Error while parsing ";
    if (description.starts_with(preamble)) description.remove_prefix(preamble.size());
    return fmt::format("not valid TOML, in {}", description);
}

std::string syntax_hint(std::string_view line, int column, std::string_view description) {
    if (holds(description, "cannot redefine")) return "each heading and key may stand once: rename one, or merge the two";
    if (holds(description, "not representable") || holds(description, "could not be interpreted")) return "write a number of ordinary size";
    if (typographic_quotes(line)) return "use straight quotes, \" or '";
    if (holds(description, "escape sequence") || holds(description, "unicode scalar")) {
        return "in a path write / for \\, or put the text in single quotes: 'scans\\sheet.tif'";
    }
    if (holds(description, "parsing string")) return "close the text with the quotation mark it began with, on the same line";
    if (holds(description, "inline table") && holds(description, "saw '\\n'")) return "what stands in { } must be on one line";
    const std::string_view value = value_at(line, column);
    if (value.empty()) return holds(description, "expected value") ? "write a value after =, or delete the line" : hint_for_key(line);
    const std::string hint = hint_for_value(value);
    if (!hint.empty()) return hint;
    if (holds(description, "array")) return "separate the entries by commas and close the list with ]";
    return "write key = value, text in quotes, one key on a line";
}

}  // namespace basefog::ledger_room
