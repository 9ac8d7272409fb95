// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/observer.h"

namespace basefog {

void Observer::progress(std::string_view, double, double) {}
void Observer::notice(const std::string&) {}
bool Observer::cancelled() const { return false; }

Observer& silent_observer() {
    static Observer observer;
    return observer;
}

}  // namespace basefog
