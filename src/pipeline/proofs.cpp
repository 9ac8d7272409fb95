// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/pipeline/proofs.h"

#include "camera.h"
#include "frame_picture.h"
#include "plan.h"
#include "pool_rolls.h"
#include "print.h"
#include "workers.h"
#include "strip_shots.h"

#include "basefog/invert/write.h"
#include "basefog/mend/mend.h"
#include "basefog/scan/reader.h"

#include <tbb/global_control.h>
#include <algorithm>
#include <cmath>
#include <optional>
#include <thread>

namespace basefog {
namespace {

using namespace pipeline;

/// A frame's place among what was measured.
struct Place {
    std::size_t sheet = 0, strip = 0, frame = 0;
    friend bool operator==(const Place&, const Place&) = default;
};

struct RollOnTable {
    RollRecord record;
    std::vector<FrameSamples> samples;  ///< in the order of record.frames
};

using SamplesOfSheets = std::vector<std::vector<std::vector<FrameSamples>>>;  // sheet, strip, frame

Place place_at(const FrameRef& ref) { return {static_cast<std::size_t>(ref.scan), static_cast<std::size_t>(ref.strip), static_cast<std::size_t>(ref.frame)}; }

/// A part of the scan held in memory.
struct Crop {
    PxRect rect;
    Image<LinearRgbi> pixels;  ///< rect's size
};

/// A frame's mended light, and the same reduced by a whole factor.
struct Negative {
    Place place;
    Quad corners{};
    Crop full, reduced;
    std::int64_t factor = 1;
};

constexpr const char* kPatchMoved = "The frame was moved since it was measured. Run again to have its grey patch read where it lies now.";
constexpr double kMovedMm = 0.5;  // Chosen: a grey patch is wider; safe range 0.2 to 1

constexpr std::int64_t kReducedLongSide = 800;  // Chosen: some 0.4 megapixels, a few hundredths of a second; safe range 500 to 1200.

FrameSamples copy_of(const FrameSamples& samples) { return {samples.kind, samples.number, samples.note, samples.above_base.clone(), samples.usable.clone()}; }

Quad shrunk(const Quad& corners, double factor) {
    Quad out = corners;
    for (PointPx& corner : out) corner = corner * (1 / factor);
    return out;
}

/// The field as pixels `factor` times as large see it.
LightField shrunk(LightField light, double factor) {
    light.scan_width /= factor;
    light.scan_height /= factor;
    return light;
}

/// Averages light over squares that begin at whole multiples of the factor, so that a reduced position is the full one divided by it.
Crop reduced(const Crop& crop, std::int64_t factor) {
    Crop out;
    out.rect = {(crop.rect.x0 + factor - 1) / factor, (crop.rect.y0 + factor - 1) / factor, crop.rect.x1 / factor, crop.rect.y1 / factor};
    if (out.rect.empty()) return out;
    out.pixels = Image<LinearRgbi>(out.rect.width(), out.rect.height());
    const auto n = static_cast<float>(factor * factor);
    on_all_threads().all(static_cast<std::size_t>(out.rect.height()), [&](std::size_t row) {
        const auto y = static_cast<std::int64_t>(row);
        for (std::int64_t j = 0; j < factor; ++j) {
            const LinearRgbi* p = crop.pixels.row((out.rect.y0 + y) * factor + j - crop.rect.y0) + (out.rect.x0 * factor - crop.rect.x0);
            for (std::int64_t x = 0; x < out.rect.width(); ++x)
                for (std::int64_t i = 0; i < factor; ++i, ++p) {
                    LinearRgbi& sum = out.pixels(x, y);
                    sum = {sum.r + p->r / n, sum.g + p->g / n, sum.b + p->b / n, 0};
                }
        }
    });
    return out;
}

Rgb<Stops> in_stops(const Rgb<LogExposure>& balance) {
    Rgb<Stops> stops;
    for (int l = 0; l < 3; ++l) stops[l] = to_stops(balance[l]);
    return stops;
}

}  // namespace

struct ProofTable::Impl {
    RunOptions options;
    Plan plan;
    OutputProfile profile;
    std::vector<MeasuredSheet> sheets;
    std::vector<RollOnTable> rolls;
    std::optional<Negative> kept;

