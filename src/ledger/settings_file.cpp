// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/settings_file.h"

#include "ledger/nearest.h"
#include "ledger/print_fields.h"
#include "ledger/text_checks.h"
#include "ledger/toml_document.h"

#include <fmt/format.h>
#include <algorithm>
#include <filesystem>
#include <iterator>

namespace basefog {
namespace ledger_room {
namespace {

constexpr Range kFrameNumber{0, 999, "", "1"};
constexpr const char* kFramesExample = "frames = [ { number = 5, print = { exposure = 0.5 } } ]";

std::string word(Fields& fields, std::string_view key, const std::vector<std::string>& known, std::string_view noun) {
    const auto text = fields.text(key, fmt::format("\"{}\"", known.front()));
    if (!text) return {};
    const std::string lower = ascii_lower(text->text);
    if (std::find(known.begin(), known.end(), lower) != known.end()) return lower;
    fields.problems().add(text->place, fmt::format("\"{}\" of {} is {}", key, fields.owner(), in_quotes(text->text)), suggestion(text->text, known, noun));
    return {};
}

OutputSettings read_output(Fields& root, const std::string& path) {
    OutputSettings output;
    const toml::table* table = root.table("output", "[output]");
    if (table == nullptr) return output;
    Fields fields(*table, "the output", place_of(*table), root.problems());
    output.profile = fields.plain_text("profile", "\"srgb\"");
    if (const bool built_in = output.profile == "srgb" || output.profile == "wide" || output.profile == "linear"; !built_in && !output.profile.empty())
        output.profile = (std::filesystem::path(path).parent_path() / output.profile).lexically_normal().string();
    const toml::node* version = fields.any("icc_version");
    output.icc_version = fields.whole("icc_version", {2, 4, "", "4"});
    if (output.icc_version == 3) fields.wrong_value("icc_version", *version, "is 3, which no profile has", "write 2 or 4");
    output.compression = word(fields, "compression", {"none", "lzw", "deflate", "zstd"}, "compressions");
    output.linear = fields.flag("linear");
    output.density = fields.flag("density");
    fields.reject_unknown();
    return output;
}

void read_frames(Fields& roll, RollPrintChoices& choices) {
    const toml::array* frames = roll.array("frames", kFramesExample);
    if (frames == nullptr) return;
    std::size_t count = 0;
    for (const toml::node& node : *frames) {
        const std::string owner = fmt::format("entry {} of \"frames\" of {}", ++count, roll.owner());
        if (!node.is_table()) {
            roll.problems().add(place_of(node), fmt::format("{} is {}, but must be a table", owner, type_in_words(node)),
                                std::string("for example ") + kFramesExample);
            continue;
        }
        Fields fields(*node.as_table(), owner, place_of(node), roll.problems());
        const bool written = node.as_table()->contains("number");
        const auto number = fields.whole("number", kFrameNumber);
        if (!written) fields.missing("number", "1");
        PrintChoices print = read_print(fields, PrintOf::frame);
        fields.reject_unknown();
        if (!number) continue;
        const bool twice = std::any_of(choices.frames.begin(), choices.frames.end(), [&](const auto& f) { return f.number == *number; });
        if (twice) roll.problems().add(place_of(node), fmt::format("frame {} stands twice in \"frames\" of {}", *number, roll.owner()), "keep one of the two");
        choices.frames.push_back({*number, std::move(print)});
    }
}

void read_rolls(Fields& root, Settings& settings) {
    const toml::table* all = root.table("roll", "[roll.NAME]");
    if (all == nullptr) return;
    for (const Entry& entry : entries_in_order(*all)) {
        if (!check_name(entry.name, "a roll's name", entry.place, root.problems())) continue;
        const std::string owner = fmt::format("roll {}", in_quotes(entry.name));
        if (!entry.value->is_table()) {
            root.problems().add(entry.place, fmt::format("{} is {}, but must be a table", owner, type_in_words(*entry.value)),
                                "write [roll.NAME] on a line of its own and the keys below it");
            continue;
        }
        Fields fields(*entry.value->as_table(), owner, entry.place, root.problems());
        RollPrintChoices choices{entry.name, read_print(fields, PrintOf::roll), {}};
        read_frames(fields, choices);
        fields.reject_unknown();
        settings.rolls.push_back(std::move(choices));
    }
}

std::string balance_text(const BalanceChoice& balance) {
    switch (balance.by) {
        case BalanceChoice::By::roll:
            return "\"roll\"";
        case BalanceChoice::By::frame:
            return "\"frame\"";
        case BalanceChoice::By::numbers:
            return fmt::format("[{}, {}, {}]", balance.stops.r.value(), balance.stops.g.value(), balance.stops.b.value());
        case BalanceChoice::By::patch:
            break;
    }
    const BalanceChoice::Patch& p = balance.patch;
    return fmt::format("{{ {}patch = [{}, {}, {}, {}] }}", balance.frame ? fmt::format("frame = {}, ", *balance.frame) : std::string(), p.left, p.top, p.right,
                       p.bottom);
}

/// The keys that were chosen, `key = value` each.
std::vector<std::string> lines_of(const PrintChoices& print) {
    std::vector<std::string> lines;
    if (print.balance) lines.push_back("balance = " + balance_text(*print.balance));
    if (print.exposure) lines.push_back(fmt::format("exposure = {}", print.exposure->value()));
    if (print.contrast) lines.push_back(fmt::format("contrast = {}", *print.contrast));
    if (print.black_point) lines.push_back(fmt::format("black_point = {}", print.black_point->value()));
    if (print.saturation) lines.push_back(fmt::format("saturation = {}", *print.saturation));
    return lines;
}
std::string inline_table(const PrintChoices& print) { return fmt::format("{{ {} }}", fmt::join(lines_of(print), ", ")); }

std::string output_text(const OutputSettings& output) {
    std::string text;
    if (!output.profile.empty()) text += fmt::format("profile = {}\n", toml_string(output.profile));
    if (output.icc_version) text += fmt::format("icc_version = {}\n", *output.icc_version);
    if (!output.compression.empty()) text += fmt::format("compression = {}\n", toml_string(output.compression));
    if (output.linear) text += fmt::format("linear = {}\n", *output.linear);
    if (output.density) text += fmt::format("density = {}\n", *output.density);
    return text.empty() ? text : "[output]\n" + text + "\n";
}

}  // namespace
}  // namespace ledger_room

Result<Settings> parse_settings(const std::string& text, const std::string& path) {
    using namespace ledger_room;
    const auto document = parse_toml(text, path);
    if (!document) return Failure(document.error());
    Problems problems;
    Settings settings;
    settings.path = path;
    Fields root(*document, "the settings", {}, problems);
    settings.output = read_output(root, path);
    if (const toml::table* table = root.table("print", "[print]")) {
        Fields fields(*table, "the print of every frame", place_of(*table), problems);
        settings.print = read_print_keys(fields, PrintOf::run);
    }
    read_rolls(root, settings);
    root.reject_unknown();
    if (!problems.empty()) return Failure(problems.to_error(path));
    return settings;
}

Result<Settings> read_settings(const std::string& path) {
    const auto text = ledger_room::read_text_file(path);
    if (!text) return Failure(text.error());
    return parse_settings(*text, path);
}

std::string settings_text(const Settings& settings, const std::vector<std::string>& head) {
    using namespace ledger_room;
    std::string text;
    for (const std::string& line : head) text += "# " + line + "\n";
    if (!head.empty()) text += "\n";
    text += output_text(settings.output);
    if (!settings.print.empty()) text += fmt::format("[print]\n{}\n\n", fmt::join(lines_of(settings.print), "\n"));
    for (const RollPrintChoices& roll : settings.rolls) {
        text += fmt::format("[roll.{}]\n", toml_string(roll.roll));
        if (!roll.print.empty()) text += fmt::format("print = {}\n", inline_table(roll.print));
        if (!roll.frames.empty()) text += "frames = [\n";
        for (const auto& frame : roll.frames) text += fmt::format("  {{ number = {}, print = {} }},\n", frame.number, inline_table(frame.print));
        if (!roll.frames.empty()) text += "]\n";
        text += "\n";
    }
    return text;
}

}  // namespace basefog
