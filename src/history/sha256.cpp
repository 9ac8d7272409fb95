// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/sha256.h"

#include "basefog/core/assert.h"

#include <openssl/evp.h>
#include <array>

namespace basefog::history_room {

std::string sha256(std::string_view bytes) {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned int size = 0;
    const int done = EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr);
    BASEFOG_ASSERT(done == 1);
    std::string hex;
    for (unsigned int i = 0; i < size; ++i) {
        hex += "0123456789abcdef"[digest[i] >> 4];
        hex += "0123456789abcdef"[digest[i] & 0xf];
    }
    return hex;
}

}  // namespace basefog::history_room
