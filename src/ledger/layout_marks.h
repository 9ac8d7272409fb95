// SPDX-License-Identifier: GPL-3.0-or-later
// How a layout's values are spelt, shared by its writer and reader.
#pragma once

#include "basefog/frames/types.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace basefog::ledger_room {

[[nodiscard]] std::string_view word_for(FrameKind kind);
[[nodiscard]] std::string_view word_for(StripDirection direction);
[[nodiscard]] std::string_view word_for(ScaleOrigin origin);
[[nodiscard]] std::optional<FrameKind> frame_kind(std::string_view word);
[[nodiscard]] std::optional<StripDirection> strip_direction(std::string_view word);
[[nodiscard]] std::optional<ScaleOrigin> scale_origin(std::string_view word);

/// "[[x, y], [x, y], [x, y], [x, y]]" to 0.01 px.
[[nodiscard]] std::string corners_text(const Quad& corners);
/// Eight digits that change when a frame's corners or kind are edited: so the reader can tell what was found from what
/// was set by hand. FNV-1a, 32 bits; not a safeguard against anyone.
[[nodiscard]] std::string check_digits(const Quad& corners, FrameKind kind);

}  // namespace basefog::ledger_room
