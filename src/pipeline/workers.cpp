// SPDX-License-Identifier: GPL-3.0-or-later
#include "workers.h"

#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#include <tbb/task_group.h>

#include <atomic>
#include <thread>
#include <utility>
#include <vector>

namespace basefog::pipeline {

namespace {

// The thread sanitizer does not see what the scheduler orders, so it is shown plain threads.
#if defined(__SANITIZE_THREAD__)
#define BASEFOG_PLAIN_THREADS
#elif defined(__has_feature)
#if __has_feature(thread_sanitizer)
#define BASEFOG_PLAIN_THREADS
#endif
#endif

template <class Lane>
void side_by_side(std::int64_t lanes, const Lane& lane) {
#ifdef BASEFOG_PLAIN_THREADS
    std::vector<std::jthread> threads;
    for (std::int64_t i = 1; i < lanes; ++i) threads.emplace_back(lane, i);
    lane(0);
#else
    tbb::parallel_for(std::int64_t{0}, lanes, lane, tbb::simple_partitioner{});
#endif
}

}  // namespace

#ifdef BASEFOG_PLAIN_THREADS
struct Background::State {
    std::jthread thread;
};
void Background::run(std::function<void()> work) {
    wait();
    state_->thread = std::jthread(std::move(work));
}
void Background::wait() {
    if (state_->thread.joinable()) state_->thread.join();
}
#else
struct Background::State {
    tbb::task_group group;
};
void Background::run(std::function<void()> work) { state_->group.run(std::move(work)); }
void Background::wait() { state_->group.wait(); }
#endif

Background::Background() : state_(std::make_unique<State>()) {}
Background::~Background() { wait(); }

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
        side_by_side(lanes, lane);
    };
    return for_each;
}

}  // namespace basefog::pipeline
