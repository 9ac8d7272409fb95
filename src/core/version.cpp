// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/version.h"

namespace basefog {
std::string_view version() { return BASEFOG_VERSION; }
}  // namespace basefog
