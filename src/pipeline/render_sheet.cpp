// SPDX-License-Identifier: GPL-3.0-or-later
#include "render_sheet.h"

#include "frame_picture.h"

#include "basefog/core/version.h"
#include "basefog/invert/write.h"
#include "basefog/mend/mend.h"
#include "basefog/scan/reader.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <memory>
#include <mutex>
#include <optional>

namespace basefog::pipeline {
namespace {

constexpr std::int64_t kBandRows = 64;       // Chosen: rows decoded at a time; does not change results.
constexpr std::int64_t kBytesPerPixel = 40;  // a frame at work: crop 16, positive 6, its sRGB form 3, encoder and reduction scratch
constexpr int kThumbnailLongSide = 480;      // Chosen: sharp in the report's cards, some 25 kB each.
constexpr int kThumbnailQuality = 82;

/// A frame to render and everything it needs.
struct Task {
    int strip = 0, frame = 0;
    PxRect source;
    const RollRecord* roll = nullptr;
    Crop crop;
};

const RollRecord* roll_of(const std::vector<RollRecord>& rolls, const std::string& id) {
    for (const RollRecord& roll : rolls)
        if (roll.roll.id == id) return &roll;
    return nullptr;
}

std::vector<Task> tasks_of(const MeasuredSheet& sheet, const std::vector<RollRecord>& rolls, MendMode mode) {
    std::vector<Task> tasks;
    const PxRect whole{0, 0, sheet.record.info.width, sheet.record.info.height};
    for (int s = 0; s < static_cast<int>(sheet.record.strips.size()); ++s) {
        const StripRecord& strip = sheet.record.strips[static_cast<std::size_t>(s)];
        for (int f = 0; f < static_cast<int>(strip.frames.size()); ++f) {
            const FrameBox& box = strip.frames[static_cast<std::size_t>(f)].box;
            const PxRect source = intersection(picture_source(box.corners, sheet.record.scale, mode), whole);
            // A fogged frame is rendered too: an even picture may be taken for one, and nothing must be lost on that.
            if (box.kind == FrameKind::blank || source.empty()) continue;
            tasks.push_back({s, f, source, roll_of(rolls, strip.roll), {}});
        }
    }
    std::stable_sort(tasks.begin(), tasks.end(), [](const Task& a, const Task& b) { return a.source.y0 < b.source.y0; });
    return tasks;
}

/// How many of the next tasks may be at work together; at least one.
std::size_t wave_size(const std::vector<Task>& tasks, std::size_t first, std::int64_t budget) {
    std::int64_t cost = 0;
    std::size_t n = 0;
    for (std::size_t i = first; i < tasks.size(); ++i, ++n) {
        cost += kBytesPerPixel * tasks[i].source.width() * tasks[i].source.height();
        if (n > 0 && (cost > budget || tasks[i].source.y0 > tasks[first].source.y1)) break;
    }
    return n;
}

/// Reads the rows a wave needs, from the top, and deals them out to the crops.
Result<void> fill_crops(ScanReader& reader, Task* first, Task* last, Observer& observer) {
    PxRect all = first->source;
    for (Task* task = first; task != last; ++task) {
        all = {std::min(all.x0, task->source.x0), std::min(all.y0, task->source.y0), std::max(all.x1, task->source.x1), std::max(all.y1, task->source.y1)};
        task->crop = {task->source, Image<LinearRgbi>(task->source.width(), task->source.height())};
    }
    Image<LinearRgbi> band(all.width(), std::min(kBandRows, all.height()));
    for (std::int64_t y = all.y0; y < all.y1; y += kBandRows) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while reading");
        const PxRect rows{all.x0, y, all.x1, std::min(y + kBandRows, all.y1)};
        if (auto read = reader.read_region(rows, band.view().part(0, 0, rows.width(), rows.height())); !read) return read;
        for (Task* task = first; task != last; ++task) {
            const PxRect part = intersection(rows, task->source);
            for (std::int64_t row = part.y0; row < part.y1; ++row)
                std::copy_n(band.row(row - rows.y0) + (part.x0 - rows.x0), part.width(),
                            task->crop.pixels.row(row - task->source.y0) + (part.x0 - task->source.x0));
        }
    }
    return {};
}

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%g", value);
    return text;
}

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

