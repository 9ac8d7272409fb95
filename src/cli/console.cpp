// SPDX-License-Identifier: GPL-3.0-or-later
#include "console.h"

#include <spdlog/logger.h>
#include <spdlog/sinks/ansicolor_sink.h>
#include <unistd.h>
#include <algorithm>
#include <atomic>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstdlib>

namespace basefog::cli {
namespace {

volatile std::sig_atomic_t stop_asked = 0;
void ask_to_stop(int) { stop_asked = 1; }

bool colour_wanted() {
    const char* no_colour = std::getenv("NO_COLOR");  // https://no-color.org: set and not empty means no colour
    return ::isatty(STDERR_FILENO) != 0 && (no_colour == nullptr || *no_colour == '\0');
}

}  // namespace

void stop_politely_on_signals() {
    struct sigaction action {};
    action.sa_handler = ask_to_stop;
    sigemptyset(&action.sa_mask);
    ::sigaction(SIGINT, &action, nullptr);
    ::sigaction(SIGTERM, &action, nullptr);
}

Console::Console(Loudness loudness) : loudness_(loudness), live_(loudness != Loudness::quiet && ::isatty(STDERR_FILENO) != 0) {
    auto sink = std::make_shared<spdlog::sinks::ansicolor_stderr_sink_mt>(colour_wanted() ? spdlog::color_mode::always : spdlog::color_mode::never);
    log_ = std::make_shared<spdlog::logger>("basefog", std::move(sink));
    log_->set_pattern("%^%l%$: %v");
    log_->set_level(loudness == Loudness::quiet ? spdlog::level::err : loudness == Loudness::verbose ? spdlog::level::debug : spdlog::level::warn);
}

Console::~Console() { finish_line(); }

void Console::progress(std::string_view step, double done, double total) {
    if (live_) {
        const int percent = total > 0 ? static_cast<int>(std::lround(100 * std::clamp(done / total, 0.0, 1.0))) : 0;
        std::fprintf(stderr, "\r\033[K%.*s %d %%", static_cast<int>(std::min<std::size_t>(step.size(), 60)), step.data(), percent);
        std::fflush(stderr);
        line_open_ = true;
    } else if (loudness_ == Loudness::verbose && step != last_step_) {
        log_->debug("{}", step);
        last_step_ = step;
    }
}

void Console::notice(const std::string& message) {
    finish_line();
    log_->warn("{}", message);
}

void Console::error(const std::string& message) {
    finish_line();
    log_->error("{}", message);
}

void Console::finish_line() {
    if (!line_open_) return;
    std::fputs("\r\033[K", stderr);
    std::fflush(stderr);
    line_open_ = false;
}

bool Console::cancelled() const { return stop_asked != 0; }

}  // namespace basefog::cli
