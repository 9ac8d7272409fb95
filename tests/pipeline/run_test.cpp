// SPDX-License-Identifier: GPL-3.0-or-later
// The whole way on a small invented sheet: what comes out, that it does not depend on threads or memory, and that nothing is
// lost when something breaks. How well each stage measures is tested in its own room.
#include "basefog/pipeline/run.h"
#include "basefog/ledger/layout_file.h"
#include "basefog/ledger/settings_file.h"

#include "basefog/scan/reader.h"

#include "support/small_sheet.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>
#include <map>
#include <opencv2/imgproc.hpp>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

/// One sheet for all tests of this file: drawing it costs more than running on it.
struct SharedSheet {
    TemporaryFolder folder;
    std::string path = folder.file("sheet.tif");
    synthetic::SheetSpec spec = synthetic::small_sheet();
    synthetic::Sheet truth = synthetic::write_small_sheet(path, spec);
};
const SharedSheet& shared_sheet() {
    static const SharedSheet sheet;
    return sheet;
}

RunOptions options_for(const std::string& output) {
    RunOptions options;
    options.scans = {shared_sheet().path};
    options.output_folder = output;
    options.command = "invert";
    options.finished = "2026-01-01T00:00:00Z";
    options.threads = 2;
    return options;
}

/// All results; what a later run takes over holds the times of files and is no result.
std::map<std::string, std::string> files_in(const fs::path& folder) {
    std::map<std::string, std::string> content;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
        if (!entry.is_regular_file() || entry.path().parent_path().filename() == "resume") continue;
        std::ifstream in(entry.path(), std::ios::binary);
        content[fs::relative(entry.path(), folder).string()] = {std::istreambuf_iterator<char>(in), {}};
    }
    return content;
}

double corner_error_mm(const Quad& found, const synthetic::Corners& truth, double dpi) {
    double worst = 0;
    for (std::size_t i = 0; i < 4; ++i) worst = std::max(worst, distance(found[i], {truth[i][0], truth[i][1]}) / dpi * kMmPerInch);
    return worst;
}

/// Measures the sheet and hands back what was found, also as the layout file that was written.
std::pair<RunRecord, std::vector<NamedLayout>> measured_with_layout(const TemporaryFolder& folder) {
    RunOptions options = options_for(folder.file("first"));
    options.positives = false;
    options.write_layout = true;
    options.layout_output = folder.file("layout.toml");
    auto found = run(options, silent_observer());
    REQUIRE(found);
    auto layouts = read_layouts(folder.file("layout.toml"));
    REQUIRE(layouts);
    return {std::move(*found), std::move(*layouts)};
}

Result<RunRecord> run_with_layout(const TemporaryFolder& folder, const std::vector<NamedLayout>& edited) {
    std::ofstream(folder.file("edited.toml")) << layout_text(edited);
    RunOptions options = options_for(folder.file("second"));
    options.layout_path = folder.file("edited.toml");
    return run(options, silent_observer());
}

}  // namespace

