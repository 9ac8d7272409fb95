// SPDX-License-Identifier: GPL-3.0-or-later
// How a stage does independent pieces of its work: it does not know of threads, its caller does.
#pragma once

#include "basefog/core/result.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

namespace basefog {

/// Does work(0) to work(n - 1), each once, in any order, at most `at_once` of them at the same time; returns when all are done.
struct ForEach {
    std::function<void(std::int64_t n, std::int64_t at_once, const std::function<void(std::int64_t)>& work)> run =
        [](std::int64_t n, std::int64_t, const std::function<void(std::int64_t)>& work) {
            for (std::int64_t i = 0; i < n; ++i) work(i);
        };
    std::int64_t at_once = 1;  ///< so many pieces make sense, and no more

    /// Of several failures the first in the order of the pieces counts, whatever came first in time. `most`: at once, where memory asks for fewer.
    template <class Work>
    [[nodiscard]] Result<void> operator()(std::int64_t n, std::int64_t most, const Work& work) const {
        std::vector<std::optional<Error>> failures(static_cast<std::size_t>(std::max<std::int64_t>(0, n)));
        run(n, std::clamp<std::int64_t>(most, 1, at_once), [&](std::int64_t i) {
            if (auto done = work(i); !done) failures[static_cast<std::size_t>(i)] = std::move(done.error());
        });
        for (std::optional<Error>& failure : failures)
            if (failure) return Failure(std::move(*failure));
        return {};
    }

    /// Pieces that cannot fail.
    void all(std::size_t n, const std::function<void(std::size_t)>& work) const {
        run(static_cast<std::int64_t>(n), at_once, [&](std::int64_t i) { work(static_cast<std::size_t>(i)); });
    }
};

}  // namespace basefog
