// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/wide.h"

#include "mend/constants.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace basefog::mending {
namespace {

/// Pixels of a hole that lie deeper than a radius within it. What is outside `part` counts as no hole.
cv::Mat core_of(const cv::Mat& hole, double radius) {
    cv::Mat framed, depth;
    cv::copyMakeBorder(hole, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::distanceTransform(framed, depth, cv::DIST_L2, 3);
    return depth(cv::Rect(1, 1, hole.cols, hole.rows)) > radius;
}

}  // namespace

Result<Told> spare_wide(Runs hole, const Tiles& tiles, double px_per_mm, Wide wide, const MendMeans& means) {
    const double radius = std::max(2.0, kWidestFillMm / 2 * px_per_mm);
    // The transform's own distances are up to a twentieth less than true ones.
    const int reach = static_cast<int>(std::ceil(1.06 * (radius + 1))) + 2;
    const auto least = static_cast<int>(radius * radius);  // a hole with a core covers more
    std::vector<std::vector<Run>> kept(static_cast<std::size_t>(tiles.count()));
    std::vector<std::int64_t> beyond(kept.size(), 0);
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        if (!hole.touches(tile)) return {};
        const cv::Rect around = tiles.grown(tile, 2 * reach), own = tile - around.tl();
        cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U), core;
        hole.draw(around, mask);
        if (cv::countNonZero(mask) > least) core = core_of(mask, radius);
        if (wide == Wide::its_middle && !core.empty() && cv::countNonZero(core) > 0) {
            cv::Mat away;
            cv::distanceTransform(~core, away, cv::DIST_L2, 3);
            const cv::Mat spared = (away <= radius + 1) & mask;
            beyond[static_cast<std::size_t>(index)] = cv::countNonZero(spared(own));
            mask &= ~spared;
        }
        kept[static_cast<std::size_t>(index)] = runs_of(mask(own), core.empty() ? cv::Mat() : core(own), tile.tl());
        return {};
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, 2 * reach), tile_of); !done) return Failure(std::move(done.error()));
    Told told{{tiles.height, kept}, 0};
    for (const std::int64_t n : beyond) told.beyond += n;
    if (wide == Wide::its_middle) return told;
    int count = 0;
    const std::vector<int> body = told.hole.bodies(count);
    std::vector<bool> spared(static_cast<std::size_t>(count), false), keep(body.size());
    for (std::size_t i = 0; i < body.size(); ++i)
        if (told.hole.all()[i].noted) spared[static_cast<std::size_t>(body[i])] = true;
    for (std::size_t i = 0; i < body.size(); ++i) keep[i] = !spared[static_cast<std::size_t>(body[i])];
    const std::int64_t before = told.hole.pixels();
    told.hole = told.hole.only(keep);
    told.beyond = before - told.hole.pixels();
    return told;
}

}  // namespace basefog::mending
