// SPDX-License-Identifier: GPL-3.0-or-later
// The few marked pixels of a large picture, as runs along its rows: found tile by tile, joined to bodies over the whole picture.
#pragma once

#include <opencv2/core.hpp>

#include <cstdint>
#include <vector>

namespace basefog::mending {

struct Run {
    int y = 0, x0 = 0, x1 = 0;  ///< columns [x0, x1)
    bool noted = false;         ///< whatever the finder wants to keep of one of its pixels
};

/// Runs of a mask that lies at `place` of the picture; a run is noted where `note` (may be empty) is set in one of its pixels.
[[nodiscard]] std::vector<Run> runs_of(const cv::Mat& mask, const cv::Mat& note, cv::Point place);

class Runs {
public:
    Runs() = default;
    /// Of tiles that do not overlap, in any order.
    Runs(int height, const std::vector<std::vector<Run>>& parts);
    [[nodiscard]] bool empty() const { return runs_.empty(); }
    [[nodiscard]] const std::vector<Run>& all() const { return runs_; }
    [[nodiscard]] std::int64_t pixels() const;
    /// Is there any within the part?
    [[nodiscard]] bool touches(const cv::Rect& part) const;
    /// Sets the marked pixels of the part to 255; `mask` has its size, CV_8U.
    void draw(const cv::Rect& part, cv::Mat& mask) const;
    /// Bodies are runs that hang together, also by corners. For each run the number of its body, from 0 on in the order of their first runs.
    [[nodiscard]] std::vector<int> bodies(int& count) const;
    /// Those for which `keep`, one for each run, is true.
    [[nodiscard]] Runs only(const std::vector<bool>& keep) const;

private:
    template <class Use>
    void visit(const cv::Rect& part, const Use& use) const;
    std::vector<Run> runs_;           ///< by row, then column
    std::vector<std::size_t> first_;  ///< of each row, and one past the last
    void index(int height);
};

}  // namespace basefog::mending
