// SPDX-License-Identifier: GPL-3.0-or-later
#include "finished_work.h"

#include "group_key.h"

#include "basefog/core/pending_file.h"
#include "basefog/core/sha256.h"
#include "basefog/core/version.h"

#include <sys/stat.h>
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <utility>

namespace basefog::pipeline {
namespace fs = std::filesystem;

void fields_of(Is<FileStamp> auto& v, auto& visit) {
    auto& [device, inode, size, modified_s, modified_ns] = v;
    visit(device, inode, size, modified_s, modified_ns);
}
void fields_of(Is<KnownFile> auto& v, auto& visit) {
    auto& [path, stamp, changed_s, changed_ns, digest] = v;
    visit(path, stamp, changed_s, changed_ns, digest);
}
void fields_of(Is<GivenName> auto& v, auto& visit) {
    auto& [part, stem, ending, relative] = v;
    visit(part, stem, ending, relative);
}

namespace {

constexpr const char* kFolder = "resume";
constexpr const char* kMarker = "run";
constexpr const char* kEnding = ".group";
/// First line of every file here; another number is another layout, and as good as absent.
const std::string kMagic = "basefog resume 1\n";
constexpr std::size_t kDigestLength = 64;

std::string content_of(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

std::string sealed(const std::string& body) { return kMagic + sha256(body) + body; }
/// The body, or nothing when a byte is missing or different.
std::string unsealed(const std::string& content) {
    if (!content.starts_with(kMagic) || content.size() < kMagic.size() + kDigestLength) return {};
    std::string body = content.substr(kMagic.size() + kDigestLength);
    return content.compare(kMagic.size(), kDigestLength, sha256(body)) == 0 ? body : std::string{};
}

KnownFile known(const std::string& path, const std::string& where) {
    KnownFile file;
    file.path = path;
    struct stat state {};
    if (::stat(where.c_str(), &state) != 0) return file;
    file.stamp = stamp_of(where);
    file.changed_s = state.st_ctim.tv_sec;
    file.changed_ns = state.st_ctim.tv_nsec;
    return file;
}

bool untouched(const KnownFile& then, const KnownFile& now) {
    return then.stamp == now.stamp && then.changed_s == now.changed_s && then.changed_ns == now.changed_ns;
}

/// A result's times and size; a copied or restored folder keeps these, but neither its place on disk nor the time of last change.
bool same_result(const KnownFile& then, const KnownFile& now) {
    if (!then.stamp || !now.stamp) return then.stamp.has_value() == now.stamp.has_value();
    return then.stamp->size == now.stamp->size && then.stamp->modified_s == now.stamp->modified_s && then.stamp->modified_ns == now.stamp->modified_ns;
}

/// Frames name their scans by index into the run's; kept, by index into the group's.
void renumber(std::vector<RollRecord>& rolls, const std::vector<int>& from, const std::vector<int>& to) {
    for (RollRecord& roll : rolls)
        for (FrameRef& frame : roll.frames) frame.scan = to[static_cast<std::size_t>(std::find(from.begin(), from.end(), frame.scan) - from.begin())];
}

std::vector<int> counted(std::size_t n) {
    std::vector<int> numbers(n);
    for (std::size_t i = 0; i < n; ++i) numbers[i] = static_cast<int>(i);
    return numbers;
}

}  // namespace

std::vector<GroupWork> works_of(const RunOptions& options, const Plan& plan, const std::string& run_key) {
    std::vector<GroupWork> works;
    for (const std::vector<int>& group : plan.groups) {
        GroupWork work{group_key(run_key, plan, group, options), {}};
        for (const int index : group)
            for (const std::string& path : files_of(plan.sheets[static_cast<std::size_t>(index)])) work.inputs.push_back(path);
        works.push_back(std::move(work));
    }
    return works;
}

void FinishedWork::read_once() {
    if (std::exchange(read_, true)) return;
    const fs::path place = fs::path(folder_) / kFolder;
    same_run_ = unsealed(content_of((place / kMarker).string())) == run_key_;
    if (!same_run_) return;
    std::error_code ignored;
    for (const auto& file : fs::directory_iterator(place, ignored)) {
        // What a killed run had written but not yet put in place is whole, and yet no entry.
        if (file.path().extension() != kEnding || PendingFile::is_temporary_name(file.path().filename().string())) continue;
        const std::string body = unsealed(content_of(file.path().string()));
        ArchiveReader reader(body);
        Entry entry;
        reader(entry.inputs, entry.results, entry.names);
        if (!body.empty() && reader.good()) entries_.emplace(file.path().stem().string(), std::move(entry));
    }
}

std::string FinishedWork::path_of(const std::string& key) const { return (fs::path(folder_) / kFolder / (key + kEnding)).string(); }

/// A file that was touched may still be the same: then its content decides, and its new state is noted.
bool FinishedWork::inputs_agree(Entry& entry, const GroupWork& group) const {
    if (entry.inputs.size() != group.inputs.size()) return false;
    for (std::size_t i = 0; i < group.inputs.size(); ++i) {
        KnownFile now = known(group.inputs[i], group.inputs[i]);
        if (!now.stamp) return false;
        if (!untouched(entry.inputs[i], now)) {
            const auto digest = sha256_of_file(now.path);
            if (!digest || *digest != entry.inputs[i].digest) return false;
            now.digest = *digest;
            entry.inputs[i] = std::move(now);
        }
    }
    return true;
}

bool FinishedWork::results_agree(const Entry& entry, bool absent_counts) const {
    return std::all_of(entry.results.begin(), entry.results.end(), [&](const KnownFile& then) {
        const KnownFile now = known(then.path, (fs::path(folder_) / then.path).string());
        return same_result(then, now) || (!absent_counts && !now.stamp);
    });
}

bool FinishedWork::belongs_to(const std::vector<GroupWork>& groups) {
    read_once();
    return same_run_ && std::all_of(entries_.begin(), entries_.end(), [&](auto& keyed) {
               const auto group = std::find_if(groups.begin(), groups.end(), [&](const GroupWork& g) { return g.key == keyed.first; });
               return group != groups.end() && inputs_agree(keyed.second, *group) && results_agree(keyed.second, false);
           });
}

Result<void> FinishedWork::begin(bool anew) {
    read_once();
    const fs::path place = fs::path(folder_) / kFolder;
    std::error_code error;
    if (!same_run_ || anew) {
        entries_.clear();
        fs::remove_all(place, error);
        if (error) return fail(ErrorCode::unwritable, "cannot be emptied: " + error.message(), place.string());
        same_run_ = false;
    }
    if (same_run_) return {};
    fs::create_directories(place, error);
    if (error) return fail(ErrorCode::unwritable, "cannot be created: " + error.message(), place.string(), "choose an --output that may be written");
    return write_whole_file((place / kMarker).string(), sealed(run_key_));
}

std::optional<GroupResults> FinishedWork::take_over(const GroupWork& group, const std::vector<int>& scan_index, OutputFolder& output) {
    const auto entry = entries_.find(group.key);
    if (entry == entries_.end() || !inputs_agree(entry->second, group) || !results_agree(entry->second, true)) return std::nullopt;
    const std::string body = unsealed(content_of(path_of(group.key)));
    ArchiveReader reader(body);
    Entry again;
    GroupResults results;
    reader(again.inputs, again.results, again.names, results);
    if (!reader.good() || !reader.at_end() || results.scans.size() != scan_index.size() || !output.take_again(again.names)) return std::nullopt;
    renumber(results.rolls, counted(scan_index.size()), scan_index);
    return results;
}

void FinishedWork::start(const GroupWork& group) {
    started_.clear();
    for (const std::string& path : group.inputs) started_.push_back(known(path, path));
    std::error_code ignored;
    fs::remove(path_of(group.key), ignored);  // its results are about to be written over
}

Result<void> FinishedWork::finish(const GroupWork& group, const GroupResults& results, const std::vector<int>& scan_index,
                                  const std::vector<GivenName>& names) {
    for (KnownFile& input : started_) {
        auto digest = sha256_of_file(input.path);
        if (!digest || !untouched(input, known(input.path, input.path))) return {};
        input.digest = std::move(*digest);
    }
    std::vector<KnownFile> files;
    for (const GivenName& name : names) files.push_back(known(name.relative, (fs::path(folder_) / name.relative).string()));
    std::vector<RollRecord> rolls = results.rolls;
    renumber(rolls, scan_index, counted(scan_index.size()));
    ArchiveWriter all;
    all(started_, files, names, results.findings, results.scans, rolls, results.comparisons);
    return write_whole_file(path_of(group.key), sealed(all.bytes()));
}

}  // namespace basefog::pipeline
