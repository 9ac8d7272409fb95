// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/by_infrared.h"

#include "mend/constants.h"
#include "mend/grain.h"
#include "mend/infrared_density.h"
#include "mend/wide.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace basefog::mending {
namespace {

/// Of a window in pixels that is a length on the film, odd.
int side_of(double mm, double px_per_mm, int least) { return std::max(least, static_cast<int>(std::lround(mm * px_per_mm)) | 1); }

/// Runs of `foot` that hang together with one of `seed`, each a mask of the tile's size that `tell` makes.
template <class Tell>
Result<Runs> grown_from_seeds(const Tiles& tiles, const MendMeans& means, int reach, const Tell& tell) {
    std::vector<std::vector<Run>> feet(static_cast<std::size_t>(tiles.count()));
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        const cv::Rect around = tiles.grown(tile, reach);
        cv::Mat seed, foot;
        if (auto told = tell(around, seed, foot); !told) return told;
        const cv::Rect own = tile - around.tl();
        feet[static_cast<std::size_t>(index)] = runs_of(foot(own), seed(own), tile.tl());
        return {};
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, reach), tile_of); !done) return Failure(std::move(done.error()));
    const Runs all(tiles.height, feet);
    int count = 0;
    const std::vector<int> body = all.bodies(count);
    std::vector<bool> seeded(static_cast<std::size_t>(count), false), keep(body.size());
    for (std::size_t i = 0; i < body.size(); ++i)
        if (all.all()[i].noted) seeded[static_cast<std::size_t>(body[i])] = true;
    for (std::size_t i = 0; i < body.size(); ++i) keep[i] = seeded[static_cast<std::size_t>(body[i])];
    return all.only(keep);
}

/// Bodies of what rises above the noise, as far as a seed's blurred skirt goes: what reaches further is smooth, and judged as that.
Result<Runs> find_bodies(const Neutral& neutral, const Tiles& tiles, double px_per_mm, const MendMeans& means) {
    const double skirt_px = std::max(kSkirtPx, kSkirtMm * px_per_mm);
    const int reach = kSmoothReach + static_cast<int>(std::ceil(1.06 * skirt_px)) + 2;
    return grown_from_seeds(tiles, means, reach, [&](const cv::Rect& around, cv::Mat& seed, cv::Mat& foot) -> Result<void> {
        cv::Mat smooth, away;
        if (auto got = neutral.density.get(around, smooth); !got) return got;
        smoothed(smooth, smooth);
        seed = smooth > std::max(kSeed, kSeedSigmas * neutral.noise);
        foot = smooth > std::max(kFoot, kFootSigmas * neutral.noise);
        if (cv::countNonZero(seed) == 0) {
            foot = cv::Mat::zeros(around.size(), CV_8U);
            return {};
        }
        cv::distanceTransform(~seed, away, cv::DIST_L2, 3);
        foot &= away <= skirt_px;
        return {};
    });
}

/// Backing spread smoothly, by its mean over spots.
Result<Runs> find_smears(const Neutral& neutral, const Tiles& tiles, double px_per_mm, const MendMeans& means) {
    const int side = side_of(kSmearSpotMm, px_per_mm, 3);
    return grown_from_seeds(tiles, means, side / 2 + 2, [&](const cv::Rect& around, cv::Mat& seed, cv::Mat& foot) -> Result<void> {
        cv::Mat spot;
        if (auto got = neutral.density.get(around, spot); !got) return got;
        cv::boxFilter(spot, spot, CV_32F, cv::Size(side, side));
        seed = spot > kSmearSeed;
        foot = spot > std::max(kSmear, kSmearSigmas * neutral.noise / static_cast<float>(side));
        return {};
    });
}

/// The density that is taken off: where it hardly changes from pixel to pixel its own noise is not passed on.
void settle(cv::Mat& density, const cv::Mat& smooth, float noise) { smooth.copyTo(density, cv::abs(density - smooth) < 3 * noise); }

