// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/runs.h"

#include <algorithm>
#include <numeric>

namespace basefog::mending {

std::vector<Run> runs_of(const cv::Mat& mask, const cv::Mat& note, cv::Point place) {
    std::vector<Run> runs;
    for (int y = 0; y < mask.rows; ++y) {
        const auto* const row = mask.ptr<uchar>(y);
        const auto* const noted = note.empty() ? nullptr : note.ptr<uchar>(y);
        for (int x = 0; x < mask.cols; ++x) {
            if (!row[x]) continue;
            Run run{place.y + y, place.x + x, place.x + x, false};
            for (; x < mask.cols && row[x]; ++x) run.noted = run.noted || (noted != nullptr && noted[x]);
            run.x1 = place.x + x;
            runs.push_back(run);
        }
    }
    return runs;
}

Runs::Runs(int height, const std::vector<std::vector<Run>>& parts) {
    std::size_t n = 0;
    for (const auto& part : parts) n += part.size();
    runs_.reserve(n);
    for (const auto& part : parts) runs_.insert(runs_.end(), part.begin(), part.end());
    std::sort(runs_.begin(), runs_.end(), [](const Run& a, const Run& b) { return a.y != b.y ? a.y < b.y : a.x0 < b.x0; });
    std::size_t kept = 0;
    for (const Run& run : runs_) {
        Run* const last = kept > 0 ? &runs_[kept - 1] : nullptr;
        if (last != nullptr && last->y == run.y && last->x1 == run.x0) {  // cut by the tiles' border
            last->x1 = run.x1;
            last->noted = last->noted || run.noted;
        } else {
            runs_[kept++] = run;
        }
    }
    runs_.resize(kept);
    index(height);
}

void Runs::index(int height) {
    first_.assign(static_cast<std::size_t>(height) + 1, 0);
    for (const Run& run : runs_) ++first_[static_cast<std::size_t>(run.y) + 1];
    std::partial_sum(first_.begin(), first_.end(), first_.begin());
}

std::int64_t Runs::pixels() const {
    return std::accumulate(runs_.begin(), runs_.end(), std::int64_t{0}, [](std::int64_t sum, const Run& run) { return sum + run.x1 - run.x0; });
}

/// use(run, x0, x1) with the columns that lie in the part; ends when it returns false.
template <class Use>
void Runs::visit(const cv::Rect& part, const Use& use) const {
    if (runs_.empty()) return;
    for (int y = part.y; y < part.y + part.height; ++y) {
        const auto begin = runs_.begin() + static_cast<std::ptrdiff_t>(first_[static_cast<std::size_t>(y)]);
        const auto end = runs_.begin() + static_cast<std::ptrdiff_t>(first_[static_cast<std::size_t>(y) + 1]);
        for (auto run = std::partition_point(begin, end, [&](const Run& r) { return r.x1 <= part.x; }); run != end && run->x0 < part.x + part.width; ++run)
            if (!use(*run, std::max(run->x0, part.x), std::min(run->x1, part.x + part.width))) return;
    }
}

bool Runs::touches(const cv::Rect& part) const {
    bool any = false;
    visit(part, [&](const Run&, int, int) {
        any = true;
        return false;
    });
    return any;
}

void Runs::draw(const cv::Rect& part, cv::Mat& mask) const {
    visit(part, [&](const Run& run, int x0, int x1) {
        std::fill(mask.ptr<uchar>(run.y - part.y) + (x0 - part.x), mask.ptr<uchar>(run.y - part.y) + (x1 - part.x), uchar{255});
        return true;
    });
}

std::vector<int> Runs::bodies(int& count) const {
    std::vector<int> root(runs_.size());
    std::iota(root.begin(), root.end(), 0);
    const auto find = [&](int i) {
        while (root[static_cast<std::size_t>(i)] != i) {
            int& up = root[static_cast<std::size_t>(i)];
            up = root[static_cast<std::size_t>(up)];
            i = up;
        }
        return i;
    };
    for (std::size_t y = 1; y + 1 < first_.size(); ++y) {
        std::size_t above = first_[y - 1];
        for (std::size_t here = first_[y]; here < first_[y + 1]; ++here) {
            const Run& run = runs_[here];
            while (above < first_[y] && runs_[above].x1 < run.x0) ++above;
            for (std::size_t k = above; k < first_[y] && runs_[k].x0 <= run.x1; ++k) {
                const int a = find(static_cast<int>(k)), b = find(static_cast<int>(here));
                root[static_cast<std::size_t>(std::max(a, b))] = std::min(a, b);
            }
        }
    }
    std::vector<int> body(runs_.size(), -1);
    count = 0;
    for (std::size_t i = 0; i < runs_.size(); ++i) {
        const int first = find(static_cast<int>(i));
        if (first == static_cast<int>(i))
            body[i] = count++;
        else
            body[i] = body[static_cast<std::size_t>(first)];
    }
    return body;
}

Runs Runs::only(const std::vector<bool>& keep) const {
    Runs kept;
    for (std::size_t i = 0; i < runs_.size(); ++i)
        if (keep[i]) kept.runs_.push_back(runs_[i]);
    kept.index(first_.empty() ? 0 : static_cast<int>(first_.size()) - 1);
    return kept;
}

}  // namespace basefog::mending
