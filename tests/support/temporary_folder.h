// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <unistd.h>
#include <atomic>
#include <filesystem>
#include <iterator>
#include <string>

namespace basefog {

/// A folder of its own for one test, removed afterwards.
class TemporaryFolder {
public:
    TemporaryFolder() : path_(std::filesystem::temp_directory_path() / name()) { std::filesystem::create_directories(path_); }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::permissions(path_, std::filesystem::perms::owner_all, ignored);
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }
    [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }
    /// Entries directly in it.
    [[nodiscard]] std::size_t count() const { return static_cast<std::size_t>(std::distance(std::filesystem::directory_iterator(path_), {})); }

private:
    static std::string name() {
        static std::atomic<int> counter{0};
        return "basefog-test-" + std::to_string(::getpid()) + "-" + std::to_string(counter++);
    }
    std::filesystem::path path_;
};

}  // namespace basefog