/// The mask as the positive shows it: a pixel counts as mended when one under it or beside it was.
Result<void> write_mask(const std::string& path, const Image<Mended>& mask, PxRect rect, const Quad& corners, PositiveSize size) {
    return write_grey_png(path, size.width, size.height, [&](std::int64_t y, std::uint8_t* row) {
        for (std::int64_t x = 0; x < size.width; ++x) {
            const PointPx p = inside(corners, (static_cast<double>(x) + 0.5) / static_cast<double>(size.width),
                                     (static_cast<double>(y) + 0.5) / static_cast<double>(size.height));
            const std::int64_t cx = static_cast<std::int64_t>(std::floor(p.x)) - rect.x0, cy = static_cast<std::int64_t>(std::floor(p.y)) - rect.y0;
            std::uint8_t most = 0;
            for (std::int64_t j = std::max<std::int64_t>(0, cy - 1); j <= std::min(cy + 1, mask.height() - 1); ++j)
                for (std::int64_t i = std::max<std::int64_t>(0, cx - 1); i <= std::min(cx + 1, mask.width() - 1); ++i)
                    most = std::max(most, static_cast<std::uint8_t>(mask(i, j)));
            row[x] = most;
        }
    });
}

struct Made {
    Mending mending;
    std::string thumbnail_jpeg;
    Image<EncodedRgb8> thumbnail;
};

/// Fills a band of rows side by side.
template <class Pixel, class Render>
auto filled_by(const Render& render) {
    return [render](std::int64_t row0, View<Pixel> rows) {
        tbb::parallel_for(tbb::blocked_range<std::int64_t>(0, rows.height(), kRenderRows), [&](const tbb::blocked_range<std::int64_t>& part) {
            render(row0 + part.begin(), rows.part(0, part.begin(), rows.width(), part.end() - part.begin()));
        });
    };
}

/// Beside the positive, where asked for: scene-linear light, and film density.
Result<void> write_finishing_files(const Task& task, const MeasuredSheet& sheet, const FrameRecord& frame, const Rgb<Density>& base, const Inverter& inverter,
                                   const ShadowMeans& shadows, const RunOptions& options, const OutputFolder& output, const PhotoMetadata& metadata) {
    const Quad& corners = frame.box.corners;
    const PositiveSize size = positive_size(corners);
    if (!frame.linear.empty()) {
        const auto fill = filled_by<SceneRgb>(
            [&](std::int64_t row0, View<SceneRgb> rows) { render_linear_rows(task.crop, corners, sheet.light, inverter, row0, rows, &shadows); });
        if (auto written = write_linear_exr(output.absolute(frame.linear), size, fill, options.invert.compression, sheet.record.scale, metadata); !written)
            return written;
    }
    if (frame.density.empty()) return {};
    const auto fill =
        filled_by<DensityRgbi>([&](std::int64_t row0, View<DensityRgbi> rows) { render_density_rows(task.crop, corners, sheet.light, base, row0, rows); });
    return write_density_tiff(output.absolute(frame.density), size, fill, options.invert.compression, sheet.record.scale, metadata);
}

