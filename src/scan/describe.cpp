// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/scan/types.h"

#include <array>
#include <charconv>

namespace basefog {

std::string describe(const Encoding& encoding) {
    switch (encoding.kind) {
        case Encoding::Kind::linear:
            return "linear";
        case Encoding::Kind::srgb:
            return "srgb";
        case Encoding::Kind::icc_profile:
            return "embedded profile";
        case Encoding::Kind::gamma:
            break;
    }
    std::array<char, 32> digits{};  // to_chars: the shortest text that reads back as the same number, in any locale
    const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), encoding.gamma).ptr;
    return "gamma " + std::string(digits.data(), end);
}

std::string describe_encoding(const ScanInfo& info) {
    std::string text = describe(info.encoding);
    if (info.encoding.kind == Encoding::Kind::icc_profile && !info.profile_name.empty()) text += " (" + info.profile_name + ")";
    return text;
}

}  // namespace basefog