TEST_CASE("the main job, end to end: every frame where it is, positives, proofs, contact sheets and reports") {
    const TemporaryFolder folder;
    const auto record = run(options_for(folder.file("out")), silent_observer());
    REQUIRE(record);
    REQUIRE(record->scans.size() == 1);
    const ScanRecord& scan = record->scans[0];
    REQUIRE_FALSE(scan.failure);
    REQUIRE(scan.strips.size() == 2);
    for (std::size_t s = 0; s < 2; ++s) {
        const synthetic::StripTruth& truth = shared_sheet().truth.strips[s];
        REQUIRE(scan.strips[s].frames.size() == truth.frames.size());
        for (int c = 0; c < 3; ++c) CHECK(scan.strips[s].base.base[c].value.value() == Approx(truth.base_density[static_cast<std::size_t>(c)]).margin(0.04));
        for (std::size_t f = 0; f < truth.frames.size(); ++f) {
            const FrameRecord& frame = scan.strips[s].frames[f];
            const bool blank = truth.frames[f].scene == "blank";
            CHECK((frame.box.kind == FrameKind::blank) == blank);
            CHECK(frame.positive.empty() == blank);
            if (blank) continue;
            CHECK(corner_error_mm(frame.box.corners, truth.frames[f].corners_px, shared_sheet().spec.dpi) < 0.3);
            CHECK(fs::file_size(folder.path() / "out" / frame.positive) > 10'000);
            CHECK(fs::file_size(folder.path() / "out" / frame.proof) > 1'000);
            CHECK_FALSE(frame.thumbnail_jpeg.empty());
        }
    }
    for (const char* name : {"report.json", "report.html", "frames.csv"}) CHECK(fs::exists(folder.path() / "out" / name));
    REQUIRE(record->rolls.size() == 2);
    for (const RollRecord& roll : record->rolls) CHECK(fs::exists(folder.path() / "out" / roll.contact_sheet));
}

TEST_CASE("the same bytes come out for any number of threads and any memory limit") {
    const TemporaryFolder folder;
    RunOptions one = options_for(folder.file("one"));
    one.threads = 1;
    RunOptions many = options_for(folder.file("many"));
    many.threads = 7;
    many.memory_bytes = 2LL << 30;
    many.overview.band_rows = 13;
    for (RunOptions* options : {&one, &many}) options->invert.linear = options->invert.density = true;
    REQUIRE(run(one, silent_observer()));
    REQUIRE(run(many, silent_observer()));
    const auto a = files_in(folder.path() / "one"), b = files_in(folder.path() / "many");
    REQUIRE(a.size() == b.size());
    for (const auto& [name, content] : a) {
        INFO(name);
        CHECK((b.at(name) == content));
    }
}

TEST_CASE("a sheet with infrared that memory cannot hold is put aside, decoded twice, and comes out to the same bytes") {
    const TemporaryFolder folder;
    synthetic::SheetSpec spec = synthetic::small_sheet(4, true);
    spec.dust.specks_per_cm2 = 20;
    cv::Mat drawn = synthetic::encode(synthetic::draw_sheet(spec), spec);
    constexpr int kFiner = 5;  // one strip's frames take 36 MB
    cv::resize(drawn, drawn, {}, kFiner, kFiner, cv::INTER_CUBIC);
    const std::string scan = folder.file("fine.tif");
    synthetic::write_tiff(scan, drawn, kFiner * spec.dpi);
    const auto decoded_size = static_cast<std::int64_t>(drawn.total() * drawn.elemSize());
    drawn.release();
    struct Notices final : Observer {
        std::vector<std::string> all;
        void notice(const std::string& message) override { all.push_back(message); }
    };
    std::map<std::string, std::string> first;
    for (const std::int64_t memory : {std::int64_t{2048}, std::int64_t{64}}) {
        Notices observer;
        RunOptions options = options_for(folder.file("out"));
        options.scans = {scan};
        options.memory_bytes = memory << 20;
        options.overview.max_pixels = 240'000;  // as it would be with the least memory
        options.threads = memory > 64 ? 1 : 3;
        options.replace = true;
        const std::int64_t before = bytes_decoded();
        const auto record = run(options, observer);
        REQUIRE(record);
        CHECK(bytes_decoded() - before <= 2 * decoded_size);
        CHECK(observer.all.size() == (memory > 64 ? 0 : 1));
        double filled = 0;
        for (const StripRecord& strip : record->scans[0].strips)
            for (const FrameRecord& frame : strip.frames) filled += frame.filled_percent + frame.divided_percent;
        CHECK(filled > 0);
        const auto files = files_in(folder.path() / "out");
        if (first.empty()) {
            first = files;
            continue;
        }
        REQUIRE(files.size() == first.size());
        for (const auto& [name, content] : first) {
            INFO(name);
            CHECK((files.at(name) == content));
        }
    }
}

namespace {
/// Choices of every kind, for the rolls of the shared sheet.
RunOptions with_choices(const std::string& output) {
    RunOptions options = options_for(output);
    options.invert.linear = options.invert.density = true;
    options.invert.icc_version = 2;
    options.print.contrast = 1.1;
    options.print.exposure = Stops(1.0 / 3);
    Ledger ledger;
    ledger.path = "ledger.toml";
    Roll a, b;
    a.id = "sheet-strip1";
    a.print.saturation = 0.9;
    NamedFrame second;
    second.number = 2;
    second.print.balance = BalanceChoice{BalanceChoice::By::frame, {}, {}, {}};
    second.print.black_point = Stops(-6);
    a.frames = {second};
    b.id = "sheet-strip2";
    b.print.balance = BalanceChoice{BalanceChoice::By::patch, {0.2, 0.2, 0.5, 0.5}, 3, {}};
    ledger.rolls = {a, b};
    options.ledger = ledger;
    return options;
}
}  // namespace

TEST_CASE("a run's settings file gives the same pictures again, to the byte") {
    const TemporaryFolder folder;
    const auto first = run(with_choices(folder.file("first")), silent_observer());
    REQUIRE(first);
    CHECK(first->settings_file == "settings.toml");
    const auto settings = read_settings(folder.file("first/settings.toml"));
    INFO((settings ? std::string() : describe(settings.error())));
    REQUIRE(settings);
    // Nothing told but the file: neither the ledger's choices nor the run's own.
    RunOptions options = options_for(folder.file("again"));
    options.print = settings->print;
    options.roll_print = settings->rolls;
    options.invert.icc_version = settings->output.icc_version.value_or(0);
    options.invert.linear = settings->output.linear.value_or(false);
    options.invert.density = settings->output.density.value_or(false);
    options.ledger = with_choices("").ledger;
    for (Roll& roll : options.ledger->rolls) roll.print = {}, roll.frames.clear();
    REQUIRE(run(options, silent_observer()));
    const auto a = files_in(folder.path() / "first"), b = files_in(folder.path() / "again");
    REQUIRE(a.size() == b.size());
    int pictures = 0;
    for (const auto& [name, content] : a) {
        if (name == "report.json" || name == "report.html") continue;  // they say that the settings were told
        INFO(name);
        CHECK((b.at(name) == content));
        pictures += name.ends_with(".exr") ? 1 : 0;
    }
    CHECK(pictures == 5);
    // And the choices did something: without them every positive differs.
    REQUIRE(run(options_for(folder.file("plain")), silent_observer()));
    for (const auto& [name, content] : files_in(folder.path() / "plain"))
        if (name.starts_with("positives/") && !name.ends_with(".png")) CHECK((a.at(name) != content));
}

TEST_CASE("choices reach their frames: the nearer holds, and the record says what was used") {
    const TemporaryFolder folder;
    RunOptions options = with_choices(folder.file("out"));
    options.positives = false;
    options.roll_print = {{"sheet-strip1", {{}, Stops(1), {}, {}, {}}, {{3, {{}, Stops(2), {}, {}, {}}}}}};
    const auto record = run(options, silent_observer());
    REQUIRE(record);
    const auto& frames = record->scans[0].strips[0].frames;
    REQUIRE(frames.size() == 3);
    CHECK(frames[0].print == PrintValues{{}, Stops(1), 1.1, Stops(-7), 0.9});
    CHECK(frames[1].print.black_point == Stops(-6));
    CHECK(frames[1].print.exposure == Stops(1));
    CHECK(frames[2].print.exposure == Stops(2));
    CHECK(frames[0].balance == record->rolls[0].film.model.balance);
    CHECK(frames[1].balance != record->rolls[0].film.model.balance);
    const auto& others = record->scans[0].strips[1].frames;
    CHECK(others[0].balance == others[2].balance);  // all of the roll by the patch in its frame 3
    CHECK(others[0].balance != record->rolls[1].film.model.balance);
    CHECK(record->rolls[1].print.exposure == Stops(1.0 / 3));
}

TEST_CASE("a patch that cannot be had is a finding, and the roll's balance holds") {
    const TemporaryFolder folder;
    RunOptions options = options_for(folder.file("out"));
    options.positives = false;
    options.roll_print = {{"sheet-strip1", {BalanceChoice{BalanceChoice::By::patch, {}, 30, {}}, {}, {}, {}, {}}, {}}};
    const auto record = run(options, silent_observer());
    REQUIRE(record);
    CHECK(record->scans[0].strips[0].frames[0].balance == record->rolls[0].film.model.balance);
    const auto n = std::count_if(record->findings.begin(), record->findings.end(), [](const Finding& f) { return f.code == "balance-not-told"; });
    CHECK(n == 3);
}

TEST_CASE("a bad file is recorded and the others go on") {
    const TemporaryFolder folder;
    std::ofstream(folder.file("text.tif")) << "this is no picture";
    RunOptions options = options_for(folder.file("out"));
    options.positives = false;
    options.scans = {folder.file("text.tif"), folder.file("missing.tif"), shared_sheet().path};
    const auto record = run(options, silent_observer());
    REQUIRE(record);
    REQUIRE(record->scans.size() == 3);
    REQUIRE(record->scans[0].failure);
    CHECK(record->scans[0].failure->path == folder.file("text.tif"));
    REQUIRE(record->scans[1].failure);
    CHECK(record->scans[1].failure->code == ErrorCode::not_found);
    CHECK_FALSE(record->scans[2].failure);
    CHECK(record->scans[2].strips.size() == 2);
    CHECK_FALSE(fs::exists(folder.path() / "out/positives"));
}

TEST_CASE("a layout corrected by hand is obeyed: an edge moved, a frame deleted, a roll renamed") {
    const TemporaryFolder folder;
    auto [found, edited] = measured_with_layout(folder);
    REQUIRE(edited.size() == 1);
    NamedLayout& layout = edited.front();
    layout.layout.strips[0].frames[0].corners[1].x -= 40;
    layout.layout.strips[0].frames[0].corners[2].x -= 40;
    layout.layout.strips[0].frames.pop_back();
    layout.names[0].numbers.pop_back();
    layout.names[1].roll = "Renamed";
    const auto record = run_with_layout(folder, edited);
    REQUIRE(record);
    const std::vector<StripRecord>& strips = record->scans[0].strips;
    REQUIRE(strips.size() == 2);
    REQUIRE(strips[0].frames.size() == 2);
    CHECK(strips[0].frames[0].box.corners[1].x == Approx(found.scans[0].strips[0].frames[0].box.corners[1].x - 40).margin(0.02));
    CHECK(strips[1].roll == "Renamed");
    // The deleted frame's picture is still on the film; it must not be taken for something left on clear film.
    CHECK(strips[0].residue.grade <= ResidueGrade::trace);
    CHECK(strips[1].frames[0].positive == "positives/Renamed-01.tif");
}

TEST_CASE("a run that is stopped leaves no half file") {
    class Impatient : public Observer {
    public:
        [[nodiscard]] bool cancelled() const override { return ++asked_ > limit; }
        mutable std::atomic<int> asked_{0};
        int limit = 0;
    };
    const TemporaryFolder folder;
    for (const int limit : {0, 3, 9, 20}) {
        Impatient observer;
        observer.limit = limit;
        RunOptions options = options_for(folder.file("out"));
        options.replace = true;
        const auto record = run(options, observer);
        REQUIRE_FALSE(record);
        CHECK(record.error().code == ErrorCode::interrupted);
        CHECK_FALSE(fs::exists(folder.path() / "out/report.json"));
        for (const auto& [name, content] : files_in(folder.path() / "out")) CHECK(name.find(".pending") == std::string::npos);
    }
}

TEST_CASE("a layout that reaches beyond the scan is that scan's failure") {
    const TemporaryFolder folder;
    auto edited = measured_with_layout(folder).second;
    edited.front().layout.strips[0].corners[1].x += 3000;
    edited.front().layout.strips[0].corners[2].x += 3000;
    const auto record = run_with_layout(folder, edited);
    REQUIRE(record);
    REQUIRE(record->scans[0].failure);
    CHECK(record->scans[0].failure->what.find("beyond the scan") != std::string::npos);
}

TEST_CASE("a scan that changes between measuring and inverting is not inverted") {
    /// Changes the file as soon as the film is being fitted.
    class Meddler : public Observer {
    public:
        explicit Meddler(std::string path) : path_(std::move(path)) {}
        void progress(std::string_view step, double, double) override {
            if (step == "film") fs::last_write_time(path_, fs::last_write_time(path_) + std::chrono::hours(1));
        }

    private:
        std::string path_;
    };
    const TemporaryFolder folder;
    fs::copy_file(shared_sheet().path, folder.file("scan.tif"));
    RunOptions options = options_for(folder.file("out"));
    options.scans = {folder.file("scan.tif")};
    Meddler observer(folder.file("scan.tif"));
    const auto record = run(options, observer);
    REQUIRE(record);
    REQUIRE(record->scans[0].failure);
    CHECK(record->scans[0].failure->what.find("changed") != std::string::npos);
    CHECK(fs::is_empty(folder.path() / "out/positives"));
}
