// SPDX-License-Identifier: GPL-3.0-or-later
// libFuzzer's entry; built once per target.
#include "fuzz/targets.h"

#include <cstddef>
#include <cstdint>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    basefog::fuzz::BASEFOG_FUZZ_FEED({reinterpret_cast<const char*>(data), size});
    return 0;
}
