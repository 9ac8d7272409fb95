// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>

namespace basefog::ledger_room {
namespace {

constexpr char32_t kReplacement = 0xFFFD;
/// Longest piece of the file repeated in a message, in code points.
constexpr std::size_t kMaxQuoted = 60;

struct Step {
    char32_t code = kReplacement;
    std::size_t bytes = 1;
    bool valid = false;
};

/// Decodes one code point by the table of well-formed sequences [RFC 3629, section 4].
Step decode(std::string_view text, std::size_t at) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0u; };
    const unsigned lead = byte(at);
    if (lead < 0x80) return {lead, 1, true};
    const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
    if (lead < 0xC2 || lead > 0xF4) return {};
    char32_t code = lead & (0x7Fu >> length);
    for (std::size_t i = 1; i < length; ++i) {
        const unsigned next = byte(at + i);
        if ((next & 0xC0u) != 0x80u) return {};
        code = (code << 6) | (next & 0x3Fu);
    }
    const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
    const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
    if (overlong || surrogate || code > 0x10FFFF) return {};
    return {code, length, true};
}

void append(std::string& out, char32_t c) {
    const auto put = [&](char32_t byte) { out += static_cast<char>(static_cast<unsigned char>(byte)); };
    if (c < 0x80) {
        put(c);
    } else if (c < 0x800) {
        put(0xC0 | (c >> 6));
        put(0x80 | (c & 0x3F));
    } else if (c < 0x10000) {
        put(0xE0 | (c >> 12));
        put(0x80 | ((c >> 6) & 0x3F));
        put(0x80 | (c & 0x3F));
    } else {
        put(0xF0 | (c >> 18));
        put(0x80 | ((c >> 12) & 0x3F));
        put(0x80 | ((c >> 6) & 0x3F));
        put(0x80 | (c & 0x3F));
    }
}

}  // namespace

std::optional<std::size_t> find_invalid_utf8(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) {
        const Step step = decode(text, at);
        if (!step.valid) return at;
        at += step.bytes;
    }
    return std::nullopt;
}

std::u32string code_points(std::string_view text) {
    std::u32string out;
    out.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) {
        const Step step = decode(text, at);
        out += step.code;
        at += step.bytes;
    }
    return out;
}

std::string utf8(std::u32string_view text) {
    std::string out;
    for (const char32_t c : text) append(out, c);
    return out;
}

bool is_control(char32_t c) {
    const auto within = [c](char32_t low, char32_t high) { return c >= low && c <= high; };
    return within(0, 0x1F) || within(0x7F, 0x9F)                // C0, DEL, C1
           || within(0x200E, 0x200F) || c == 0x061C             // marks of direction
           || within(0x2028, 0x202E) || within(0x2066, 0x2069)  // separators, overrides, isolates
           || c == 0xFEFF || within(0xFFF9, 0xFFFB);            // byte order mark, annotations
}

bool has_control(std::string_view text, bool allow_lines) {
    const std::u32string points = code_points(text);
    return std::any_of(points.begin(), points.end(), [&](char32_t c) {
        const bool line = c == U'\n' || c == U'\t' || c == U'\r';
        return is_control(c) && !(allow_lines && line);
    });
}

std::string in_quotes(std::string_view text) {
    // Four bytes hold any code point, so this much is enough to fill the message.
    std::u32string points = code_points(text.substr(0, 4 * (kMaxQuoted + 1)));
    const bool cut = points.size() > kMaxQuoted;
    if (cut) points.resize(kMaxQuoted);
    std::string out = "\"";
    for (const char32_t c : points) {
        if (is_control(c)) {
            out += fmt::format("<U+{:04X}>", static_cast<unsigned>(c));
        } else {
            append(out, c);
        }
    }
    return out + (cut ? "...\"" : "\"");
}

std::string toml_string(std::string_view text) {
    std::string out = "\"";
    for (const char32_t c : code_points(text)) {
        if (c == U'"' || c == U'\\') {
            out += '\\';
            append(out, c);
        } else if (is_control(c)) {
            out += fmt::format("\\u{:04X}", static_cast<unsigned>(c));
        } else {
            append(out, c);
        }
    }
    return out + "\"";
}

std::string_view trimmed(std::string_view text) {
    const char* const blanks = " \t\r\n";
    const std::size_t first = text.find_first_not_of(blanks);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::string ascii_lower(std::string_view text) {
    std::string out(text);
    for (char& c : out) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return out;
}

}  // namespace basefog::ledger_room
