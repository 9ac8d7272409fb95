// SPDX-License-Identifier: GPL-3.0-or-later
// How the library speaks to whoever runs it. Library code never prints, exits or asks; it tells an Observer.
#pragma once

#include <string>
#include <string_view>

namespace basefog {

class Observer {
public:
    virtual ~Observer() = default;
    /// `done` of `total` units of the named step; called from one thread at a time.
    virtual void progress(std::string_view step, double done, double total);
    /// Something the person should know now, which is not part of any result (e.g. a file spilled to disk).
    virtual void notice(const std::string& message);
    /// True when the work should stop soon; the caller then returns ErrorCode::interrupted.
    [[nodiscard]] virtual bool cancelled() const;
};

/// Says nothing and never cancels.
[[nodiscard]] Observer& silent_observer();

}  // namespace basefog