/// One frame from its crop to its files.
Result<Made> make_frame(Task& task, const MeasuredSheet& sheet, const OutputProfile& profile, const RunOptions& options, const OutputFolder& output) {
    const StripRecord& strip = sheet.record.strips[static_cast<std::size_t>(task.strip)];
    const FrameRecord& frame = strip.frames[static_cast<std::size_t>(task.frame)];
    const PictureFacts facts =
        picture_facts(strip, task.roll->film.model, frame.balance, frame.exposure.render_level, frame.print, sheet.record.scale, options);
    const PhotoMetadata metadata = metadata_of(*task.roll, frame, sheet.record.info);
    if (!frame.unmended.empty()) {
        const ShadowMeans shadows = shadow_means(task.crop, sheet.light, facts);
        const Image<EncodedRgb16> unmended = render_picture(task.crop, frame.box.corners, sheet.light, facts.inverter, profile, shadows);
        if (auto written = write_positive_tiff(output.absolute(frame.unmended), unmended.view(), profile.icc_bytes(), options.invert.compression,
                                               sheet.record.scale, metadata);
            !written)
            return Failure(std::move(written.error()));
    }
    Made made;
    made.mending = mend(task.crop.pixels.view(), task.crop.rect, {sheet.defects.view(), sheet.overview_factor}, mend_facts(sheet, strip), options.mend);
    if (!made.mending.mask.empty()) {
        if (auto written =
                write_mask(output.absolute(frame.mended_mask), made.mending.mask, task.crop.rect, frame.box.corners, positive_size(frame.box.corners));
            !written)
            return Failure(std::move(written.error()));
        made.mending.mask = {};
    }
    const ShadowMeans shadows = shadow_means(task.crop, sheet.light, facts);
    if (auto written = write_finishing_files(task, sheet, frame, facts.base, facts.inverter, shadows, options, output, metadata); !written)
        return Failure(std::move(written.error()));
    const Image<EncodedRgb16> positive = render_picture(task.crop, frame.box.corners, sheet.light, facts.inverter, profile, shadows);
    task.crop = {};  // the largest part of a frame's memory; what follows needs the positive only
    if (auto written = write_positive_tiff(output.absolute(frame.positive), positive.view(), profile.icc_bytes(), options.invert.compression,
                                           sheet.record.scale, metadata);
        !written)
        return Failure(std::move(written.error()));
    auto proof = proof_from_positive(positive.view(), profile.icc_bytes(), options.invert.proof_long_side_px);
    if (!proof) return Failure(std::move(proof.error()));
    if (auto written = write_proof_jpeg(output.absolute(frame.proof), proof->view(), options.invert.proof_quality, metadata, options.invert.icc_version);
        !written)
        return Failure(std::move(written.error()));
    made.thumbnail = reduce_srgb(proof->view(), kThumbnailLongSide);
    auto bytes = jpeg_bytes(made.thumbnail.view(), kThumbnailQuality);
    if (!bytes) return Failure(std::move(bytes.error()));
    made.thumbnail_jpeg = std::move(*bytes);
    return made;
}

void name_outputs(const Task& task, MeasuredSheet& sheet, const InvertOptions& invert, const MendOptions& mend, OutputFolder& output) {
    StripRecord& strip = sheet.record.strips[static_cast<std::size_t>(task.strip)];
    FrameRecord& frame = strip.frames[static_cast<std::size_t>(task.frame)];
    char number[16];
    std::snprintf(number, sizeof number, "-%02d", frame.number);
    const std::string stem = safe_name(strip.roll) + number;
    frame.positive = output.unique("positives", stem, ".tif");
    frame.proof = output.unique("proofs", stem, ".jpg");
    if (invert.linear) frame.linear = output.unique("linear", stem, ".exr");
    if (invert.density) frame.density = output.unique("density", stem, ".tif");
    if (mend.mode == MendMode::off) return;
    frame.mended_mask = output.unique("positives", stem, "-mended.png");
    if (mend.keep_unmended) frame.unmended = output.unique("positives", stem, "-unmended.tif");
}

/// Renders a wave's frames side by side; results and the first error in task order, whatever the threads did.
Result<void> make_wave(std::vector<Task>& tasks, std::size_t first, std::size_t n, MeasuredSheet& sheet, int scan_index, const OutputProfile& profile,
                       const RunOptions& options, OutputFolder& output, Thumbnails& thumbnails, Observer& observer) {
    for (std::size_t i = first; i < first + n; ++i) name_outputs(tasks[i], sheet, options.invert, options.mend, output);
    std::vector<std::optional<Result<Made>>> made(n);
    tbb::parallel_for(std::size_t{0}, n, [&](std::size_t i) {
        if (!observer.cancelled()) made[i] = make_frame(tasks[first + i], sheet, profile, options, output);
        tasks[first + i].crop = {};
    });
    Result<void> outcome;
    for (std::size_t i = 0; i < n; ++i) {
        FrameRecord& frame = sheet.record.strips[static_cast<std::size_t>(tasks[first + i].strip)].frames[static_cast<std::size_t>(tasks[first + i].frame)];
        if (made[i] && *made[i]) {
            const Mending& mending = (*made[i])->mending;
            const auto pixels = static_cast<double>(std::max<std::int64_t>(1, tasks[first + i].source.width() * tasks[first + i].source.height()));
            frame.divided_percent = 100 * static_cast<double>(mending.divided) / pixels;
            frame.filled_percent = 100 * static_cast<double>(mending.filled) / pixels;
            if (mending.divided + mending.filled == 0) frame.mended_mask.clear();
            frame.thumbnail_jpeg = std::move((*made[i])->thumbnail_jpeg);
            thumbnails[{scan_index, tasks[first + i].strip, tasks[first + i].frame}] = std::move((*made[i])->thumbnail);
            continue;
        }
        frame.positive.clear();
        frame.proof.clear();
        frame.linear.clear();
        frame.density.clear();
        frame.mended_mask.clear();
        frame.unmended.clear();
        if (!outcome) continue;
        outcome = made[i] ? Result<void>(Failure(made[i]->error())) : fail(ErrorCode::interrupted, "stopped while rendering");
    }
    return outcome;
}

}  // namespace

