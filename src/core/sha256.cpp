// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/sha256.h"

#include "basefog/core/assert.h"

#include <openssl/evp.h>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

namespace basefog {
namespace {

class Hash {
public:
    Hash() : context_(EVP_MD_CTX_new(), EVP_MD_CTX_free) {
        BASEFOG_ASSERT(context_ != nullptr && EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr) == 1);
    }
    void add(const void* bytes, std::size_t size) { BASEFOG_ASSERT(EVP_DigestUpdate(context_.get(), bytes, size) == 1); }
    [[nodiscard]] std::string hex() {
        std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
        unsigned int size = 0;
        BASEFOG_ASSERT(EVP_DigestFinal_ex(context_.get(), digest.data(), &size) == 1);
        std::string text;
        for (unsigned int i = 0; i < size; ++i) {
            text += "0123456789abcdef"[digest[i] >> 4];
            text += "0123456789abcdef"[digest[i] & 0xf];
        }
        return text;
    }

private:
    std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context_;
};

}  // namespace

std::string sha256(std::string_view bytes) {
    Hash hash;
    hash.add(bytes.data(), bytes.size());
    return hash.hex();
}

Result<std::string> sha256_of_file(const std::string& path) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rbe"), std::fclose);
    if (file == nullptr) {
        const auto code = errno == ENOENT ? ErrorCode::not_found : ErrorCode::unreadable;
        return fail(code, std::string("cannot be opened: ") + std::strerror(errno), path, "check the name, and that you may read it");
    }
    constexpr std::size_t kPiece = 1 << 20;  // Chosen: reads at full speed
    std::vector<char> piece(kPiece);
    Hash hash;
    while (const std::size_t got = std::fread(piece.data(), 1, piece.size(), file.get())) hash.add(piece.data(), got);
    if (std::ferror(file.get()) != 0) return fail(ErrorCode::unreadable, std::string("reading failed: ") + std::strerror(errno), path, "check the disk");
    return hash.hex();
}

}  // namespace basefog