    Result<void> measure_group(const std::vector<int>& group, Observer& observer);
    void keep_rolls(PooledRolls&& pooled, SamplesOfSheets&& samples, const std::vector<int>& group);
    [[nodiscard]] std::optional<Place> place_of(const ProofWish& wish) const;
    [[nodiscard]] Result<Negative> read_negative(const Place& place, const ProofWish& wish, Observer& observer) const;
    [[nodiscard]] Rgb<LogExposure> balance_of(const RollOnTable& roll, const Place& place, const PrintValues& print, bool of_roll, std::string& note) const;
    [[nodiscard]] Result<Image<EncodedRgb8>> picture(const ProofWish& wish, const RollOnTable& roll, const Rgb<LogExposure>& balance) const;

    [[nodiscard]] const StripRecord& strip_at(const Place& place) const { return sheets[place.sheet].record.strips[place.strip]; }
    [[nodiscard]] const FrameRecord& frame_at(const Place& place) const { return strip_at(place).frames[place.frame]; }
    [[nodiscard]] const RollOnTable& roll_at(const Place& place) const {
        return *std::find_if(rolls.begin(), rolls.end(), [&](const RollOnTable& roll) { return roll.record.roll.id == strip_at(place).roll; });
    }
    [[nodiscard]] bool moved(const Place& place, const Quad& corners) const {
        const double most = to_px(Millimetres(kMovedMm), sheets[place.sheet].record.scale);
        const Quad& was = frame_at(place).box.corners;
        return !std::equal(was.begin(), was.end(), corners.begin(), [&](PointPx a, PointPx b) { return distance(a, b) <= most; });
    }
    [[nodiscard]] std::size_t threads() const {
        return options.threads > 0 ? static_cast<std::size_t>(options.threads) : std::max<std::size_t>(1, std::thread::hardware_concurrency());
    }
};

/// Every roll with the samples of its frames, which pooling has taken.
void ProofTable::Impl::keep_rolls(PooledRolls&& pooled, SamplesOfSheets&& samples, const std::vector<int>& group) {
    for (RollRecord& record : pooled.rolls) {
        RollOnTable roll{std::move(record), {}};
        for (const FrameRef& ref : roll.record.frames) {
            const auto local = static_cast<std::size_t>(std::find(group.begin(), group.end(), ref.scan) - group.begin());
            const Place place = place_at(ref);
            roll.samples.push_back(std::move(samples[local][place.strip][place.frame]));
            roll.samples.back().number = frame_at(place).number;
        }
        rolls.push_back(std::move(roll));
    }
}

Result<void> ProofTable::Impl::measure_group(const std::vector<int>& group, Observer& observer) {
    std::vector<MeasuredSheet> measured;
    std::vector<Finding> ignored;  // the run tells them
    SamplesOfSheets samples;
    if (auto prepared = prepare_close_ups(plan, group, options, ignored, observer); !prepared) return prepared;
    if (auto prepared = prepare_strips(plan, group, options, ignored, observer); !prepared) return prepared;
    for (const int index : group) {
        observer.progress("measuring " + plan.sheets[static_cast<std::size_t>(index)].file, index, static_cast<double>(plan.sheets.size()));
        auto sheet = measure_sheet(plan, index, options, {}, ignored, observer);
        if (!sheet) return Failure(std::move(sheet.error()));
        sheet->record.overview_jpeg = {};
        sheet->record.residue_png = {};
        samples.emplace_back();
        for (const std::vector<FrameSamples>& strip : sheet->samples) {
            samples.back().emplace_back();
            for (const FrameSamples& frame : strip) samples.back().back().push_back(copy_of(frame));
        }
        measured.push_back(std::move(*sheet));
    }
    auto pooled = pool_rolls(measured, group, options, ignored, observer);
    if (!pooled) return Failure(std::move(pooled.error()));
    for (std::size_t i = 0; i < group.size(); ++i) sheets[static_cast<std::size_t>(group[i])] = std::move(measured[i]);
    keep_rolls(std::move(*pooled), std::move(samples), group);
    return {};
}

std::optional<Place> ProofTable::Impl::place_of(const ProofWish& wish) const {
    const PointPx middle = centre(wish.corners);
    for (std::size_t i = 0; i < sheets.size(); ++i)
        for (std::size_t s = 0; sheets[i].record.file == wish.scan && s < sheets[i].record.strips.size(); ++s)
            for (std::size_t f = 0; f < sheets[i].record.strips[s].frames.size(); ++f)
                if (contains(sheets[i].record.strips[s].frames[f].box.corners, middle)) return Place{i, s, f};
    return std::nullopt;
}

Result<Negative> ProofTable::Impl::read_negative(const Place& place, const ProofWish& wish, Observer& observer) const {
    const MeasuredSheet& sheet = sheets[place.sheet];
    const SheetPlan& sheet_plan = plan.sheets[static_cast<std::size_t>(sheet.plan)];
    if (stamps_of(sheet_plan) != sheet.stamps)
        return fail(ErrorCode::usage, "was changed since it was measured", sheet_plan.path, "run again, or start the review anew");
    auto reader = open_scan(sheet_plan.path, sheet_plan.scan, observer);
    if (!reader) return Failure(std::move(reader.error()));
    const PxRect whole{0, 0, sheet.record.info.width, sheet.record.info.height};
    const PxRect source = intersection(picture_source(wish.corners, sheet.record.scale, options.mend.mode), whole);
    const PositiveSize size = positive_size(wish.corners);
    if (source.empty() || size.width < 1 || size.height < 1) return fail(ErrorCode::usage, "the frame lies outside the scan", wish.scan);
    Negative negative{place, wish.corners, {source, Image<LinearRgbi>(source.width(), source.height())}, {}, 1};
    if (auto read = (*reader)->read_region(source, negative.full.pixels.view()); !read) return Failure(std::move(read.error()));
    const auto facts = mend_facts(sheet, strip_at(place), ViewSource(source, negative.full.pixels.view()), options, ForEach{});
    if (!facts) return Failure(facts.error());
    (void)mend(negative.full.pixels.view(), source, {sheet.defects.view(), sheet.overview_factor}, *facts, options.mend);
    negative.factor = std::max<std::int64_t>(1, std::max(size.width, size.height) / kReducedLongSide);
    if (negative.factor > 1) negative.reduced = reduced(negative.full, negative.factor);
    if (negative.reduced.pixels.empty()) negative.factor = 1;
    return negative;
}

Rgb<LogExposure> ProofTable::Impl::balance_of(const RollOnTable& roll, const Place& place, const PrintValues& print, bool of_roll, std::string& note) const {
    std::vector<PrintValues> prints(roll.samples.size());
    const auto& refs = roll.record.frames;
    const auto own =
        static_cast<std::size_t>(std::find_if(refs.begin(), refs.end(), [&](const FrameRef& ref) { return place_at(ref) == place; }) - refs.begin());
    prints[own] = print;
    std::vector<Finding> findings;
    const auto balances = balances_of(roll.record.film, roll.samples, prints, of_roll ? print : PrintValues{}, findings);
    if (!findings.empty()) note = findings.front().message;
    return balances[own];
}

Result<Image<EncodedRgb8>> ProofTable::Impl::picture(const ProofWish& wish, const RollOnTable& roll, const Rgb<LogExposure>& balance) const {
    const MeasuredSheet& sheet = sheets[kept->place.sheet];
    const bool full = wish.exact || kept->factor == 1;
    const auto factor = full ? 1.0 : static_cast<double>(kept->factor);
    const Crop& crop = full ? kept->full : kept->reduced;
    const LightField light = shrunk(sheet.light, factor);
    const PictureFacts facts = picture_facts(strip_at(kept->place), roll.record.film.model, balance, frame_at(kept->place).exposure.render_level, wish.print,
                                             PixelsPerMm(sheet.record.scale.value() / factor), options);
    const ViewSource source(crop.rect, crop.pixels.view());
    const ForEach for_each = on_all_threads();
    const auto shadows = shadow_means(source, light, facts, for_each);
    if (!shadows) return Failure(shadows.error());
    const auto positive = render_picture(source, shrunk(wish.corners, factor), light, facts.inverter, profile, *shadows, for_each);
    if (!positive) return Failure(positive.error());
    return proof_from_positive(positive->view(), profile.icc_bytes(), wish.long_side);
}

Result<ProofTable> ProofTable::measure(const RunOptions& options, Observer& observer) {
    if (auto valid = validate(options); !valid) return Failure(std::move(valid.error()));
    auto plan = make_plan(options);
    if (!plan) return Failure(std::move(plan.error()));
    auto profile = OutputProfile::make(options.invert);
    if (!profile) return Failure(std::move(profile.error()));
    auto impl = std::make_unique<Impl>(Impl{options, std::move(*plan), std::move(*profile), {}, {}, {}});
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, impl->threads());
    impl->sheets.resize(impl->plan.sheets.size());
    for (const std::vector<int>& group : impl->plan.groups)
        if (auto done = impl->measure_group(group, observer); !done) return Failure(std::move(done.error()));
    return ProofTable(std::move(impl));
}

