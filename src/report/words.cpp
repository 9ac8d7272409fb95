// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/words.h"

#include "report/names.h"
#include "report/text.h"

#include <fmt/format.h>

namespace basefog::report {

std::string_view headline(Outcome outcome) {
    switch (outcome) {
        case Outcome::at_box_speed:
            return "Shot at box speed";
        case Outcome::paid_off:
            return "The extra exposure paid off";
        case Outcome::more_than_needed:
            return "More exposure than needed";
        case Outcome::not_enough:
            return "Not enough exposure";
        case Outcome::cannot_tell:
            return "Cannot tell";
    }
    return "Cannot tell";
}

std::string_view words(ResidueGrade grade) { return name_of(grade); }

std::string_view advice(ResidueGrade grade) {
    switch (grade) {
        case ResidueGrade::clean:
            return "No leftover backing can be told from noise. Nothing to do.";
        case ResidueGrade::trace:
            return "A few specks or smears. Wash again only if they sit in a picture that matters.";
        case ResidueGrade::partial:
            return "A second backing wash is worth trying before these strips are scanned again or put away.";
        case ResidueGrade::heavy:
            return "Wash again first: the backing shows in the pictures and spoils what is measured here.";
    }
    return "";
}

int level(ResidueGrade grade) {
    switch (grade) {
        case ResidueGrade::clean:
            return 0;
        case ResidueGrade::trace:
            return 1;
        case ResidueGrade::partial:
            return 2;
        case ResidueGrade::heavy:
            return 3;
    }
    return 0;
}

std::string_view words(ScaleOrigin origin) {
    switch (origin) {
        case ScaleOrigin::file:
            return "as the file says";
        case ScaleOrigin::option:
            return "as told";
        case ScaleOrigin::perforations:
            return "measured from the perforations";
        case ScaleOrigin::film_width:
            return "measured from the film's width";
        case ScaleOrigin::assumed:
            return "assumed";
    }
    return "assumed";
}

std::string_view words(Origin origin) {
    switch (origin) {
        case Origin::file:
            return "as the file says";
        case Origin::option:
            return "as told";
        case Origin::assumed:
            return "assumed";
    }
    return "assumed";
}

std::string_view heading(Severity severity) {
    switch (severity) {
        case Severity::serious:
            return "Serious";
        case Severity::caution:
            return "Caution";
        case Severity::note:
            return "Note";
    }
    return "Note";
}

std::string words(MeasureFlag flags) {
    std::string text;
    for (const std::string& name : names_of(flags)) text += (text.empty() ? "" : ", ") + name;
    return text;
}

BathState bath_state(const RollRecord& roll) {
    BathState state;
    if (!roll.rolls_done_before) {
        state.text = "rolls done before: not told";
    } else if (roll.bath && roll.bath->good_for_rolls) {
        state.spent = *roll.rolls_done_before >= *roll.bath->good_for_rolls;
        state.text = fmt::format("{} done before this one, {} {}", counted(*roll.rolls_done_before, "roll", "rolls"),
                                 state.spent ? "but good for only" : "good for", *roll.bath->good_for_rolls);
    } else {
        state.text = counted(*roll.rolls_done_before, "roll", "rolls") + " done before this one";
    }
    if (roll.bath_age_days) state.text += ", " + counted(*roll.bath_age_days, "day", "days") + " old";
    return state;
}

}  // namespace basefog::report
