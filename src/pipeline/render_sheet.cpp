// SPDX-License-Identifier: GPL-3.0-or-later
#include "render_sheet.h"

#include "frame_picture.h"
#include "frame_store.h"
#include "make_frame.h"
#include "workers.h"

#include "basefog/core/version.h"
#include "basefog/invert/write.h"
#include "basefog/scan/reader.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>

namespace basefog::pipeline {
namespace {

constexpr std::int64_t kBandRows = 64;  // Chosen: rows decoded at a time; does not change results.
/// Of --memory: what holds frames while they wait and are mended, and what is worked in. The rest is the program's own, the decoder's, and the sheet's maps.
constexpr std::int64_t kScratchShare = 2, kWorkShare = 6;
/// Less for frames where the decoder holds more than its quarter (ScanOptions::memory_bytes), but so much at least.
constexpr std::int64_t kDecoderShare = 4, kLeastScratchShare = 8;

std::int64_t frames_memory(const ScanReader& reader, std::int64_t memory_bytes) {
    const std::int64_t beyond = std::max<std::int64_t>(0, reader.held_bytes() - memory_bytes / kDecoderShare);
    return std::max(memory_bytes / kScratchShare - beyond, memory_bytes / kLeastScratchShare);
}
/// Scratch that a frame at work takes beside its pixels, bytes a pixel: a density and a mark, and some room for mended pixels.
constexpr std::int64_t kMendBytesPerPixel = 6;

const RollRecord* roll_of(const std::vector<RollRecord>& rolls, const std::string& id) {
    for (const RollRecord& roll : rolls)
        if (roll.roll.id == id) return &roll;
    return nullptr;
}

std::vector<FrameTask> tasks_of(const MeasuredSheet& sheet, const std::vector<RollRecord>& rolls, MendMode mode) {
    std::vector<FrameTask> tasks;
    const PxRect whole{0, 0, sheet.record.info.width, sheet.record.info.height};
    for (int s = 0; s < static_cast<int>(sheet.record.strips.size()); ++s) {
        const StripRecord& strip = sheet.record.strips[static_cast<std::size_t>(s)];
        for (int f = 0; f < static_cast<int>(strip.frames.size()); ++f) {
            const FrameBox& box = strip.frames[static_cast<std::size_t>(f)].box;
            const PxRect source = intersection(picture_source(box.corners, sheet.record.scale, mode), whole);
            // A fogged frame is rendered too: an even picture may be taken for one, and nothing must be lost on that.
            if (box.kind == FrameKind::blank || source.empty()) continue;
            tasks.push_back({s, f, source, roll_of(rolls, strip.roll)});
        }
    }
    std::stable_sort(tasks.begin(), tasks.end(), [](const FrameTask& a, const FrameTask& b) { return a.source.y0 < b.source.y0; });
    return tasks;
}

void name_outputs(const FrameTask& task, MeasuredSheet& sheet, const InvertOptions& invert, const MendOptions& mend, OutputFolder& output) {
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

/// Lets one thread speak at a time: frames are made while the scan is read on.
class OneAtATime final : public Observer {
public:
    explicit OneAtATime(Observer& told) : told_(told) {}
    void progress(std::string_view step, double done, double total) override {
        const std::lock_guard lock(mutex_);
        told_.progress(step, done, total);
    }
    void notice(const std::string& message) override {
        const std::lock_guard lock(mutex_);
        told_.notice(message);
    }
    [[nodiscard]] bool cancelled() const override {
        const std::lock_guard lock(mutex_);
        return told_.cancelled();
    }

private:
    Observer& told_;
    mutable std::mutex mutex_;
};

/// Makes frames one after the other, each on all threads, while others are still read.
class FrameLane {
public:
    using Make = std::function<Result<void>(const FrameTask&, const FrameStore&)>;
    explicit FrameLane(Make make) : make_(std::move(make)) {}
    ~FrameLane() { (void)wait(); }
    FrameLane(const FrameLane&) = delete;
    FrameLane& operator=(const FrameLane&) = delete;

    void push(const FrameTask& task, FrameStore store) {
        const std::lock_guard lock(mutex_);
        waiting_.push_back({&task, std::move(store)});
        if (working_) return;
        working_ = true;
        background_.run([this] { work(); });
    }
    /// The first failure; after it no further frame is made.
    [[nodiscard]] Result<void> wait() {
        background_.wait();
        const std::lock_guard lock(mutex_);
        return outcome_;
    }

private:
    struct Waiting {
        const FrameTask* task;
        FrameStore store;
    };
    std::optional<Waiting> next() {
        const std::lock_guard lock(mutex_);
        if (waiting_.empty()) {
            working_ = false;
            return std::nullopt;
        }
        std::optional<Waiting> first(std::move(waiting_.front()));
        waiting_.pop_front();
        return first;
    }
    void work() {
        while (auto frame = next()) {
            auto made = make_(*frame->task, frame->store);
            const std::lock_guard lock(mutex_);
            if (!made && outcome_) outcome_ = std::move(made);
        }
    }

    Make make_;
    Background background_;
    std::mutex mutex_;
    std::deque<Waiting> waiting_;
    bool working_ = false;
    Result<void> outcome_;
};

/// Everything that making a sheet's frames needs.
class SheetRenderer {
public:
    SheetRenderer(const SheetPlan& plan, MeasuredSheet& sheet, int scan_index, const OutputProfile& profile, const RunOptions& options, OutputFolder& output,
                  Thumbnails& thumbnails, Observer& observer, std::vector<FrameTask> tasks)
        : plan_(plan),
          sheet_(sheet),
          scan_index_(scan_index),
          profile_(profile),
          options_(options),
          output_(output),
          thumbnails_(thumbnails),
          observer_(observer),
          tasks_(std::move(tasks)) {}

    /// Errors: unwritable, interrupted; and those of the scan, where `of_scan` is then set.
    [[nodiscard]] Result<void> run(bool& of_scan) {
        of_scan = true;
        if (auto same = unchanged(); !same) return same;
        ScanOptions from_the_top = plan_.scan;
        from_the_top.from_the_top = true;
        auto reader = open_scan(plan_.path, from_the_top, observer_);
        if (!reader) return Failure(std::move(reader.error()));
        scratch_.emplace(output_.path(), frames_memory(**reader, options_.memory_bytes), plan_.path, observer_);
        means_.emplace(FrameMeans{*scratch_, on_all_threads(), options_.memory_bytes / kWorkShare});
        FrameLane lane([this](const FrameTask& task, const FrameStore& store) { return make(task, store); });
        auto read = deal_out(**reader, lane, of_scan);
        reader->reset();
        auto made = lane.wait();
        if (made) return read;
        of_scan = false;
        return made;
    }

private:
    struct Open {
        const FrameTask* task;
        FrameStore store;
    };

    [[nodiscard]] Result<void> unchanged() const {
        if (stamps_of(plan_) == sheet_.stamps) return {};
        return fail(ErrorCode::unreadable, "was changed between measuring and inverting", plan_.path,
                    "leave the scan alone while it is worked on, and run again");
    }

    /// Reads the scan once, from the top, as far as frames reach; hands each frame on when its last row is there.
    [[nodiscard]] Result<void> deal_out(ScanReader& reader, FrameLane& lane, bool& of_scan) {
        const auto format = reader.stored_format();
        std::vector<std::byte> band;
        std::vector<Open> open;
        auto next = tasks_.begin();
        for (std::int64_t y = tasks_.front().source.y0; next != tasks_.end() || !open.empty();) {
            if (observer_.cancelled()) return fail(ErrorCode::interrupted, "stopped while reading");
            if (open.empty()) y = next->source.y0;
            for (; next != tasks_.end() && next->source.y0 < y + kBandRows; ++next) {
                auto store = open_store(*next, format, lane);
                if (!store) {
                    of_scan = false;
                    return Failure(std::move(store.error()));
                }
                open.push_back({&*next, std::move(*store)});
            }
            PxRect part = open.front().task->source;
            for (const Open& frame : open) {
                const PxRect& source = frame.task->source;
                part = {std::min(part.x0, source.x0), y, std::max(part.x1, source.x1), std::max(part.y1, source.y1)};
            }
            part.y1 = std::min(part.y1, y + kBandRows);
            band.resize(static_cast<std::size_t>(part.width() * part.height() * format->pixel_bytes()));
            if (auto read = reader.read_stored(part, band.data()); !read) return read;
            for (const Open& frame : open)
                if (auto taken = frame.store.take_from(band.data(), part); !taken) {
                    of_scan = false;
                    return taken;
                }
            y = part.y1;
            if (auto handed = hand_on(open, y, lane); !handed) return handed;
        }
        return {};
    }

    /// In memory where it fits, with what a frame at work needs left free; frames being made may be waited for.
    [[nodiscard]] Result<FrameStore> open_store(const FrameTask& task, const std::shared_ptr<const StoredFormat>& format, FrameLane& lane) {
        std::int64_t left = 0;
        for (const FrameTask& each : tasks_) left = std::max(left, kMendBytesPerPixel * each.source.width() * each.source.height());
        if (options_.mend.mode == MendMode::off) left = 0;
        if (!scratch_->fits(task.source.width() * task.source.height() * format->pixel_bytes(), left)) (void)lane.wait();  // its failure is told at the end
        return FrameStore::make(task.source, format, *scratch_, left);
    }

    [[nodiscard]] Result<void> hand_on(std::vector<Open>& open, std::int64_t y, FrameLane& lane) {
        const auto whole = [&](const Open& frame) { return frame.task->source.y1 <= y; };
        if (std::any_of(open.begin(), open.end(), whole))
            if (auto same = unchanged(); !same) return same;
        for (Open& frame : open)
            if (whole(frame)) {
                name_outputs(*frame.task, sheet_, options_.invert, options_.mend, output_);
                lane.push(*frame.task, std::move(frame.store));
            }
        std::erase_if(open, whole);
        return {};
    }

    [[nodiscard]] Result<void> make(const FrameTask& task, const FrameStore& store) {
        FrameRecord& frame = sheet_.record.strips[static_cast<std::size_t>(task.strip)].frames[static_cast<std::size_t>(task.frame)];
        auto made = failed_ || observer_.cancelled() ? Result<MadeFrame>(fail(ErrorCode::interrupted, "stopped while rendering"))
                                                     : make_frame(task, store, sheet_, profile_, options_, output_, *means_);
        if (!made) {
            failed_ = true;
            for (std::string* path : {&frame.positive, &frame.proof, &frame.linear, &frame.density, &frame.mended_mask, &frame.unmended}) path->clear();
            return Failure(std::move(made.error()));
        }
        const MendCounts& mended = made->mended;
        const auto pixels = static_cast<double>(std::max<std::int64_t>(1, task.source.width() * task.source.height()));
        frame.divided_percent = 100 * static_cast<double>(mended.divided) / pixels;
        frame.filled_percent = 100 * static_cast<double>(mended.filled) / pixels;
        if (mended.divided + mended.filled == 0) frame.mended_mask.clear();
        frame.thumbnail_jpeg = std::move(made->thumbnail_jpeg);
        thumbnails_[{scan_index_, task.strip, task.frame}] = std::move(made->thumbnail);
        observer_.progress("positives of " + plan_.file, static_cast<double>(++done_), static_cast<double>(tasks_.size()));
        return {};
    }

    const SheetPlan& plan_;
    MeasuredSheet& sheet_;
    int scan_index_;
    const OutputProfile& profile_;
    const RunOptions& options_;
    OutputFolder& output_;
    Thumbnails& thumbnails_;
    OneAtATime observer_;
    std::vector<FrameTask> tasks_;
    std::optional<Scratch> scratch_;
    std::optional<FrameMeans> means_;
    bool failed_ = false;
    std::size_t done_ = 0;
};

}  // namespace

Result<void> render_sheet(const Plan& plan, MeasuredSheet& sheet, int scan_index, const std::vector<RollRecord>& rolls, const OutputProfile& profile,
                          const RunOptions& options, OutputFolder& output, Thumbnails& thumbnails, Observer& observer) {
    std::vector<FrameTask> tasks = tasks_of(sheet, rolls, options.mend.mode);
    if (tasks.empty()) return {};
    const SheetPlan& sheet_plan = plan.sheets[static_cast<std::size_t>(sheet.plan)];
    bool of_scan = false;
    auto made = SheetRenderer(sheet_plan, sheet, scan_index, profile, options, output, thumbnails, observer, std::move(tasks)).run(of_scan);
    if (made || !of_scan || made.error().code == ErrorCode::interrupted) return made;
    Error error = std::move(made.error());
    if (error.path.empty()) error.path = sheet_plan.path;
    observer.notice(describe(error));
    sheet.record.failure = std::move(error);
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
