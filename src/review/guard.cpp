// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/guard.h"

#include <algorithm>
#include <filesystem>

namespace basefog::review {

bool same_secret(std::string_view a, std::string_view b) {
    if (a.size() != b.size()) return false;
    unsigned char apart = 0;
    for (std::size_t i = 0; i < a.size(); ++i)
        apart = static_cast<unsigned char>(apart | (static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i])));
    return apart == 0;
}

bool is_own_host(std::string_view host, int port) {
    const std::string ending = ":" + std::to_string(port);
    return host == "127.0.0.1" + ending || host == "localhost" + ending;
}

bool is_own_origin(std::string_view origin, int port) {
    constexpr std::string_view kScheme = "http://";
    return origin.substr(0, kScheme.size()) == kScheme && is_own_host(origin.substr(kScheme.size()), port);
}

std::optional<std::string> file_within(const std::string& folder, const std::string& relative) {
    namespace fs = std::filesystem;
    if (relative.empty() || relative.find('\0') != std::string::npos || fs::path(relative).is_absolute()) return std::nullopt;
    std::error_code problem;
    const fs::path root = fs::canonical(folder, problem);
    if (problem) return std::nullopt;
    const fs::path file = fs::canonical(root / relative, problem);
    if (problem || !fs::is_regular_file(file, problem) || problem) return std::nullopt;
    const auto [end, ignored] = std::mismatch(root.begin(), root.end(), file.begin(), file.end());
    return end == root.end() ? std::optional(file.string()) : std::nullopt;
}

}  // namespace basefog::review
