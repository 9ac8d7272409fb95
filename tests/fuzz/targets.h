// SPDX-License-Identifier: GPL-3.0-or-later
// One target per reader of what comes from outside. The fuzzer feeds it anything, the replay test what was once a case.
#pragma once

#include <array>
#include <string_view>

namespace basefog::fuzz {

/// Each ends in a value or in an error with words; anything else ends the process.
void feed_tiff(std::string_view bytes);
void feed_raw(std::string_view bytes);
void feed_picture(std::string_view bytes);         ///< PNG and JPEG
void feed_profile(std::string_view bytes);         ///< ICC, of a scan
void feed_output_profile(std::string_view bytes);  ///< ICC, for positives
void feed_ledger(std::string_view bytes);
void feed_settings(std::string_view bytes);
void feed_layout(std::string_view bytes);
void feed_names(std::string_view bytes);  ///< names in a report, split at zero bytes

struct Target {
    std::string_view name;  ///< also that of its folder in testdata/fuzz
    void (*feed)(std::string_view bytes);
};
inline constexpr std::array<Target, 9> kTargets{{{"tiff", feed_tiff},
                                                 {"raw", feed_raw},
                                                 {"picture", feed_picture},
                                                 {"profile", feed_profile},
                                                 {"output_profile", feed_output_profile},
                                                 {"ledger", feed_ledger},
                                                 {"settings", feed_settings},
                                                 {"layout", feed_layout},
                                                 {"names", feed_names}}};

}  // namespace basefog::fuzz
