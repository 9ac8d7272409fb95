// SPDX-License-Identifier: GPL-3.0-or-later
#include "outputs.h"

#include "basefog/core/pending_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>
#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>
#include <vector>

namespace basefog::pipeline {
namespace fs = std::filesystem;

namespace {

constexpr std::array<const char*, 4> kParts{"positives", "proofs", "contact", "maps"};
/// Made only when asked for.
constexpr std::array<const char*, 2> kFurtherParts{"linear", "density"};
constexpr std::array<const char*, 4> kReports{"report.json", "report.html", "frames.csv", "settings.toml"};

std::vector<const char*> all_parts() {
    std::vector<const char*> parts(kParts.begin(), kParts.end());
    parts.insert(parts.end(), kFurtherParts.begin(), kFurtherParts.end());
    return parts;
}

/// File systems may not tell letter cases apart.
std::string key(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

bool holds_results(const fs::path& folder) {
    std::error_code ignored;
    for (const char* name : kReports)
        if (fs::exists(folder / name, ignored)) return true;
    for (const char* part : all_parts())
        if (fs::is_directory(folder / part, ignored) && !fs::is_empty(folder / part, ignored)) return true;
    return false;
}

/// Nobody else writes here, so what has a temporary name belongs to a run that is gone.
void remove_half_written(const fs::path& folder) {
    std::vector<fs::path> places{folder, folder / "resume"};
    for (const char* part : all_parts()) places.push_back(folder / part);
    std::error_code ignored;
    for (const fs::path& place : places)
        for (const auto& entry : fs::directory_iterator(place, ignored))
            if (PendingFile::is_temporary_name(entry.path().filename().string())) fs::remove(entry.path(), ignored);
}

}  // namespace

/// An advisory lock on the folder itself: it leaves no file and is gone with the process, however that ends.
struct OutputFolder::Claim {
    int descriptor = -1;
    explicit Claim(const std::string& folder) : descriptor(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {}
    ~Claim() {
        if (descriptor >= 0) ::close(descriptor);
    }
    Claim(const Claim&) = delete;
    Claim& operator=(const Claim&) = delete;
    [[nodiscard]] bool exclusive() const { return descriptor < 0 || ::flock(descriptor, LOCK_EX | LOCK_NB) == 0; }
};

Result<OutputFolder> OutputFolder::open(const std::string& folder, bool positives, const std::function<bool()>& may_go_on, const InputFiles& inputs) {
    std::error_code error;
    fs::create_directories(folder, error);  // a failure shows below, where it is told what it means
    auto claim = std::make_shared<Claim>(folder);
    if (!claim->exclusive()) return fail(ErrorCode::unwritable, "another run is writing there just now", folder, "wait for it, or give another --output");
    if (fs::exists(folder, error) && !fs::is_directory(folder, error))
        return fail(ErrorCode::unwritable, "is a file, not a folder", folder, "choose another --output");
    if (holds_results(folder) && !may_go_on())
        return fail(ErrorCode::unwritable, "already holds results of other inputs or choices, which are never overwritten unasked", folder,
                    "give another --output, --update to make anew what changed, or --replace to make everything anew");
    remove_half_written(folder);
    std::vector<const char*> parts{"maps"};
    if (positives) parts.assign(kParts.begin(), kParts.end());
    for (const char* part : parts) {
        fs::create_directories(fs::path(folder) / part, error);
        if (error) return fail(ErrorCode::unwritable, "cannot be created: " + error.message(), folder, "choose an --output that may be written");
    }
    if (::access(folder.c_str(), W_OK) != 0) return fail(ErrorCode::unwritable, "may not be written to", folder, "choose an --output that may be written");
    return OutputFolder(folder, std::move(claim), inputs);
}

Result<void> OutputFolder::add_part(const std::string& part) {
    std::error_code error;
    fs::create_directories(fs::path(folder_) / part, error);
    if (error) return fail(ErrorCode::unwritable, "cannot be created: " + error.message(), absolute(part), "choose an --output that may be written");
    return {};
}

std::string OutputFolder::absolute(const std::string& relative) const { return (fs::path(folder_) / relative).string(); }

std::string OutputFolder::unique(const std::string& part, const std::string& stem, const std::string& ending) {
    const std::string prefix = part.empty() ? std::string{} : part + "/";
    std::string relative = prefix + stem + ending;
    for (int i = 2; inputs_->holds(absolute(relative)) || !taken_.insert(key(relative)).second; ++i)
        relative = prefix + stem + "-" + std::to_string(i) + ending;
    names_.push_back({part, stem, ending, relative});
    return relative;
}

bool OutputFolder::take_again(const std::vector<GivenName>& names) {
    const std::size_t before = names_.size();
    for (const GivenName& name : names) {
        if (unique(name.part, name.stem, name.ending) == name.relative) continue;
        for (std::size_t i = before; i < names_.size(); ++i) taken_.erase(key(names_[i].relative));
        names_.resize(before);
        return false;
    }
    return true;
}

void OutputFolder::remove_named_since(std::size_t count) const {
    std::error_code ignored;
    for (std::size_t i = count; i < names_.size(); ++i) fs::remove(absolute(names_[i].relative), ignored);
}

int OutputFolder::count_leftovers() const {
    int n = 0;
    std::error_code ignored;
    for (const char* part : all_parts())
        for (const auto& entry : fs::directory_iterator(fs::path(folder_) / part, ignored))
            if (entry.is_regular_file(ignored) && !taken_.contains(key(std::string(part) + "/" + entry.path().filename().string()))) ++n;
    return n;
}

}  // namespace basefog::pipeline
