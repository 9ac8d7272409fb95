// SPDX-License-Identifier: GPL-3.0-or-later
// No exception of a foreign library leaves this module.
#pragma once

#include "basefog/core/result.h"

#include <exception>
#include <new>
#include <string>
#include <utility>

namespace basefog::scan {

template <class Work>
[[nodiscard]] auto guarded(const std::string& path, Work&& work) -> decltype(work()) {
    try {
        return std::forward<Work>(work)();
    } catch (const std::bad_alloc&) {
        return fail(ErrorCode::too_large, "reading it needs more memory than there is", path, "close other programs, or scan in smaller parts");
    } catch (const std::exception& error) {
        return fail(ErrorCode::malformed, std::string("could not be decoded: ") + error.what(), path, "scan or export it again");
    }
}

}  // namespace basefog::scan
