// SPDX-License-Identifier: GPL-3.0-or-later
// Speaking to the person: progress on a terminal, notices, and the wish to stop.
#pragma once

#include "basefog/core/observer.h"

#include <memory>
#include <string>

namespace spdlog {
class logger;
}

namespace basefog::cli {

enum class Loudness { quiet, normal, verbose };

class Console : public Observer {
public:
    explicit Console(Loudness loudness);
    ~Console() override;
    void progress(std::string_view step, double done, double total) override;
    void notice(const std::string& message) override;
    /// True after SIGINT or SIGTERM.
    [[nodiscard]] bool cancelled() const override;
    void error(const std::string& message);
    /// Ends the progress line.
    void finish_line();

private:
    std::shared_ptr<spdlog::logger> log_;
    Loudness loudness_;
    bool live_ = false;  // progress is drawn on one line of a terminal
    bool line_open_ = false;
    std::string last_step_;
};

/// From now on SIGINT and SIGTERM ask the run to stop instead of killing it.
void stop_politely_on_signals();

}  // namespace basefog::cli
