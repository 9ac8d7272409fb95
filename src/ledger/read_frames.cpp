// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/draft.h"
#include "ledger/light_fields.h"
#include "ledger/nearest.h"
#include "ledger/print_fields.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>
#include <array>

namespace basefog::ledger_room {
namespace {

constexpr Range kFrameNumber{0, 999, "", "1"};
constexpr Range kStep{0.02, 1, "log10 H", "0.15"};  // wedges have 0.10 to 0.30
constexpr Range kStops{-10, 10, "stops", "-1"};
constexpr double kUsualStep = 0.15;  // common practice, no source
constexpr const char* kExample = "frames = [ { number = 1, kind = \"step wedge\", step = 0.15 }, { number = 8, stops = -1 } ]";

struct Subject {
    const char* word;
    FrameSubject subject;
};
constexpr std::array<Subject, 4> kSubjects{{{"picture", FrameSubject::picture},
                                            {"step wedge", FrameSubject::step_wedge},
                                            {"grey card", FrameSubject::grey_card},
                                            {"colour chart", FrameSubject::colour_chart}}};

FrameSubject read_subject(Fields& fields) {
    const auto text = fields.text("kind", "\"step wedge\"");
    if (!text) return FrameSubject::picture;
    std::string word = ascii_lower(text->text);
    std::replace_if(
        word.begin(), word.end(), [](char c) { return c == '-' || c == '_'; }, ' ');
    if (word == "gray card") word = "grey card";
    if (word == "color chart") word = "colour chart";
    std::vector<std::string> words;
    for (const Subject& s : kSubjects) {
        if (word == s.word) return s.subject;
        words.emplace_back(s.word);
    }
    fields.problems().add(text->place, fmt::format("\"kind\" of {} is {}", fields.owner(), in_quotes(text->text)), suggestion(word, words, "kinds of frame"));
    return FrameSubject::picture;
}

}  // namespace

std::vector<NamedFrame> read_frames(Fields& roll) {
    std::vector<NamedFrame> out;
    const toml::array* frames = roll.array("frames", kExample);
    if (!frames) return out;
    std::size_t count = 0;
    for (const toml::node& node : *frames) {
        const std::string owner = fmt::format("entry {} of \"frames\" of {}", ++count, roll.owner());
        if (!node.is_table()) {
            roll.problems().add(place_of(node), fmt::format("{} is {}, but must be a table", owner, type_in_words(node)),
                                std::string("for example ") + kExample);
            continue;
        }
        Fields fields(*node.as_table(), owner, place_of(node), roll.problems());
        NamedFrame frame;
        const toml::node* written = fields.any("number");
        const auto number = fields.whole("number", kFrameNumber);
        if (!written) fields.missing("number", "1");
        frame.number = number.value_or(0);
        frame.kind = read_subject(fields);
        const toml::node* step = fields.any("step");
        frame.step = fields.number("step", kStep).value_or(frame.kind == FrameSubject::step_wedge ? kUsualStep : 0.0);
        if (step && frame.kind != FrameSubject::step_wedge)
            roll.problems().add(place_of(*step), fmt::format("{} has a \"step\" but is no step wedge", owner),
                                "add kind = \"step wedge\", or leave the step out");
        if (const auto stops = fields.number("stops", kStops)) frame.stops = Stops(*stops);
        frame.light = colour_temperature(fields, "light");
        frame.print = read_print(fields, PrintOf::frame);
        fields.reject_unknown();
        const bool twice = number && std::any_of(out.begin(), out.end(), [&](const NamedFrame& f) { return f.number == *number; });
        if (twice) roll.problems().add(place_of(node), fmt::format("frame {} stands twice in \"frames\" of {}", *number, roll.owner()), "keep one of the two");
        out.push_back(frame);
    }
    return out;
}

}  // namespace basefog::ledger_room