/// How wrong a divided pixel may be: the defect's own share, and its slope times what registration leaves open.
cv::Mat division_error(const cv::Mat& density, const MendFacts& facts) {
    cv::Mat dx, dy;
    cv::Sobel(density, dx, CV_32F, 1, 0, 3, 1.0 / 8);
    cv::Sobel(density, dy, CV_32F, 0, 1, 3, 1.0 / 8);
    const auto slip = std::max(kLeastSlipPx, static_cast<float>(facts.infrared->match.std_uncertainty));
    cv::Mat slope, error;
    cv::magnitude(dx, dy, slope);
    cv::dilate(slope, slope, cv::Mat::ones(3, 3, CV_8U));  // on a small speck's top the slope is nought, and what is known no better
    cv::magnitude(slope * slip, density * kGainError, error);
    return error;
}

/// What is done to one tile's pixels.
class TileByInfrared {
public:
    TileByInfrared(const PixelSource& source, const Tiles& tiles, const Neutral& neutral, const Runs& bodies, const Runs& smears, const MendFacts& facts)
        : source_(source), tiles_(tiles), neutral_(neutral), bodies_(bodies), smears_(smears), facts_(facts), reach_(grain_reach(facts.scale.value(), 2)) {}

    [[nodiscard]] int reach() const { return reach_; }
    struct Outcome {
        cv::Mat marks;  ///< kDoubtful, and kDivided where there is a patch; empty: nothing
        std::vector<Patch> patches;
        std::vector<Run> hole;
    };
    [[nodiscard]] Result<Outcome> work(const cv::Rect& tile) const {
        Outcome outcome;
        const cv::Rect around = tiles_.grown(tile, reach_), own = tile - around.tl();
        const bool touched = bodies_.touches(tiles_.grown(tile, 1));
        if (!touched && !smears_.touches(tile)) return outcome;
        cv::Mat mask = cv::Mat::zeros(around.size(), CV_8U);
        bodies_.draw(around, mask);
        cv::dilate(mask, mask, cv::Mat::ones(3, 3, CV_8U));  // the blurred skirt
        cv::Mat density, smooth;
        if (auto got = neutral_.density.get(around, density); !got) return Failure(std::move(got.error()));
        smoothed(density, smooth);
        Image<LinearRgbi> pixels(around.width, around.height);
        if (auto read = source_.read(on_scan(around, source_.rect()), pixels.view()); !read) return Failure(std::move(read.error()));
        if (touched) {
            cv::Mat allowed;
            cv::sqrt(grain_about(fine_structure(pixels.view(), &LinearRgbi::g, facts_.light.flare.g), mask, facts_.scale.value()), allowed);
            allowed = cv::min(cv::max(allowed, kLeastDivideError), kDivideError);
            cv::Mat most(smooth.size(), CV_32F, cv::Scalar(kMostDivided));
            const cv::Mat wide = wide_smears(around);
            allowed.setTo(kDivideError, wide);
            most.setTo(kMostDividedWide, wide);
            cv::Mat hole = (smooth > most) | (division_error(smooth, facts_) > allowed);
            hole &= mask;
            outcome.hole = runs_of(hole(own), {}, tile.tl());
        }
        smears_.draw(around, mask);
        settle(density, smooth, neutral_.noise);
        divide(std::as_const(pixels).view().part(own.x, own.y, own.width, own.height), mask(own), density(own), outcome);
        return outcome;
    }

private:
    /// Where a smear is wider than what can be filled without being seen.
    [[nodiscard]] cv::Mat wide_smears(const cv::Rect& around) const {
        cv::Mat smear = cv::Mat::zeros(around.size(), CV_8U);
        smears_.draw(around, smear);
        const int side = std::max(3, static_cast<int>(std::lround(kWideSmearMm * facts_.scale.value())) | 1);
        cv::morphologyEx(smear, smear, cv::MORPH_OPEN, cv::Mat::ones(side, side, CV_8U));
        return smear;
    }

    void divide(View<const LinearRgbi> pixels, const cv::Mat& mask, const cv::Mat& density, Outcome& outcome) const {
        outcome.marks = mask & kDoubtful;
        const LinearRgbi& flare = facts_.light.flare;
        for (int y = 0; y < mask.rows; ++y) {
            for (int x = 0; x < mask.cols; ++x) {
                const float d = density.at<float>(y, x);
                if (!mask.at<uchar>(y, x) || !(d > 0)) continue;
                const float gain = std::pow(10.0F, d);
                const LinearRgbi& p = pixels(x, y);
                outcome.patches.push_back({static_cast<std::int16_t>(x), static_cast<std::int16_t>(y), (p.r - flare.r) * gain + flare.r,
                                           (p.g - flare.g) * gain + flare.g, (p.b - flare.b) * gain + flare.b});
                outcome.marks.at<uchar>(y, x) |= kDivided;
            }
        }
    }

