// SPDX-License-Identifier: GPL-3.0-or-later
// Who may ask, and for what. The page is for the browser of the person who started the program, and for nobody's else: not for other
// machines (the server binds to loopback), not for other pages in the same browser (host, origin and fetch metadata are judged [FetchMetadata1]),
// not for other users of the machine (the token).
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace basefog::review {

/// In a time that does not tell where the texts part.
[[nodiscard]] bool same_secret(std::string_view a, std::string_view b);
/// "127.0.0.1:PORT" or "localhost:PORT": any other name was made to point here (DNS rebinding).
[[nodiscard]] bool is_own_host(std::string_view host, int port);
/// The same with "http://" before it.
[[nodiscard]] bool is_own_origin(std::string_view origin, int port);
/// The file's path if it lies within the folder, links followed, and is a file; else nothing.
[[nodiscard]] std::optional<std::string> file_within(const std::string& folder, const std::string& relative);

}  // namespace basefog::review
