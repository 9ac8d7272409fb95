// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/worker.h"

#include <algorithm>

namespace basefog::review {

/// What the run says on its way, kept for whoever asks.
class Worker::Watch : public Observer {
public:
    explicit Watch(Worker& worker) : worker_(worker) {}
    void progress(std::string_view step, double done, double total) override {
        const std::lock_guard lock(worker_.mutex_);
        worker_.step_ = step;
        worker_.share_ = total > 0 ? std::clamp(done / total, 0.0, 1.0) : 0;
    }
    void notice(const std::string& message) override {
        const std::lock_guard lock(worker_.mutex_);
        worker_.message_ += (worker_.message_.empty() ? "" : "\n") + message;
    }
    [[nodiscard]] bool cancelled() const override { return worker_.stop_; }

private:
    Worker& worker_;
};

Worker::~Worker() { end(); }

void Worker::end() {
    stop();
    if (thread_.joinable()) thread_.join();
}

bool Worker::start(std::function<void()> after) {
    {
        const std::lock_guard lock(mutex_);
        if (state_ == "busy") return false;
        state_ = "busy";
        step_ = "starting";
        message_.clear();
        share_ = 0;
        stop_ = false;
    }
    if (thread_.joinable()) thread_.join();  // it has ended: its last act was to leave "busy"
    thread_ = std::thread([this, after = std::move(after)] { run(after); });
    return true;
}

void Worker::run(const std::function<void()>& after) {
    Watch watch(*this);
    const Result<void> outcome = work_(watch);
    if (after && !stop_) after();
    const std::lock_guard lock(mutex_);
    state_ = outcome ? "done" : "failed";
    if (!outcome) message_ = describe(outcome.error());
}

bool Worker::busy() const {
    const std::lock_guard lock(mutex_);
    return state_ == "busy";
}

bool Worker::done() const {
    const std::lock_guard lock(mutex_);
    return state_ == "done";
}

nlohmann::ordered_json Worker::state() const {
    const std::lock_guard lock(mutex_);
    return {{"state", state_}, {"step", step_}, {"share", share_}, {"message", message_}};
}

}  // namespace basefog::review