    const PixelSource& source_;
    const Tiles& tiles_;
    const Neutral& neutral_;
    const Runs &bodies_, &smears_;
    const MendFacts& facts_;
    int reach_;
};

}  // namespace

Result<Neutral> neutral_of(const PixelSource& source, const Tiles& tiles, const MendFacts& facts, const MendMeans& means) {
    auto density = NeutralDensity::make(source, tiles, facts, means);
    if (!density) return Failure(std::move(density.error()));
    if (!facts.residue_left)
        if (auto levelled = density->level(kBlockMm * facts.scale.value(), means); !levelled) return Failure(std::move(levelled.error()));
    const auto noise = pixel_noise(*density, tiles, means);
    if (!noise) return Failure(noise.error());
    return Neutral{std::move(*density), *noise};
}

Result<Told> tell_by_infrared(const PixelSource& source, const Tiles& tiles, const Neutral& neutral, const MendFacts& facts, Plane<uchar>& marks,
                              Patches& divided, const MendMeans& means) {
    const double px_per_mm = facts.scale.value();
    const auto bodies = find_bodies(neutral, tiles, px_per_mm, means);
    if (!bodies) return Failure(bodies.error());
    const auto smears = facts.residue_left ? find_smears(neutral, tiles, px_per_mm, means) : Result<Runs>(Runs());
    if (!smears) return Failure(smears.error());
    const TileByInfrared one(source, tiles, neutral, *bodies, *smears, facts);
    std::vector<std::vector<Run>> holes(static_cast<std::size_t>(tiles.count()));
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        auto outcome = one.work(tile);
        if (!outcome) return Failure(std::move(outcome.error()));
        if (outcome->marks.empty()) outcome->marks = cv::Mat::zeros(tile.size(), CV_8U);
        holes[static_cast<std::size_t>(index)] = std::move(outcome->hole);
        if (auto put = marks.put(tile, outcome->marks); !put) return put;
        return divided.set(index, outcome->patches, means.scratch);
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, one.reach()), tile_of); !done) return Failure(std::move(done.error()));
    return spare_wide({tiles.height, holes}, tiles, px_per_mm, Wide::its_middle, means);
}

Result<void> quieten_tiles(const PixelSource& mended, const Tiles& tiles, const Neutral& neutral, const Plane<uchar>& marks, const Runs& hole,
                           const MendFacts& facts, Patches& quiet, const MendMeans& means) {
    const int reach = grain_reach(facts.scale.value(), 3);
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        cv::Mat told;
        if (auto got = marks.get(tile, told); !got) return got;
        if (cv::countNonZero(told & kDivided) == 0) return {};
        const cv::Rect around = tiles.grown(tile, reach), own = tile - around.tl();
        cv::Mat smooth, holes = cv::Mat::zeros(around.size(), CV_8U);
        if (auto got = marks.get(around, told); !got) return got;
        hole.draw(around, holes);
        Division division;
        division.mask = (told & kDoubtful) != 0;
        division.where = ((told & kDivided) != 0) & ~holes;
        if (auto got = neutral.density.get(around, division.density); !got) return got;
        smoothed(division.density, smooth);
        settle(division.density, smooth, neutral.noise);
        Image<LinearRgbi> pixels(around.width, around.height);
        if (auto read = mended.read(on_scan(around, mended.rect()), pixels.view()); !read) return read;
        quieten(pixels.view(), division, facts.light.flare, facts.scale.value());
        std::vector<Patch> patches;
        for (int y = 0; y < own.height; ++y)
            for (int x = 0; x < own.width; ++x) {
                if (!division.where.at<uchar>(own.y + y, own.x + x)) continue;
                const LinearRgbi& p = pixels(own.x + x, own.y + y);
                patches.push_back({static_cast<std::int16_t>(x), static_cast<std::int16_t>(y), p.r, p.g, p.b});
            }
        return quiet.set(index, patches, means.scratch);
    };
    return over_tiles(tiles, means.for_each, tiles_at_once(means, reach), tile_of);
}

}  // namespace basefog::mending