Result<Proof> ProofTable::proof(const ProofWish& wish, Observer& observer) {
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, impl_->threads());
    const auto place = impl_->place_of(wish);
    if (!place) return fail(ErrorCode::usage, "the frame is not among those measured", wish.scan, "save and run again to see it");
    if (impl_->frame_at(*place).box.kind == FrameKind::blank) return fail(ErrorCode::usage, "the frame was found blank: it has no positive", wish.scan);
    if (wish.long_side < 1) return fail(ErrorCode::usage, "a proof is at least a pixel long");
    if (!impl_->kept || !(impl_->kept->place == *place) || impl_->kept->corners != wish.corners) {
        impl_->kept.reset();
        auto negative = impl_->read_negative(*place, wish, observer);
        if (!negative) return Failure(std::move(negative.error()));
        impl_->kept = std::move(*negative);
    }
    const RollOnTable& roll = impl_->roll_at(*place);
    Proof proof;
    if (wish.print.balance.by == BalanceChoice::By::patch && impl_->moved(*place, wish.corners)) proof.note = kPatchMoved;
    const Rgb<LogExposure> balance = impl_->balance_of(roll, *place, wish.print, wish.balance_of_roll, proof.note);
    proof.coloured = !roll.record.film.model.silver;
    proof.balance = in_stops(balance);
    proof.roll_balance = in_stops(roll.record.film.model.balance);
    proof.light_shift = in_stops(impl_->frame_at(*place).exposure.light_shift);
    auto picture = impl_->picture(wish, roll, balance);
    if (!picture) return Failure(std::move(picture.error()));
    auto jpeg = jpeg_bytes(picture->view(), impl_->options.invert.proof_quality);
    if (!jpeg) return Failure(std::move(jpeg.error()));
    proof.jpeg = std::move(*jpeg);
    return proof;
}

ProofTable::ProofTable(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
ProofTable::ProofTable(ProofTable&&) noexcept = default;
ProofTable& ProofTable::operator=(ProofTable&&) noexcept = default;
ProofTable::~ProofTable() = default;

}  // namespace basefog
