// SPDX-License-Identifier: GPL-3.0-or-later
#include "make_frame.h"

#include "frame_picture.h"

#include "basefog/core/version.h"
#include "basefog/invert/shadow_means.h"
#include "basefog/invert/write.h"
#include "basefog/mend/mend.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <vector>

namespace basefog::pipeline {
namespace {

constexpr int kThumbnailLongSide = 480;  // Chosen: sharp in the report's cards, some 25 kB each.
constexpr int kThumbnailQuality = 82;

PhotoMetadata metadata_of(const RollRecord& roll, const FrameRecord& frame, const ScanInfo& info) {
    PhotoMetadata metadata;
    metadata.title = "Roll " + roll.roll.id + ", frame " + std::to_string(frame.number);
    metadata.roll = roll.roll.id;
    metadata.stock = roll.roll.stock;
    metadata.session = roll.roll.session;
    metadata.process = roll.facts.process;
    metadata.frame_number = frame.number;
    metadata.exposure_index = roll.roll.rating;
    metadata.date = roll.session && roll.session->date ? to_string(*roll.session->date) : info.date;
    metadata.software = "basefog " + std::string(version());
    std::string& text = metadata.description;
    text = metadata.title;
    if (!metadata.stock.empty()) text += ", on " + metadata.stock;
    if (roll.roll.rating) text += ", rated " + number_text(*roll.roll.rating);
    if (!metadata.process.empty()) text += ", processed in " + metadata.process;
    if (!metadata.session.empty()) text += ", session " + metadata.session;
    if (roll.bath) text += ", bath " + roll.bath->id;
    for (const std::string* word : {&metadata.roll, &metadata.stock, &metadata.session, &metadata.process})
        if (!word->empty()) metadata.keywords.push_back(*word);
    return metadata;
}

/// The marks as the positive shows them: a pixel counts as mended when one under it or beside it was.
class PositiveMarks {
public:
    PositiveMarks(const MendedPixels& mended, const Quad& corners, const ForEach& for_each)
        : mended_(mended), corners_(corners), for_each_(for_each), size_(positive_size(corners)) {}

    /// Rows from the first to the last.
    [[nodiscard]] Result<void> row(std::int64_t y, std::uint8_t* out) {
        if (y % kRows == 0)
            if (auto made = make_band(y); !made) return made;
        std::copy_n(band_.row(y % kRows), size_.width, out);
        return {};
    }

private:
    static constexpr std::int64_t kRows = 64, kColumns = 512;  // Chosen: done at a time; does not change results.

    [[nodiscard]] PointPx place(double x, double y) const {
        return inside(corners_, x / static_cast<double>(size_.width), y / static_cast<double>(size_.height));
    }
    [[nodiscard]] Result<void> make_band(std::int64_t y0) {
        band_ = Image<std::uint8_t>(size_.width, std::min(kRows, size_.height - y0));
        return for_each_((size_.width + kColumns - 1) / kColumns, for_each_.at_once,
                         [&](std::int64_t block) { return make_block(block * kColumns, std::min(size_.width, (block + 1) * kColumns), y0); });
    }
    [[nodiscard]] Result<void> make_block(std::int64_t x0, std::int64_t x1, std::int64_t y0) {
        const auto left = static_cast<double>(x0), right = static_cast<double>(x1), top = static_cast<double>(y0),
                   bottom = static_cast<double>(y0 + band_.height());
        constexpr double kBeside = 2;
        const PxRect part = intersection(bounds({place(left, top), place(right, top), place(right, bottom), place(left, bottom)}, kBeside), mended_.rect());
        if (part.empty()) return {};
        Image<Mended> marks(part.width(), part.height());
        if (auto got = mended_.marks(part, marks.view()); !got) return got;
        const Mended* const all = marks.row(0);
        if (std::all_of(all, all + part.width() * part.height(), [](Mended mark) { return mark == Mended::untouched; })) return {};
        for (std::int64_t y = 0; y < band_.height(); ++y)
            for (std::int64_t x = x0; x < x1; ++x) {
                const PointPx p = place(static_cast<double>(x) + 0.5, static_cast<double>(y0 + y) + 0.5);
                const std::int64_t cx = static_cast<std::int64_t>(std::floor(p.x)) - part.x0, cy = static_cast<std::int64_t>(std::floor(p.y)) - part.y0;
                std::uint8_t most = 0;
                for (std::int64_t j = std::max<std::int64_t>(0, cy - 1); j <= std::min(cy + 1, marks.height() - 1); ++j)
                    for (std::int64_t i = std::max<std::int64_t>(0, cx - 1); i <= std::min(cx + 1, marks.width() - 1); ++i)
                        most = std::max(most, static_cast<std::uint8_t>(marks(i, j)));
                band_(x, y) = most;
            }
        return {};
    }

    const MendedPixels& mended_;
    const Quad& corners_;
    const ForEach& for_each_;
    PositiveSize size_;
    Image<std::uint8_t> band_;
};

/// A frame's files, one after the other.
class FrameMaker {
public:
    FrameMaker(const FrameTask& task, const MeasuredSheet& sheet, const OutputProfile& profile, const RunOptions& options, const OutputFolder& output,
               const FrameMeans& means)
        : sheet_(sheet),
          strip_(sheet.record.strips[static_cast<std::size_t>(task.strip)]),
          frame_(strip_.frames[static_cast<std::size_t>(task.frame)]),
          profile_(profile),
          options_(options),
          output_(output),
          means_(means),
          facts_(picture_facts(strip_, task.roll->film.model, frame_.balance, frame_.exposure.render_level, frame_.print, sheet.record.scale, options)),
          metadata_(metadata_of(*task.roll, frame_, sheet.record.info)) {}

