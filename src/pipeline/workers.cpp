// SPDX-License-Identifier: GPL-3.0-or-later
#include "workers.h"

#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#include <atomic>

namespace basefog::pipeline {

ForEach on_all_threads() {
    ForEach for_each;
    for_each.at_once = static_cast<std::int64_t>(tbb::global_control::active_value(tbb::global_control::max_allowed_parallelism));
    for_each.run = [](std::int64_t n, std::int64_t at_once, const std::function<void(std::int64_t)>& work) {
        std::atomic<std::int64_t> next{0};
        const auto lane = [&](std::int64_t) {
            for (std::int64_t i = next++; i < n; i = next++) work(i);
        };
        const std::int64_t lanes = std::min(n, at_once);
        if (lanes <= 1) return lane(0);
        tbb::parallel_for(std::int64_t{0}, lanes, lane, tbb::simple_partitioner{});
    };
    return for_each;
}

}  // namespace basefog::pipeline
