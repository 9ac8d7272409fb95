// SPDX-License-Identifier: GPL-3.0-or-later
// [[shots]]: a roll photographed by a camera. Each file becomes a sheet of its own with one frame or several on it; or all of them are one strip.
#include "ledger/draft.h"
#include "ledger/sheet_keys.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>
#include <filesystem>

namespace basefog::ledger_room {
namespace {

namespace fs = std::filesystem;
constexpr Range kFrameNumber{0, 999, "", "1"};
constexpr Range kExposures{1, 5, "", "2"};
constexpr Range kFrames{1, 40, "", "3"};
constexpr std::size_t kMostShots = 1000;  // frames of a roll and then some

/// `*` stands for any characters, `?` for one.
bool fits(std::string_view name, std::string_view pattern) {
    std::size_t n = 0, p = 0, star = std::string_view::npos, resume = 0;
    while (n < name.size()) {
        if (p < pattern.size() && (pattern[p] == '?' || pattern[p] == name[n])) {
            ++n, ++p;
        } else if (p < pattern.size() && pattern[p] == '*') {
            star = p++, resume = n;
        } else if (star != std::string_view::npos) {
            p = star + 1, n = ++resume;
        } else {
            return false;
        }
    }
    while (p < pattern.size() && pattern[p] == '*') ++p;
    return p == pattern.size();
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// "shot9" before "shot10": runs of digits compare as numbers.
bool in_order(const std::string& a, const std::string& b) {
    std::size_t i = 0, j = 0;
    while (i < a.size() && j < b.size()) {
        if (!is_digit(a[i]) || !is_digit(b[j])) {
            if (a[i] != b[j]) return a[i] < b[j];
            ++i, ++j;
            continue;
        }
        const auto run = [](const std::string& s, std::size_t from) {
            std::size_t end = from;
            while (end < s.size() && is_digit(s[end])) ++end;
            std::size_t start = from;
            while (start + 1 < end && s[start] == '0') ++start;
            return std::pair(s.substr(start, end - start), end);
        };
        const auto [x, after_x] = run(a, i);
        const auto [y, after_y] = run(b, j);
        if (x.size() != y.size()) return x.size() < y.size();
        if (x != y) return x < y;
        i = after_x, j = after_y;
    }
    if ((i < a.size()) != (j < b.size())) return j < b.size();
    return a < b;
}

/// Files that a pattern stands for, as written in the ledger, in order of their names.
std::vector<std::string> matches(const std::string& ledger_path, const std::string& pattern) {
    const fs::path written(pattern), folder = fs::path(ledger_path).parent_path() / written.parent_path();
    const std::string last = written.filename().string();
    if (last.find_first_of("*?") == std::string::npos) return {pattern};
    std::vector<std::string> names;
    std::error_code error;
    for (fs::directory_iterator it(folder.empty() ? fs::path(".") : folder, error), end; !error && it != end; it.increment(error)) {
        const std::string name = it->path().filename().string();
        if (!name.starts_with('.') && fits(name, last) && it->is_regular_file(error)) names.push_back(name);
    }
    std::sort(names.begin(), names.end(), in_order);
    for (std::string& name : names) name = (written.parent_path() / name).string();
    return names;
}

std::vector<std::string> read_files(Fields& fields, const std::string& ledger_path) {
    const std::string example = "\"R1/*.dng\", or a list of files";
    const toml::node* node = fields.any("files");
    if (!node) {
        fields.missing("files", example);
        return {};
    }
    std::vector<std::pair<std::string, const toml::node*>> patterns;
    if (const auto* one = node->as_string()) {
        patterns.emplace_back(one->get(), node);
    } else if (const auto* list = node->as_array()) {
        for (const toml::node& each : *list) {
            if (const auto* text = each.as_string())
                patterns.emplace_back(text->get(), &each);
            else
                fields.wrong_type("files", each, "a file or a pattern such as \"R1/*.dng\"", example);
        }
    } else {
        fields.wrong_type("files", *node, "a pattern or a list of files", example);
    }
    std::vector<std::string> files;
    for (const auto& [pattern, where] : patterns) {
        const std::vector<std::string> found = matches(ledger_path, pattern);
        if (found.empty())
            fields.problems().add(place_of(*where), fmt::format("no file fits {} of {}", in_quotes(pattern), fields.owner()),
                                  "check the folder, counted from the ledger's own, and the ending");
        files.insert(files.end(), found.begin(), found.end());
    }
    if (files.size() > kMostShots) {
        fields.problems().add(place_of(*node), fmt::format("\"files\" of {} stands for {} files", fields.owner(), files.size()),
                              fmt::format("a roll has up to {}", kMostShots));
        files.clear();
    }
    return files;
}

void read_one(const toml::table& table, std::size_t number, Draft& draft, Problems& problems) {
    Fields fields(table, fmt::format("shots {}", number), place_of(table), problems);
    const std::string& ledger = draft.ledger.path;
    Sheet shot;
    SheetStrip strip;
    if (const auto roll = fields.required_text("roll", "\"R1\"")) {
        draft.references.push_back({Referred::roll, *roll, fields.owner()});
        strip.roll = roll->text;
    }
    strip.first_frame = fields.whole("first", kFrameNumber).value_or(1);
    strip.flip = fields.flag("flip");
    strip.turn = fields.flag("turn");
    std::vector<std::string> files = read_files(fields, ledger);
    const auto light = fields.text("light_frame", "\"light.dng\"");
    if (light) shot.light_frame_path = resolved(ledger, light->text);
    const auto dark = fields.text("dark_frame", "\"dark.dng\"");
    if (dark) shot.dark_frame_path = resolved(ledger, dark->text);
    if (dark && !light)
        problems.add(dark->place, fmt::format("{} has a dark frame but no light frame", fields.owner()),
                     "photograph the bare light too, and name it as \"light_frame\"");
    shot.encoding = read_encoding(fields);
    const auto exposures = static_cast<std::size_t>(fields.whole("exposures", kExposures).value_or(1));
    const bool join = fields.flag("join").value_or(false);
    const auto frames = fields.whole("frames", kFrames);
    if (join && frames)
        problems.add(fields.place(), fmt::format("{} has both \"join\" and \"frames\"", fields.owner()),
                     "leave out \"frames\" where files are overlapping shots of one strip, and \"join\" where each shows whole frames of its own");
    const int each = frames.value_or(1);
    shot.close_up = !join && each == 1;
    shot.strip_shots = !shot.close_up;
    shot.frames_each = shot.strip_shots && !join ? each : 0;
    fields.reject_unknown();
    // A pattern may take in the light and the dark frame.
    std::erase_if(files, [&](const std::string& file) {
        const std::string path = resolved(ledger, file);
        return path == shot.light_frame_path || path == shot.dark_frame_path;
    });
    if (files.size() % exposures != 0) {
        problems.add(fields.place(), fmt::format("{} has {} files, which is no multiple of its {} exposures", fields.owner(), files.size(), exposures),
                     "each frame's shots follow one another, as many for every frame");
        return;
    }
    const auto others = [&](std::size_t i) {
        std::vector<std::string> paths;
        for (std::size_t k = 1; k < exposures; ++k) paths.push_back(resolved(ledger, files[i + k]));
        return paths;
    };
    if (join && !files.empty()) {
        for (std::size_t i = exposures; i < files.size(); i += exposures) shot.further_shots.push_back({files[i], resolved(ledger, files[i]), others(i)});
        files.resize(exposures);
    }
    for (std::size_t i = 0; i < files.size(); i += exposures) {
        shot.file = files[i];
        shot.path = resolved(ledger, files[i]);
        shot.exposure_paths = others(i);
        shot.strips = {strip};
        strip.first_frame += each;
        draft.sheet_files.push_back(fields.place());
        draft.strip_places.push_back({fields.place()});
        draft.ledger.sheets.push_back(shot);
    }
}

}  // namespace

void read_shots(Fields& root, Draft& draft, Problems& problems) {
    each_table(root, "shots", "write [[shots]], in double brackets, above each roll's files", problems,
               [&](const toml::table& table, std::size_t number) { read_one(table, number, draft, problems); });
}

}  // namespace basefog::ledger_room
