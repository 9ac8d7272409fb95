// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/nearest.h"

#include "ledger/constants.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>
#include <numeric>

namespace basefog::ledger_room {
namespace {

/// Longer words are compared by their beginnings: names are limited to this anyway.
constexpr std::size_t kCompared = kMaxNameLength;
/// Words offered when none is near. Chosen: every key of the longest table fits on two lines of a terminal.
constexpr std::size_t kOffered = 12;

std::u32string comparable(std::string_view text) {
    std::u32string points = code_points(ascii_lower(text.substr(0, 4 * kCompared)));
    if (points.size() > kCompared) points.resize(kCompared);
    return points;
}

std::size_t distance_of(const std::u32string& a, const std::u32string& b) {
    std::vector<std::size_t> before(b.size() + 1), above(b.size() + 1), row(b.size() + 1);
    std::iota(above.begin(), above.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t replaced = above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({above[j] + 1, row[j - 1] + 1, replaced});
            const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            if (swapped) row[j] = std::min(row[j], before[j - 2] + 1);
        }
        std::swap(before, above);
        std::swap(above, row);
    }
    return above[b.size()];
}

struct Candidate {
    std::size_t distance = 0;
    std::size_t common_start = 0;  ///< letters both begin with: decides between equally near words,
    std::size_t longer_by = 0;     ///< then the difference in length does
    const std::string* word = nullptr;
};

std::vector<Candidate> by_distance(const std::u32string& word, const std::vector<std::string>& known) {
    std::vector<Candidate> candidates;
    std::size_t work = 0;
    for (const std::string& each : known) {
        const std::u32string other = comparable(each);
        work += word.size() * other.size();
        if (work > kMaxHintWork) break;
        const auto parted = std::mismatch(word.begin(), word.end(), other.begin(), other.end()).first;
        const std::size_t longer_by = std::max(word.size(), other.size()) - std::min(word.size(), other.size());
        candidates.push_back({distance_of(word, other), static_cast<std::size_t>(parted - word.begin()), longer_by, &each});
    }
    std::stable_sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) {
        if (a.distance != b.distance) return a.distance < b.distance;
        return a.common_start != b.common_start ? a.common_start > b.common_start : a.longer_by < b.longer_by;
    });
    return candidates;
}

/// Near enough to be a slip: a third of the letters, but at least two unless the word is that short itself; or one
/// word begins the other, as "soak" does "soak_minutes".
bool plausible(const std::u32string& word, const Candidate& candidate) {
    const std::u32string known = comparable(*candidate.word);
    const std::size_t shorter = std::min(word.size(), known.size());
    if (shorter >= 3 && std::equal(word.begin(), word.begin() + static_cast<std::ptrdiff_t>(shorter), known.begin())) return true;
    return candidate.distance <= std::max<std::size_t>(word.size() / 3, 2) && candidate.distance < std::max<std::size_t>(word.size(), 2);
}

}  // namespace

std::size_t edit_distance(std::string_view a, std::string_view b) { return distance_of(comparable(a), comparable(b)); }

std::string suggestion(std::string_view word, const std::vector<std::string>& known, std::string_view noun) {
    if (known.empty()) return {};
    const std::u32string wanted = comparable(word);
    const std::vector<Candidate> candidates = by_distance(wanted, known);
    if (candidates.empty()) return {};
    const std::size_t looked_at = std::min(candidates.size(), kOffered);
    for (std::size_t i = 0; i < looked_at; ++i) {
        if (plausible(wanted, candidates[i])) return fmt::format("did you mean {}?", in_quotes(*candidates[i].word));
    }
    std::string list;
    for (std::size_t i = 0; i < looked_at; ++i) list += (i ? ", " : "") + in_quotes(*candidates[i].word);
    if (looked_at < known.size()) list += fmt::format(" and {} more", known.size() - looked_at);
    return fmt::format("known {}, nearest first: {}", noun, list);
}

}  // namespace basefog::ledger_room
