// SPDX-License-Identifier: GPL-3.0-or-later
// Files of a test: a folder that goes away, and other programs where they are installed.
#pragma once

#include <unistd.h>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace basefog::test {

class Folder {
public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "basefog-invert-XXXXXX").string();
        path_ = ::mkdtemp(name.data()) != nullptr ? name : std::string();
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    [[nodiscard]] std::string operator/(const std::string& name) const { return path_ + "/" + name; }
    [[nodiscard]] std::size_t count() const { return static_cast<std::size_t>(std::distance(std::filesystem::directory_iterator(path_), {})); }

private:
    std::string path_;
};

inline std::string read_file(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream bytes;
    bytes << file.rdbuf();
    return bytes.str();
}
inline void write_file(const std::string& path, const std::string& bytes) { std::ofstream(path, std::ios::binary) << bytes; }

inline bool installed(const std::string& program) { return std::system(("command -v " + program + " >/dev/null 2>&1").c_str()) == 0; }
/// Standard output of a command.
inline std::string output_of(const std::string& command) {
    std::string text;
    if (std::FILE* pipe = ::popen((command + " 2>/dev/null").c_str(), "r"); pipe != nullptr) {
        char buffer[4096];
        while (const std::size_t n = std::fread(buffer, 1, sizeof buffer, pipe)) text.append(buffer, n);
        ::pclose(pipe);
    }
    return text;
}

}  // namespace basefog::test
