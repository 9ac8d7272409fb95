// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/names.h"

namespace basefog::report {

// No default branches: the compiler then says which enumerator was forgotten.

std::string_view name_of(Severity severity) {
    switch (severity) {
        case Severity::note:
            return "note";
        case Severity::caution:
            return "caution";
        case Severity::serious:
            return "serious";
    }
    return "note";
}

std::string_view name_of(ErrorCode code) {
    switch (code) {
        case ErrorCode::usage:
            return "usage";
        case ErrorCode::not_found:
            return "not_found";
        case ErrorCode::unreadable:
            return "unreadable";
        case ErrorCode::malformed:
            return "malformed";
        case ErrorCode::unsupported:
            return "unsupported";
        case ErrorCode::too_large:
            return "too_large";
        case ErrorCode::unwritable:
            return "unwritable";
        case ErrorCode::interrupted:
            return "interrupted";
    }
    return "malformed";
}

std::string_view name_of(FileKind kind) {
    switch (kind) {
        case FileKind::tiff:
            return "tiff";
        case FileKind::png:
            return "png";
        case FileKind::jpeg:
            return "jpeg";
        case FileKind::raw:
            return "raw";
    }
    return "tiff";
}

std::string_view name_of(Encoding::Kind kind) {
    switch (kind) {
        case Encoding::Kind::linear:
            return "linear";
        case Encoding::Kind::srgb:
            return "srgb";
        case Encoding::Kind::gamma:
            return "gamma";
        case Encoding::Kind::icc_profile:
            return "icc_profile";
    }
    return "linear";
}

std::string_view name_of(Origin origin) {
    switch (origin) {
        case Origin::file:
            return "file";
        case Origin::option:
            return "option";
        case Origin::assumed:
            return "assumed";
    }
    return "assumed";
}

std::string_view name_of(ScaleOrigin origin) {
    switch (origin) {
        case ScaleOrigin::file:
            return "file";
        case ScaleOrigin::option:
            return "option";
        case ScaleOrigin::perforations:
            return "perforations";
        case ScaleOrigin::film_width:
            return "film_width";
        case ScaleOrigin::assumed:
            return "assumed";
    }
    return "assumed";
}

std::string_view name_of(StripDirection direction) {
    switch (direction) {
        case StripDirection::horizontal:
            return "horizontal";
        case StripDirection::vertical:
            return "vertical";
    }
    return "horizontal";
}

std::string_view name_of(FrameKind kind) {
    switch (kind) {
        case FrameKind::picture:
            return "picture";
        case FrameKind::blank:
            return "blank";
        case FrameKind::fogged:
            return "fogged";
    }
    return "picture";
}

std::string_view name_of(EdgePrint::Kind kind) {
    switch (kind) {
        case EdgePrint::Kind::none:
            return "none";
        case EdgePrint::Kind::numbers:
            return "numbers";
        case EdgePrint::Kind::machine_code:
            return "machine_code";
    }
    return "none";
}

std::string_view name_of(ResidueGrade grade) {
    switch (grade) {
        case ResidueGrade::clean:
            return "clean";
        case ResidueGrade::trace:
            return "trace";
        case ResidueGrade::partial:
            return "partial";
        case ResidueGrade::heavy:
            return "heavy";
    }
    return "clean";
}

std::string_view name_of(Outcome outcome) {
    switch (outcome) {
        case Outcome::at_box_speed:
            return "at_box_speed";
        case Outcome::paid_off:
            return "paid_off";
        case Outcome::more_than_needed:
            return "more_than_needed";
        case Outcome::not_enough:
            return "not_enough";
        case Outcome::cannot_tell:
            return "cannot_tell";
    }
    return "cannot_tell";
}

std::string_view name_of(StockKind kind) {
    switch (kind) {
        case StockKind::colour_negative:
            return "colour_negative";
        case StockKind::black_and_white:
            return "black_and_white";
    }
    return "colour_negative";
}

std::vector<std::string> names_of(MeasureFlag flags) {
    std::vector<std::string> names;
    if (has(flags, MeasureFlag::clipped)) names.emplace_back("clipped");
    if (has(flags, MeasureFlag::dusty)) names.emplace_back("dusty");
    if (has(flags, MeasureFlag::extrapolated)) names.emplace_back("extrapolated");
    if (has(flags, MeasureFlag::assumed)) names.emplace_back("assumed");
    if (has(flags, MeasureFlag::relative)) names.emplace_back("relative");
    return names;
}

}  // namespace basefog::report
