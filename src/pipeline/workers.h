// SPDX-License-Identifier: GPL-3.0-or-later
// The stages' independent pieces on this process's threads.
#pragma once

#include "basefog/core/for_each.h"

#include <functional>
#include <memory>

namespace basefog::pipeline {

/// On as many threads as the run allows.
[[nodiscard]] ForEach on_all_threads();

/// One piece of work beside the caller's own, within the same number of threads: where there is one only, it is done when waited for.
class Background {
public:
    Background();
    ~Background();
    Background(const Background&) = delete;
    Background& operator=(const Background&) = delete;
    /// One at a time: the work before is about to end, or has.
    void run(std::function<void()> work);
    void wait();

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace basefog::pipeline
