// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/draft.h"
#include "ledger/sheet_keys.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <charconv>
#include <filesystem>

namespace basefog::ledger_room {
namespace {

constexpr Range kFrameNumber{0, 999, "", "1"};
constexpr Range kDpi{72, 20000, "dpi", "3200"};
constexpr Range kGamma{0.3, 4, "", "2.2"};  // as the command line's --encoding

/// A format as options spell it; "auto" says no more than leaving it out.
std::optional<FrameFormat> read_format(Fields& fields) {
    const auto text = fields.text("format", "\"36x24\"");
    if (!text) return std::nullopt;
    const auto format = format_named(ascii_lower(text->text));
    if (!format) {
        fields.wrong_value("format", *fields.any("format"), fmt::format("is {}", in_quotes(text->text)),
                           "write \"36x24\", \"18x24\", \"24x65\", \"6x4.5\", \"6x6\" or \"6x7\"");
        return std::nullopt;
    }
    return format == FrameFormat::automatic ? std::nullopt : format;
}

void read_strips(Fields& sheet_fields, Sheet& sheet, Draft& draft, Problems& problems) {
    const std::string example = "strips = [ { roll = \"R1\", first = 1 } ]";
    std::vector<Place>& places = draft.strip_places.emplace_back();
    const toml::array* strips = sheet_fields.array("strips", example);
    if (!strips) return;
    for (const toml::node& node : *strips) {
        const std::string owner = fmt::format("strip {} of {}", places.size() + 1, sheet_fields.owner());
        places.push_back(place_of(node));
        SheetStrip& strip = sheet.strips.emplace_back();
        if (!node.is_table()) {
            problems.add(place_of(node), fmt::format("{} is {}, but must be a table", owner, type_in_words(node)), "for example " + example);
            continue;
        }
        Fields fields(*node.as_table(), owner, place_of(node), problems);
        if (const auto roll = fields.required_text("roll", "\"R1\"")) {
            draft.references.push_back({Referred::roll, *roll, owner});
            strip.roll = roll->text;
        }
        strip.first_frame = fields.whole("first", kFrameNumber).value_or(1);
        strip.flip = fields.flag("flip");
        strip.turn = fields.flag("turn");
        fields.reject_unknown();
    }
}

void read_sheet(const toml::table& table, std::size_t number, Draft& draft, Problems& problems) {
    Fields fields(table, fmt::format("sheet {}", number), place_of(table), problems);
    Sheet sheet;
    const auto file = fields.required_text("file", "\"scans/sheet-01.tif\"");
    if (file) {
        sheet.file = file->text;
        sheet.path = resolved(draft.ledger.path, file->text);
    }
    const auto infrared = fields.text("infrared", "\"scans/sheet-01-infrared.tif\"");
    if (infrared) sheet.infrared_path = resolved(draft.ledger.path, infrared->text);
    if (infrared && file && sheet.infrared_path == sheet.path) {
        problems.add(infrared->place, fmt::format("\"infrared\" of {} is the same file as \"file\"", fields.owner()),
                     "leave it out when the infrared is a fourth sample or second page of the scan itself");
    }
    sheet.encoding = read_encoding(fields);
    sheet.dpi = fields.number("dpi", kDpi);
    sheet.format = read_format(fields);
    read_strips(fields, sheet, draft, problems);
    fields.reject_unknown();
    draft.sheet_files.push_back(file ? file->place : fields.place());
    draft.ledger.sheets.push_back(std::move(sheet));
}

}  // namespace

std::string resolved(const std::string& ledger_path, const std::string& file) {
    return (std::filesystem::path(ledger_path).parent_path() / file).lexically_normal().string();
}

std::string read_encoding(Fields& fields) {
    const toml::node* node = fields.any("encoding");
    if (!node) return {};
    if (node->is_number()) {
        const auto gamma = fields.number_in("encoding", *node, kGamma);
        return gamma ? fmt::format("{}", *gamma) : std::string();
    }
    const toml::value<std::string>* text = node->as_string();
    if (!text) {
        fields.wrong_type("encoding", *node, "\"linear\", \"srgb\" or a gamma number", "\"linear\" or 2.2");
        return {};
    }
    const std::string word = ascii_lower(text->get());
    if (word.empty() || word == "linear" || word == "srgb") return word;
    // A gamma in quotes is what one writes after typing it on the command line.
    double gamma = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), gamma);
    if (error == std::errc() && end == word.data() + word.size() && gamma >= kGamma.low && gamma <= kGamma.high) return word;
    fields.wrong_value("encoding", *node, fmt::format("is {}", in_quotes(text->get())), "write \"linear\", \"srgb\" or a gamma number such as 2.2");
    return {};
}

void each_table(Fields& root, const std::string& key, const std::string& right, Problems& problems,
                const std::function<void(const toml::table& table, std::size_t number)>& read) {
    const toml::node* node = root.any(key);
    if (!node) return;
    if (!node->is_array()) {
        problems.add(place_of(*node), fmt::format("{} is {}, but must be a list of tables", in_quotes(key), type_in_words(*node)), right);
        return;
    }
    std::size_t number = 0;
    for (const toml::node& one : *node->as_array()) {
        ++number;
        if (one.is_table()) {
            read(*one.as_table(), number);
        } else {
            problems.add(place_of(one), fmt::format("{} {} is {}, but must be a table", key, number, type_in_words(one)), right);
        }
    }
}

void read_sheets(Fields& root, Draft& draft, Problems& problems) {
    each_table(root, "sheet", "write [[sheet]], in double brackets, above each sheet's keys", problems,
               [&](const toml::table& table, std::size_t number) { read_sheet(table, number, draft, problems); });
}

}  // namespace basefog::ledger_room