    [[nodiscard]] Result<MadeFrame> make(const PixelSource& source) {
        if (!frame_.unmended.empty())
            if (auto written = write_positive(frame_.unmended, source, nullptr); !written) return Failure(std::move(written.error()));
        const MendMeans mend_means{means_.scratch, means_.for_each, means_.memory_bytes};
        const auto facts = mend_facts(sheet_, strip_, source, options_, means_.for_each);
        if (!facts) return Failure(facts.error());
        auto mended = mend(source, {sheet_.defects.view(), sheet_.overview_factor}, *facts, options_.mend, mend_means);
        if (!mended) return Failure(std::move(mended.error()));
        if (mended->counts().divided + mended->counts().filled > 0)
            if (auto written = write_marks(*mended); !written) return Failure(std::move(written.error()));
        return make_from(*mended);
    }

private:
    [[nodiscard]] const Quad& corners() const { return frame_.box.corners; }
    [[nodiscard]] WriteMeans write_means() const { return {means_.for_each, means_.memory_bytes}; }

    [[nodiscard]] Result<void> write_marks(const MendedPixels& mended) const {
        const PositiveSize size = positive_size(corners());
        PositiveMarks marks(mended, corners(), means_.for_each);
        return write_grey_png(output_.absolute(frame_.mended_mask), size.width, size.height,
                              [&](std::int64_t y, std::uint8_t* row) { return marks.row(y, row); });
    }

    [[nodiscard]] Result<ShadowMeans> shadow_means(const PixelSource& source) const {
        return pipeline::shadow_means(source, sheet_.light, facts_, means_.for_each);
    }

    [[nodiscard]] Result<void> write_positive(const std::string& file, const PixelSource& source, ProofMaker* proof) const {
        const auto shadows = shadow_means(source);
        if (!shadows) return Failure(shadows.error());
        return write_positive(file, source, *shadows, proof);
    }
    [[nodiscard]] Result<void> write_positive(const std::string& file, const PixelSource& source, const ShadowMeans& shadows, ProofMaker* proof) const {
        const FillPositive fill = [&](std::int64_t row0, View<EncodedRgb16> rows) {
            return render_rows(source, corners(), sheet_.light, facts_.inverter, profile_, row0, rows, &shadows);
        };
        return write_positive_tiff(output_.absolute(file), positive_size(corners()), fill, proof, profile_.icc_bytes(), options_.invert.compression,
                                   sheet_.record.scale, metadata_, write_means());
    }

    /// Beside the positive, where asked for: scene-linear light, and film density.
    [[nodiscard]] Result<void> write_finishing_files(const PixelSource& source, const ShadowMeans& shadows) const {
        const PositiveSize size = positive_size(corners());
        if (!frame_.linear.empty()) {
            const FillLight fill = [&](std::int64_t row0, View<SceneRgb> rows) {
                return means_.for_each((rows.height() + kRenderRows - 1) / kRenderRows, means_.for_each.at_once, [&](std::int64_t part) {
                    const std::int64_t first = part * kRenderRows, n = std::min(kRenderRows, rows.height() - first);
                    return render_linear_rows(source, corners(), sheet_.light, facts_.inverter, row0 + first, rows.part(0, first, rows.width(), n), &shadows);
                });
            };
            if (auto written = write_linear_exr(output_.absolute(frame_.linear), size, fill, options_.invert.compression, sheet_.record.scale, metadata_);
                !written)
                return written;
        }
        if (frame_.density.empty()) return {};
        const FillDensity fill = [&](std::int64_t row0, View<DensityRgbi> rows) {
            return render_density_rows(source, corners(), sheet_.light, facts_.base, row0, rows);
        };
        return write_density_tiff(output_.absolute(frame_.density), size, fill, options_.invert.compression, sheet_.record.scale, metadata_, write_means());
    }

    [[nodiscard]] Result<MadeFrame> make_from(const MendedPixels& mended) const {
        const auto shadows = shadow_means(mended);
        if (!shadows) return Failure(shadows.error());
        if (auto written = write_finishing_files(mended, *shadows); !written) return Failure(std::move(written.error()));
        auto proofs = ProofMaker::make(positive_size(corners()), profile_.icc_bytes(), options_.invert.proof_long_side_px);
        if (!proofs) return Failure(std::move(proofs.error()));
        if (auto written = write_positive(frame_.positive, mended, *shadows, &*proofs); !written) return Failure(std::move(written.error()));
        const Image<EncodedRgb8> proof = proofs->finish();
        if (auto written =
                write_proof_jpeg(output_.absolute(frame_.proof), proof.view(), options_.invert.proof_quality, metadata_, options_.invert.icc_version);
            !written)
            return Failure(std::move(written.error()));
        MadeFrame made;
        made.mended = mended.counts();
        made.thumbnail = reduce_srgb(proof.view(), kThumbnailLongSide);
        auto bytes = jpeg_bytes(made.thumbnail.view(), kThumbnailQuality);
        if (!bytes) return Failure(std::move(bytes.error()));
        made.thumbnail_jpeg = std::move(*bytes);
        return made;
    }

    const MeasuredSheet& sheet_;
    const StripRecord& strip_;
    const FrameRecord& frame_;
    const OutputProfile& profile_;
    const RunOptions& options_;
    const OutputFolder& output_;
    const FrameMeans& means_;
    PictureFacts facts_;
    PhotoMetadata metadata_;
};

}  // namespace

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%g", value);
    return text;
}

Result<MadeFrame> make_frame(const FrameTask& task, const PixelSource& source, const MeasuredSheet& sheet, const OutputProfile& profile,
                             const RunOptions& options, const OutputFolder& output, const FrameMeans& means) {
    return FrameMaker(task, sheet, profile, options, output, means).make(source);
}

}  // namespace basefog::pipeline
