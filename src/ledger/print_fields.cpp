// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/print_fields.h"

#include "ledger/nearest.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <array>

namespace basefog::ledger_room {
namespace {

using L = PrintLimits;
constexpr Range kExposure{-L::kMostStops, L::kMostStops, "stops", "0.5"};
constexpr Range kContrast{L::kLeastContrast, L::kMostContrast, "", "1.1"};
constexpr Range kBlackPoint{L::kDeepestBlack, L::kShallowestBlack, "stops from mid-grey", "-6"};
constexpr Range kSaturation{0, L::kMostSaturation, "", "1.1"};
constexpr Range kShare{0, 1, "", "0.4"};
constexpr Range kBalance{-L::kMostStops, L::kMostStops, "stops", "0.25"};
constexpr Range kFrameNumber{0, 999, "", "1"};
constexpr const char* kPatchExample = "balance = { frame = 3, patch = [0.40, 0.40, 0.60, 0.60] }";
constexpr const char* kNumbersExample = "balance = [0.25, 0.00, -0.40]";

/// `N` numbers of a list.
template <std::size_t N>
std::optional<std::array<double, N>> numbers(Fields& fields, std::string_view key, const toml::node& node, Range range, const char* what, const char* example) {
    const toml::array* list = node.as_array();
    if (list == nullptr || list->size() != N) {
        fields.wrong_value(key, node, list ? fmt::format("holds {} values, but must hold {}", list->size(), what) : fmt::format("must be a list of {}", what),
                           fmt::format("for example {}", example));
        return std::nullopt;
    }
    std::array<double, N> values{};
    for (std::size_t i = 0; i < N; ++i) {
        const auto value = fields.number_in(key, *list->get(i), range);
        if (!value) return std::nullopt;
        values[i] = *value;
    }
    return values;
}

std::optional<BalanceChoice> patch_balance(Fields& owner, const toml::table& table, PrintOf of) {
    Fields fields(table, "the balance of " + owner.owner(), place_of(table), owner.problems());
    BalanceChoice choice{BalanceChoice::By::patch, {}, {}, {}};
    choice.frame = fields.whole("frame", kFrameNumber);
    const toml::node* node = fields.any("patch");
    fields.reject_unknown();
    if (node == nullptr) {
        fields.missing("patch", "[0.40, 0.40, 0.60, 0.60]");
        return std::nullopt;
    }
    const auto sides = numbers<4>(fields, "patch", *node, kShare, "left, top, right and bottom as shares of the picture", kPatchExample);
    if (!sides) return std::nullopt;
    choice.patch = {(*sides)[0], (*sides)[1], (*sides)[2], (*sides)[3]};
    if (choice.patch.right - choice.patch.left < L::kLeastPatch || choice.patch.bottom - choice.patch.top < L::kLeastPatch) {
        fields.wrong_value("patch", *node, fmt::format("is narrower than {} of the picture, or turned about", L::kLeastPatch),
                           "write left, top, right, bottom, each from 0 to 1");
        return std::nullopt;
    }
    if (of == PrintOf::run || (of == PrintOf::roll && !choice.frame)) {
        owner.wrong_value("balance", table, "names a patch but no frame it lies in",
                          of == PrintOf::run ? "put it under a roll: frames have numbers only there" : std::string("for example ") + kPatchExample);
        return std::nullopt;
    }
    return choice;
}

std::optional<BalanceChoice> read_balance(Fields& fields, PrintOf of) {
    const toml::node* node = fields.any("balance");
    if (node == nullptr) return std::nullopt;
    if (const toml::table* table = node->as_table()) return patch_balance(fields, *table, of);
    if (node->is_array()) {
        const auto stops = numbers<3>(fields, "balance", *node, kBalance, "stops of the red, green and blue layer", kNumbersExample);
        if (!stops) return std::nullopt;
        return BalanceChoice{BalanceChoice::By::numbers, {}, {}, {Stops((*stops)[0]), Stops((*stops)[1]), Stops((*stops)[2])}};
    }
    if (const toml::value<std::string>* text = node->as_string()) {
        const std::string word = ascii_lower(text->get());
        if (word.empty()) return std::nullopt;
        if (word == "roll") return BalanceChoice{};
        if (word == "frame") return BalanceChoice{BalanceChoice::By::frame, {}, {}, {}};
        fields.wrong_value("balance", *node, fmt::format("is {}", in_quotes(text->get())),
                           fmt::format("write \"roll\", \"frame\", a grey patch ({}) or three numbers of stops ({})", kPatchExample, kNumbersExample));
        return std::nullopt;
    }
    fields.wrong_type("balance", *node, "\"roll\", \"frame\", a patch or three numbers", "\"roll\"");
    return std::nullopt;
}

std::optional<Stops> stops(std::optional<double> number) { return number ? std::optional(Stops(*number)) : std::nullopt; }

}  // namespace

PrintChoices read_print_keys(Fields& fields, PrintOf of) {
    PrintChoices print;
    print.balance = read_balance(fields, of);
    print.exposure = stops(fields.number("exposure", kExposure));
    print.contrast = fields.number("contrast", kContrast);
    print.black_point = stops(fields.number("black_point", kBlackPoint));
    print.saturation = fields.number("saturation", kSaturation);
    fields.reject_unknown();
    return print;
}

PrintChoices read_print(Fields& owner, PrintOf of) {
    const toml::table* table = owner.table("print", "print = { exposure = 0.5, contrast = 1.1 }");
    if (table == nullptr) return {};
    Fields fields(*table, "the print of " + owner.owner(), place_of(*table), owner.problems());
    return read_print_keys(fields, of);
}

}  // namespace basefog::ledger_room