Result<void> render_sheet(const Plan& plan, MeasuredSheet& sheet, int scan_index, const std::vector<RollRecord>& rolls, const OutputProfile& profile,
                          const RunOptions& options, OutputFolder& output, Thumbnails& thumbnails, Observer& observer) {
    std::vector<Task> tasks = tasks_of(sheet, rolls, options.mend.mode);
    if (tasks.empty()) return {};
    const SheetPlan& sheet_plan = plan.sheets[static_cast<std::size_t>(sheet.plan)];
    const auto record_failure = [&](Error error) -> Result<void> {
        if (error.code == ErrorCode::interrupted) return Failure(std::move(error));
        if (error.path.empty()) error.path = sheet_plan.path;
        observer.notice(describe(error));
        sheet.record.failure = std::move(error);
        return {};
    };
    const auto unchanged = [&]() -> Result<void> {
        if (stamps_of(sheet_plan) == sheet.stamps) return {};
        return fail(ErrorCode::unreadable, "was changed between measuring and inverting", sheet_plan.path,
                    "leave the scan alone while it is worked on, and run again");
    };
    if (auto same = unchanged(); !same) return record_failure(std::move(same.error()));
    auto reader = open_scan(sheet_plan.path, sheet_plan.scan, observer);
    if (!reader) return record_failure(std::move(reader.error()));
    for (std::size_t first = 0; first < tasks.size();) {
        const std::size_t n = wave_size(tasks, first, options.memory_bytes / 2);
        if (auto filled = fill_crops(**reader, tasks.data() + first, tasks.data() + first + n, observer); !filled)
            return record_failure(std::move(filled.error()));
        if (auto same = unchanged(); !same) return record_failure(std::move(same.error()));
        if (auto made = make_wave(tasks, first, n, sheet, scan_index, profile, options, output, thumbnails, observer); !made) return made;
        first += n;
        observer.progress("positives of " + sheet_plan.file, static_cast<double>(first), static_cast<double>(tasks.size()));
    }
    return {};
}

Result<void> write_contact_sheets(std::vector<RollRecord>& rolls, const std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index,
                                  Thumbnails& thumbnails, OutputFolder& output) {
    for (RollRecord& roll : rolls) {
        std::vector<ContactItem> items;
        for (const FrameRef& ref : roll.frames) {
            const auto picture = thumbnails.find({ref.scan, ref.strip, ref.frame});
            if (picture == thumbnails.end()) continue;
            const auto local = static_cast<std::size_t>(std::find(scan_index.begin(), scan_index.end(), ref.scan) - scan_index.begin());
            const FrameRecord& frame = sheets[local].record.strips[static_cast<std::size_t>(ref.strip)].frames[static_cast<std::size_t>(ref.frame)];
            items.push_back({picture->second.view(), std::to_string(frame.number)});
        }
        if (items.empty()) continue;
        std::string heading = "Roll " + roll.roll.id;
        if (!roll.roll.stock.empty()) heading += "   " + roll.roll.stock;
        if (roll.roll.rating) heading += "   rated " + number_text(*roll.roll.rating);
        if (roll.session && roll.session->date) heading += "   " + to_string(*roll.session->date);
        const Image<EncodedRgb8> page = compose_contact_sheet(heading, items);
        roll.contact_sheet = output.unique("contact", safe_name(roll.roll.id), ".jpg");
        PhotoMetadata metadata;
        metadata.title = "Contact sheet of roll " + roll.roll.id;
        metadata.roll = roll.roll.id;
        metadata.stock = roll.roll.stock;
        metadata.software = "basefog " + std::string(version());
        if (auto written = write_proof_jpeg(output.absolute(roll.contact_sheet), page.view(), 90, metadata); !written) return written;
        for (const FrameRef& ref : roll.frames) thumbnails.erase({ref.scan, ref.strip, ref.frame});
    }
    return {};
}

}  // namespace basefog::pipeline
