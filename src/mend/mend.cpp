// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/mend/mend.h"

#include "mend/by_infrared.h"
#include "mend/fill.h"
#include "mend/infrared_density.h"
#include "mend/wide.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <limits>
#include <optional>
#include <vector>

namespace basefog {

using namespace mending;

struct MendedPixels::State {
    const PixelSource& source;
    Tiles tiles;
    std::optional<Plane<uchar>> marks;  ///< none: nothing was changed
    Patches divided, filled, quiet;     ///< later ones lie over earlier ones
    Runs hole;
    MendCounts counts;

    explicit State(const PixelSource& from)
        : source(from), tiles{static_cast<int>(from.rect().width()), static_cast<int>(from.rect().height())}, divided(tiles), filled(tiles), quiet(tiles) {}
    [[nodiscard]] cv::Rect part_of(PxRect on_scan) const {
        const PxRect all = source.rect();
        return {static_cast<int>(on_scan.x0 - all.x0), static_cast<int>(on_scan.y0 - all.y0), static_cast<int>(on_scan.width()),
                static_cast<int>(on_scan.height())};
    }
};

namespace {

/// The picture as later steps see it: divided, or filled too.
class StepPixels final : public PixelSource {
public:
    StepPixels(const MendedPixels::State& state, bool filled) : state_(state), filled_(filled) {}
    [[nodiscard]] PxRect rect() const override { return state_.source.rect(); }
    [[nodiscard]] Result<void> read(PxRect part, View<LinearRgbi> out) const override {
        if (auto read = state_.source.read(part, out); !read) return read;
        const cv::Rect here = state_.part_of(part);
        if (auto laid = state_.divided.lay_over(here, out); !laid || !filled_) return laid;
        return state_.filled.lay_over(here, out);
    }

private:
    const MendedPixels::State& state_;
    bool filled_;
};

/// Without infrared: the map's dust and scratches, a little wider, are filled; if asked, its small spots of residue too.
Result<Told> tell_by_map(const PixelSource& source, const Tiles& tiles, const DefectMap& map, const MendFacts& facts, bool likely_too, const MendMeans& means) {
    const PxRect all = source.rect();
    std::vector<std::vector<Run>> holes(static_cast<std::size_t>(tiles.count()));
    const auto told = [&](Defect d) { return d == Defect::dust || d == Defect::scratch || (likely_too && d == Defect::residue); };
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        const cv::Rect around = tiles.grown(tile, map.factor);
        cv::Mat hole = cv::Mat::zeros(around.size(), CV_8U);
        // Cells of the map as squares of pixels.
        const PxRect part = intersection(on_scan(around, all), {0, 0, map.defects.width() * map.factor, map.defects.height() * map.factor});
        for (std::int64_t my = part.y0 / map.factor; my * map.factor < part.y1; ++my)
            for (std::int64_t mx = part.x0 / map.factor; mx * map.factor < part.x1; ++mx) {
                if (!told(map.defects(mx, my))) continue;
                const cv::Rect cell(static_cast<int>(mx * map.factor - all.x0) - around.x, static_cast<int>(my * map.factor - all.y0) - around.y, map.factor,
                                    map.factor);
                hole(cell & cv::Rect({0, 0}, hole.size())) = 255;
            }
        if (cv::countNonZero(hole) == 0) return {};
        const int side = 2 * map.factor + 1;
        cv::dilate(hole, hole, cv::Mat::ones(side, side, CV_8U));
        holes[static_cast<std::size_t>(index)] = runs_of(hole(tile - around.tl()), {}, tile.tl());
        return {};
    };
    if (auto done = over_tiles(tiles, means.for_each, tiles_at_once(means, 0), tile_of); !done) return Failure(std::move(done.error()));
    return spare_wide({tiles.height, holes}, tiles, facts.scale.value(), Wide::all_of_it, means);
}

Result<void> fill(MendedPixels::State& state, const MendFacts& facts, const MendMeans& means) {
    const Marks doubtful = [&](const cv::Rect& part, cv::Mat& mask) -> Result<void> {
        if (auto got = state.marks->get(part, mask); !got) return got;
        mask = (mask & kDoubtful) != 0;
        return {};
    };
    auto filled = fill_holes(StepPixels(state, false), state.tiles, state.hole, doubtful, {facts.light.flare, facts.scale.value()}, means);
    if (!filled) return Failure(std::move(filled.error()));
    state.counts.places = filled->holes;
    for (std::size_t tile = 0; tile < filled->patches.size(); ++tile)
        if (auto set = state.filled.set(static_cast<int>(tile), filled->patches[tile], means.scratch); !set) return set;
    return {};
}

/// Divided are those that were not filled after all.
Result<void> count(MendedPixels::State& state, const MendMeans& means) {
    std::vector<std::int64_t> divided(static_cast<std::size_t>(state.tiles.count()), 0);
    const auto tile_of = [&](int index, const cv::Rect& tile) -> Result<void> {
        cv::Mat marks, hole = cv::Mat::zeros(tile.size(), CV_8U);
        if (auto got = state.marks->get(tile, marks); !got) return got;
        state.hole.draw(tile, hole);
        divided[static_cast<std::size_t>(index)] = cv::countNonZero((marks & kDivided) & ~hole);
        return {};
    };
    if (auto done = over_tiles(state.tiles, means.for_each, tiles_at_once(means, 0), tile_of); !done) return done;
    for (const std::int64_t n : divided) state.counts.divided += n;
    state.counts.filled = state.hole.pixels();
    return {};
}

}  // namespace

