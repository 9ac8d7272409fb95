// SPDX-License-Identifier: GPL-3.0-or-later
// Work that takes a while, beside the page that waits for it: the run made again, or sheets measured for proofs.
#pragma once

#include "basefog/review/types.h"

#include <atomic>
#include <functional>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>

namespace basefog::review {

class Worker {
public:
    explicit Worker(std::function<Result<void>(Observer&)> work) : work_(std::move(work)) {}
    ~Worker();
    Worker(const Worker&) = delete;
    Worker& operator=(const Worker&) = delete;

    /// False where it is at work already. `after` is called from its thread once the work has ended, well or not, unless it was stopped.
    bool start(std::function<void()> after = {});
    void stop() { stop_ = true; }
    /// Stops and waits.
    void end();
    [[nodiscard]] bool busy() const;
    /// The last work went well.
    [[nodiscard]] bool done() const;
    [[nodiscard]] nlohmann::ordered_json state() const;

private:
    class Watch;
    void run(const std::function<void()>& after);
    std::function<Result<void>(Observer&)> work_;
    std::thread thread_;
    std::atomic<bool> stop_ = false;
    mutable std::mutex mutex_;
    std::string state_ = "idle", step_, message_;  // "idle", "busy", "done", "failed"
    double share_ = 0;
};

}  // namespace basefog::review
