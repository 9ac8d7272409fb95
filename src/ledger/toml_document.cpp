// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/toml_document.h"

#include "ledger/constants.h"
#include "ledger/problems.h"
#include "ledger/syntax_hint.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string_view>

namespace basefog::ledger_room {
namespace {

Place place_of_byte(std::string_view text, std::size_t offset) {
    const std::string_view before = text.substr(0, offset);
    const std::size_t line_start = before.rfind('\n') + 1;  // npos + 1 == 0
    Place place;
    for (const char c : before) place.line += c == '\n';
    std::string_view line = before.substr(line_start);
    if (line_start == 0 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
    place.column = static_cast<int>(code_points(line).size()) + 1;
    return place;
}

std::string_view line_at(std::string_view text, int line) {
    for (int at = 1; at < line; ++at) {
        const std::size_t end = text.find('\n');
        if (end == std::string_view::npos) return {};
        text.remove_prefix(end + 1);
    }
    return text.substr(0, text.find('\n'));
}

Failure malformed(Place place, std::string wrong, std::string right, const std::string& path) {
    Problems problems;
    problems.add(place, std::move(wrong), std::move(right));
    return Failure(problems.to_error(path));
}

/// Follows strings and comments just far enough to count brackets, and dots within a key. The parser itself recurses
/// without limit for "a.a.a.a...", so this runs first; where this scan and the parser could differ on what is a string,
/// the text is not valid TOML and the parser stops there.
class NestingScan {
public:
    explicit NestingScan(std::string_view text) : text_(text) {}

    /// Byte offset at which the text nests too deep.
    std::optional<std::size_t> too_deep() {
        int brackets = 0, dots = 0;
        while (at_ < text_.size()) {
            const char c = text_[at_];
            if (c == '"' || c == '\'') {
                skip_string(c);
                continue;
            }
            if (c == '#') {
                at_ = std::min(text_.find('\n', at_), text_.size());
                continue;
            }
            if (c == '[' || c == '{') ++brackets;
            if ((c == ']' || c == '}') && brackets > 0) --brackets;
            if (std::string_view("=,[]{}\n").find(c) != std::string_view::npos) dots = 0;
            if (c == '.') ++dots;
            if (brackets > kMaxNesting || dots > kMaxNesting) return at_;
            ++at_;
        }
        return std::nullopt;
    }

private:
    void skip_string(char quote) {
        const std::string three(3, quote);
        const bool long_form = text_.substr(at_, 3) == three;
        at_ += long_form ? 3 : 1;
        while (at_ < text_.size()) {
            if (quote == '"' && text_[at_] == '\\') {
                at_ += 2;
            } else if (long_form && text_.substr(at_, 3) == three) {
                at_ += 3;
                while (at_ < text_.size() && text_[at_] == quote) ++at_;  // up to two quotes may end the content
                return;
            } else if (!long_form && (text_[at_] == quote || text_[at_] == '\n')) {
                ++at_;
                return;
            } else {
                ++at_;
            }
        }
    }
    std::string_view text_;
    std::size_t at_ = 0;
};

std::optional<Error> encoding_error(std::string_view text, const std::string& path) {
    const std::string remedy = "save the file as UTF-8 text";
    if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
        return malformed({}, "this is UTF-16 text, not UTF-8", remedy, path).value();
    }
    const auto invalid = find_invalid_utf8(text);
    if (invalid) {
        const unsigned byte = static_cast<unsigned char>(text[*invalid]);
        return malformed(place_of_byte(text, *invalid), fmt::format("byte 0x{:02X} is not UTF-8 text", byte), remedy, path).value();
    }
    const std::size_t zero = text.find('\0');
    if (zero != std::string_view::npos) {
        return malformed(place_of_byte(text, zero), "a zero byte, which no text holds", "check that this is the right file", path).value();
    }
    return std::nullopt;
}

}  // namespace

Result<std::string> read_text_file(const std::string& path) {
    std::error_code trouble;
    const auto status = std::filesystem::status(path, trouble);
    if (status.type() == std::filesystem::file_type::not_found) {
        return fail(ErrorCode::not_found, "there is no such file", path, "check the name and the folder");
    }
    if (status.type() == std::filesystem::file_type::directory) {
        return fail(ErrorCode::unreadable, "this is a folder, not a file", path, "name the TOML file inside it");
    }
    std::ifstream in(path, std::ios::binary);
    if (!in) return fail(ErrorCode::unreadable, "the file cannot be opened", path, "check its permissions");
    std::string text(kMaxFileBytes + 1, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    if (in.bad()) return fail(ErrorCode::unreadable, "reading the file failed midway", path, "check the disk it lies on");
    text.resize(static_cast<std::size_t>(in.gcount()));
    if (text.size() > kMaxFileBytes) {
        return fail(ErrorCode::too_large, fmt::format("the file is larger than {} MiB", kMaxFileBytes / (1024 * 1024)), path,
                    "check that it is the right file, or split it");
    }
    return text;
}

Result<toml::table> parse_toml(const std::string& text, const std::string& path) {
    if (text.size() > kMaxFileBytes) return fail(ErrorCode::too_large, "the text is too long", path, "split it");
    if (auto error = encoding_error(text, path)) return Failure(*error);
    if (const auto deep = NestingScan(text).too_deep()) {
        return malformed(place_of_byte(text, *deep), fmt::format("brackets or dotted keys nest deeper than {}", kMaxNesting), "nothing here needs more than 4",
                         path);
    }
    try {
        return toml::parse(text);
    } catch (const toml::parse_error& error) {
        const auto begin = error.source().begin;
        const Place place{static_cast<int>(begin.line), static_cast<int>(begin.column)};
        return malformed(place, plain_syntax_error(error.description()), syntax_hint(line_at(text, place.line), place.column, error.description()), path);
    } catch (const std::exception& error) {
        return fail(ErrorCode::malformed, fmt::format("the text could not be read as TOML: {}", error.what()), path);
    }
}

}  // namespace basefog::ledger_room
