// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"

#include <catch2/catch.hpp>
#include <string>
#include <vector>

namespace ledger_checks {

/// The error must be malformed, name the path, and hold each part.
template <class T>
void must_say(const basefog::Result<T>& result, const std::string& path, const std::vector<std::string>& parts) {
    REQUIRE_FALSE(result);
    CHECK(result.error().code == basefog::ErrorCode::malformed);
    CHECK(result.error().path == path);
    for (const std::string& part : parts) CHECK_THAT(result.error().what, Catch::Contains(part));
}

inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

}  // namespace ledger_checks
