// SPDX-License-Identifier: GPL-3.0-or-later
// Errors: the work cannot go on. Who detects one words it; callers only pass it on, adding at most the file.
// (News about the film is a Finding; a broken precondition is a bug: see assert.h.)
#pragma once

#include <string>
#include <tl/expected.hpp>

namespace basefog {

enum class ErrorCode {
    usage,        ///< options that contradict each other or are out of range
    not_found,    ///< a file or folder that is named but absent
    unreadable,   ///< it exists but the system will not let us read it, or reading failed midway
    malformed,    ///< it is damaged, or not what its name says
    unsupported,  ///< a valid file of a kind this program does not handle
    too_large,    ///< beyond a stated limit
    unwritable,   ///< a result could not be written
    interrupted,  ///< the person stopped the program
};

struct Error {
    ErrorCode code = ErrorCode::malformed;
    std::string what;  ///< what is wrong, one sentence without the file's name
    std::string path;  ///< which file or folder; may be empty
    std::string hint;  ///< what to do; may be empty
    friend bool operator==(const Error&, const Error&) = default;
};

/// "path: what; hint"
[[nodiscard]] std::string describe(const Error& error);

/// Named as in std::expected (C++23), for a later swap.
template <class T>
using Result = tl::expected<T, Error>;
using Failure = tl::unexpected<Error>;

[[nodiscard]] inline Failure fail(ErrorCode code, std::string what, std::string path = {}, std::string hint = {}) {
    return Failure(Error{code, std::move(what), std::move(path), std::move(hint)});
}

}  // namespace basefog