MendedPixels::MendedPixels(std::unique_ptr<const State> state) : state_(std::move(state)) {}
MendedPixels::MendedPixels(MendedPixels&&) noexcept = default;
MendedPixels& MendedPixels::operator=(MendedPixels&&) noexcept = default;
MendedPixels::~MendedPixels() = default;

PxRect MendedPixels::rect() const { return state_->source.rect(); }

Result<void> MendedPixels::read(PxRect part, View<LinearRgbi> out) const {
    if (auto read = state_->source.read(part, out); !read || !state_->marks) return read;
    const cv::Rect here = state_->part_of(part);
    for (const Patches* patches : {&state_->divided, &state_->filled, &state_->quiet})
        if (auto laid = patches->lay_over(here, out); !laid) return laid;
    return {};
}

const MendCounts& MendedPixels::counts() const { return state_->counts; }

Result<void> MendedPixels::marks(PxRect part, View<Mended> out) const {
    const cv::Rect here = state_->part_of(part);
    cv::Mat marks = cv::Mat::zeros(here.size(), CV_8U), hole = cv::Mat::zeros(here.size(), CV_8U);
    if (state_->marks)
        if (auto got = state_->marks->get(here, marks); !got) return got;
    state_->hole.draw(here, hole);
    for (int y = 0; y < here.height; ++y)
        for (int x = 0; x < here.width; ++x)
            out(x, y) = hole.at<uchar>(y, x) ? Mended::filled : marks.at<uchar>(y, x) & kDivided ? Mended::divided : Mended::untouched;
    return {};
}

Result<MendedPixels> mend(const PixelSource& source, const DefectMap& map, const MendFacts& facts, const MendOptions& options, const MendMeans& means) {
    constexpr std::int64_t kLeastSide = 16;  // less holds no surroundings to fill from
    auto state = std::make_unique<MendedPixels::State>(source);
    const auto finished = [&] { return MendedPixels(std::move(state)); };
    if (options.mode == MendMode::off || source.rect().width() < kLeastSide || source.rect().height() < kLeastSide) return finished();
    const bool by_infrared = facts.infrared && !facts.silver;
    if (!by_infrared && map.defects.empty()) return finished();
    auto marks = Plane<uchar>::make(means.scratch, {state->tiles.width, state->tiles.height});
    if (!marks) return Failure(std::move(marks.error()));
    std::optional<Neutral> neutral;
    if (by_infrared) {
        auto made = neutral_of(source, state->tiles, facts, means);
        if (!made) return Failure(std::move(made.error()));
        neutral = std::move(*made);
    }
    auto told = by_infrared ? tell_by_infrared(source, state->tiles, *neutral, facts, *marks, state->divided, means)
                            : tell_by_map(source, state->tiles, map, facts, options.mode == MendMode::all, means);
    if (!told) return Failure(std::move(told.error()));
    if (!by_infrared && told->hole.empty()) {
        state->counts.beyond = told->beyond;
        return finished();
    }
    if (!by_infrared) {
        const auto none = [&](int, const cv::Rect& tile) -> Result<void> { return marks->put(tile, cv::Mat::zeros(tile.size(), CV_8U)); };
        if (auto done = over_tiles(state->tiles, means.for_each, tiles_at_once(means, 0), none); !done) return Failure(std::move(done.error()));
    }
    state->marks = std::move(*marks);
    state->hole = std::move(told->hole);
    state->counts.beyond = told->beyond;
    if (auto filled = fill(*state, facts, means); !filled) return Failure(std::move(filled.error()));
    if (by_infrared)
        if (auto quiet = quieten_tiles(StepPixels(*state, true), state->tiles, *neutral, *state->marks, state->hole, facts, state->quiet, means); !quiet)
            return Failure(std::move(quiet.error()));
    if (auto counted = count(*state, means); !counted) return Failure(std::move(counted.error()));
    return finished();
}

Mending mend(View<LinearRgbi> pixels, PxRect rect, const DefectMap& map, const MendFacts& facts, const MendOptions& options) {
    Image<LinearRgbi> before(pixels.width(), pixels.height());
    for (std::int64_t y = 0; y < pixels.height(); ++y) std::copy_n(pixels.row(y), pixels.width(), before.row(y));
    const ViewSource source(rect, before.view());
    Scratch scratch({}, std::numeric_limits<std::int64_t>::max(), {}, silent_observer());
    const auto mended = mend(source, map, facts, options, MendMeans{scratch, {}});
    BASEFOG_ASSERT(mended);  // memory is all it needs
    Mending mending{mended->counts(), {}};
    if (mending.divided + mending.filled == 0) return mending;
    mending.mask = Image<Mended>(pixels.width(), pixels.height());
    BASEFOG_ASSERT(mended->read(rect, pixels) && mended->marks(rect, mending.mask.view()));
    return mending;
}

}  // namespace basefog
