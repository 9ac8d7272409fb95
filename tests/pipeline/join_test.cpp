// SPDX-License-Identifier: GPL-3.0-or-later
// An invented strip photographed in overlapping shots, as files of a camera with a mosaic, a lens that bends and darkens the corners, and noise: joined, it
// must be true to a tenth of a millimetre and show no seam; and what cannot be joined must be refused with the reason.
#include "pipeline/measure_sheet.h"
#include "pipeline/plan.h"
#include "pipeline/strip_shots.h"

#include "basefog/ledger/read_ledger.h"
#include "basefog/pipeline/run.h"
#include "basefog/scan/reader.h"

#include "support/shot_strip.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <string>
#include <vector>

using namespace basefog;

namespace {

const synthetic::Sheet& film() {
    static const synthetic::Sheet sheet = synthetic::strip_to_photograph();
    return sheet;
}

constexpr int kShots = 3;
constexpr double kStepMm = 36;

/// Files of one strip, photographed once for all tests.
struct Photographed {
    TemporaryFolder folder;
    std::vector<synthetic::StripShotSpec> shots = synthetic::shots_along(kShots, kStepMm);
    Photographed() {
        synthetic::write_bare_shot(folder.file("light.dng"), synthetic::strip_stand(), 1, 100);
        synthetic::write_bare_shot(folder.file("dark.dng"), synthetic::strip_stand(), 0, 101);
        for (int i = 0; i < kShots; ++i) {
            const synthetic::StripShotSpec& s = shots[static_cast<std::size_t>(i)];
            synthetic::write_shot(folder.file("s" + std::to_string(i + 1) + ".dng"), s.camera, s.shot, film().light, synthetic::kShotFilmPxPerMm);
        }
    }
    /// A run of a ledger with these keys of [[shots]].
    [[nodiscard]] RunOptions options(const std::string& name, const std::string& shots_keys) const {
        const std::string path = folder.file(name + ".toml");
        std::ofstream(path) << "[roll.A]\n[[shots]]\nroll = \"A\"\nlight_frame = \"light.dng\"\ndark_frame = \"dark.dng\"\n" << shots_keys << "\n";
        auto ledger = read_ledger(path);
        if (!ledger) FAIL(describe(ledger.error()));
        RunOptions options;
        options.ledger = std::move(*ledger);
        options.positives = false;
        options.output_folder = folder.file(name);
        options.command = "measure";
        options.finished = "2026-01-01T00:00:00Z";
        return options;
    }
};

const Photographed& photographed() {
    static const Photographed strip;
    return strip;
}

struct Prepared {
    pipeline::Plan plan;
    std::vector<Finding> findings;
};
Prepared prepared(const RunOptions& options) {
    Prepared out;
    auto plan = pipeline::make_plan(options);
    REQUIRE(plan);
    out.plan = std::move(*plan);
    REQUIRE(pipeline::prepare_strips(out.plan, out.plan.groups.at(0), options, out.findings, silent_observer()));
    return out;
}

bool has(const std::vector<Finding>& findings, const std::string& code) {
    return std::any_of(findings.begin(), findings.end(), [&](const Finding& f) { return f.code == code; });
}

/// Turn and shift, no scale, that lays these places best on those; and how far any then is off.
struct Laid {
    double c = 1, s = 0, worst = 0;
    PointPx from, to;
    [[nodiscard]] PointPx at(PointPx p) const { return PointPx{c * (p.x - from.x) - s * (p.y - from.y), s * (p.x - from.x) + c * (p.y - from.y)} + to; }
};
Laid laid(const std::vector<PointPx>& here, const std::vector<PointPx>& there) {
    Laid out;
    const double n = static_cast<double>(here.size());
    for (std::size_t i = 0; i < here.size(); ++i) out.from = out.from + here[i] * (1 / n), out.to = out.to + there[i] * (1 / n);
    double a = 0, b = 0;
    for (std::size_t i = 0; i < here.size(); ++i) {
        const PointPx p = here[i] - out.from, q = there[i] - out.to;
        a += p.x * q.x + p.y * q.y, b += p.x * q.y - p.y * q.x;
    }
    out.c = a / std::hypot(a, b), out.s = b / std::hypot(a, b);
    for (std::size_t i = 0; i < here.size(); ++i) out.worst = std::max(out.worst, distance(out.at(here[i]), there[i]));
    return out;
}

/// Rows about a seam as one shot alone shows them: the one before it, or the one after, to be cut over just beyond.
Image<LinearRgbi> one_side(const pipeline::SheetPlan& sheet, std::size_t seam, PxRect rows, bool before) {
    ScanOptions options = sheet.scan;
    StripJoin::Seam& s = options.join->seams[seam];
    s = {before ? static_cast<double>(rows.y1) + 2 : static_cast<double>(rows.y0) - 2, 1};
    auto reader = open_scan(sheet.path, options);
    REQUIRE(reader);
    Image<LinearRgbi> out(rows.width(), rows.height());
    REQUIRE((*reader)->read_region(rows, out.view()));
    return out;
}

/// What a cut from one shot into the next would show, over their overlap: middle difference of density of each millimetre of film, the largest of all.
double worst_step(const pipeline::SheetPlan& sheet, std::size_t seam, double px_per_mm) {
    const StripJoin& join = *sheet.scan.join;
    const auto mm = static_cast<std::int64_t>(px_per_mm), from = static_cast<std::int64_t>(join.seams[seam].at - 0.8 * join.seams[seam].half),
               to = static_cast<std::int64_t>(join.seams[seam].at + 0.8 * join.seams[seam].half);
    const PxRect rows{static_cast<std::int64_t>(6 * px_per_mm), from, join.width - static_cast<std::int64_t>(6 * px_per_mm), to};  // between perforations
    const Image<LinearRgbi> a = one_side(sheet, seam, rows, true), b = one_side(sheet, seam, rows, false);
    double worst = 0;
    for (std::int64_t y = 0; y + mm <= a.height(); y += mm)
        for (int c = 0; c < 3; ++c) {
            std::vector<double> steps;
            for (std::int64_t j = y; j < y + mm; ++j)
                for (std::int64_t x = 0; x < a.width(); ++x) {
                    const auto of = [&](const LinearRgbi& p) { return std::max(1e-4, static_cast<double>(c == 0 ? p.r : c == 1 ? p.g : p.b)); };
                    steps.push_back(std::log10(of(a(x, j)) / of(b(x, j))));
                }
            const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
            std::nth_element(steps.begin(), middle, steps.end());
            worst = std::max(worst, std::abs(*middle));
        }
    return worst;
}

void check_true(const Photographed& strip) {
    const RunOptions options = strip.options("true", "files = \"s*.dng\"\njoin = true");
    Prepared p = prepared(options);
    REQUIRE(p.plan.sheets.size() == 1);
    if (p.plan.sheets[0].unusable) FAIL(describe(*p.plan.sheets[0].unusable));
    CHECK(has(p.findings, "lens-straightened"));
    CHECK_FALSE(has(p.findings, "join-uncertain"));
    auto sheet = pipeline::measure_sheet(p.plan, 0, options, {}, p.findings, silent_observer());
    REQUIRE(sheet);
    const ScanRecord& record = sheet->record;
    if (record.failure) FAIL(describe(*record.failure));
    REQUIRE(record.strips.size() == 1);
    REQUIRE(record.strips[0].frames.size() == 3);
    CHECK(record.strips[0].box.direction == StripDirection::vertical);
    CHECK(record.scale_origin == ScaleOrigin::perforations);
    CHECK_FALSE(record.relative_densities);
    CHECK(record.info.shots == kShots);

    // Frames as found, by the scale as found, against the film as drawn: the corners of all three, along the whole strip.
    std::vector<PointPx> found, truth;
    for (std::size_t f = 0; f < 3; ++f) {
        CHECK(record.strips[0].frames[f].number == static_cast<int>(f) + 1);
        for (std::size_t c = 0; c < 4; ++c) {
            found.push_back(record.strips[0].frames[f].box.corners[c] * (1 / record.scale.value()));
            const auto& corner = film().strips[0].frames[f].corners_px[c];
            truth.push_back(PointPx{corner[0], corner[1]} * (1 / synthetic::kShotFilmPxPerMm));
        }
    }
    const Laid on_film = laid(found, truth);
    CAPTURE(record.scale.value());
    CHECK(on_film.worst < 0.1);

    REQUIRE(record.shots.size() == kShots);
    CHECK(record.shots[0].overlap.value() == 0);
    for (std::size_t i = 1; i < kShots; ++i) {
        CHECK(record.shots[i].file == "s" + std::to_string(i + 1) + ".dng");
        // Field less step, less what tilts, the lens and the upright cut take.
        CHECK(record.shots[i].overlap.value() == Approx(54 - kStepMm).margin(1.5));
        CHECK(record.shots[i].residual.value() < 0.02);
        CHECK(record.shots[i].residual.value() > 0);
    }
    for (int c = 0; c < 3; ++c)
        CHECK(record.strips[0].base.base[c].value.value() == Approx(film().strips[0].base_density[static_cast<std::size_t>(c)]).margin(0.012));

    // No seam: even cut from one to the next, and not mixed over all of the overlap, the two would differ by less than the eye tells on an even area.
    for (std::size_t seam = 0; seam + 1 < kShots; ++seam) CHECK(worst_step(p.plan.sheets[0], seam, record.scale.value()) < 0.002);
}

/// No light frame: the same film, its base and no seam, a little less exactly.
void check_without_light_frame(const Photographed& strip) {
    RunOptions options = strip.options("alone", "files = \"s*.dng\"\njoin = true");
    for (auto& sheet : options.ledger->sheets) sheet.light_frame_path.clear(), sheet.dark_frame_path.clear();
    Prepared p = prepared(options);
    if (p.plan.sheets.at(0).unusable) FAIL(describe(*p.plan.sheets[0].unusable));
    CHECK(has(p.findings, "falloff-estimated"));
    CHECK_FALSE(has(p.findings, "shots-without-light-frame"));
    const auto sheet = pipeline::measure_sheet(p.plan, 0, options, {}, p.findings, silent_observer());
    REQUIRE(sheet);
    if (sheet->record.failure) FAIL(describe(*sheet->record.failure));
    REQUIRE(sheet->record.strips.size() == 1);
    CHECK(sheet->record.strips[0].frames.size() == 3);
    for (int c = 0; c < 3; ++c)
        CHECK(sheet->record.strips[0].base.base[c].value.value() == Approx(film().strips[0].base_density[static_cast<std::size_t>(c)]).margin(0.015));
    for (std::size_t seam = 0; seam + 1 < kShots; ++seam) CHECK(worst_step(p.plan.sheets[0], seam, sheet->record.scale.value()) < 0.006);
}

void check_same_bytes(const Photographed& strip) {
    const Prepared p = prepared(strip.options("bytes", "files = \"s*.dng\"\njoin = true"));
    const auto bytes = [&](std::int64_t band_rows) {
        auto reader = open_scan(p.plan.sheets[0].path, p.plan.sheets[0].scan);
        REQUIRE(reader);
        OverviewOptions options;
        options.band_rows = band_rows;
        auto overview = read_overview(**reader, options);
        REQUIRE(overview);
        return std::move(overview->pixels);
    };
    const Image<LinearRgbi> one = bytes(64), other = bytes(7);
    REQUIRE(one.width() == other.width());
    bool same = true;
    for (std::int64_t y = 0; y < one.height(); ++y)
        for (std::int64_t x = 0; x < one.width(); ++x)
            same = same && one(x, y).r == other(x, y).r && one(x, y).g == other(x, y).g && one(x, y).b == other(x, y).b;
    CHECK(same);
    // Fitted anew, shots lie to the bit where they lay.
    CHECK(prepared(strip.options("bytes", "files = \"s*.dng\"\njoin = true")).plan.sheets[0].scan.join == p.plan.sheets[0].scan.join);
}

void check_refused(const Photographed& strip, const std::string& files, const std::string& says, const std::string& about) {
    const Prepared p = prepared(strip.options("refused", "files = [" + files + "]\njoin = true"));
    REQUIRE(p.plan.sheets.size() == 1);
    REQUIRE(p.plan.sheets[0].unusable);
    CHECK_THAT(describe(*p.plan.sheets[0].unusable), Catch::Contains(says) && Catch::Contains(about));
    CHECK_FALSE(p.plan.sheets[0].unusable->hint.empty());
}

}  // namespace

// One case, as the film is drawn and photographed but once.
TEST_CASE("a strip joined from overlapping shots") {
    const Photographed& strip = photographed();
    SECTION("is true to a tenth of a millimetre and shows no seam") { check_true(strip); }
    SECTION("without a light frame has its falloff told from what is in view, and the report says so") { check_without_light_frame(strip); }
    SECTION("has the same bytes whatever it is read by") { check_same_bytes(strip); }
    SECTION("is refused where shots skip a part") { check_refused(strip, "\"s1.dng\", \"s3.dng\"", "shares too little", "s3.dng"); }
    SECTION("is refused out of order, and told where the shot goes") {
        check_refused(strip, "\"s2.dng\", \"s3.dng\", \"s1.dng\"", "s2.dng shows", "in their order");
    }
    SECTION("is refused with a shot of another size") {
        synthetic::StripShotSpec other = strip.shots[1];
        other.camera.width = 960;
        synthetic::write_shot(strip.folder.file("t2.dng"), other.camera, other.shot, film().light, synthetic::kShotFilmPxPerMm);
        check_refused(strip, "\"s1.dng\", \"t2.dng\"", "has 960 x 648 pixels", "t2.dng");
    }
    SECTION("without a ledger: a folder is one strip") {
        RunOptions options;
        options.scan.light_frame_path = strip.folder.file("light.dng"), options.scan.dark_frame_path = strip.folder.file("dark.dng");
        options.join_shots = true;
        options.scans = {strip.folder.file("s1.dng"), strip.folder.file("s2.dng")};
        const auto plan = pipeline::make_plan(options);
        REQUIRE(plan);
        REQUIRE(plan->sheets.size() == 1);
        CHECK(plan->sheets[0].shots == options.scans);
        CHECK(pipeline::files_of(plan->sheets[0]).size() == 4);
    }
}

TEST_CASE("a camera's shots of several frames each are found, and numbered over the files") {
    TemporaryFolder folder;
    // Two frames' length and a half in view.
    synthetic::CopyCamera camera = synthetic::strip_stand();
    camera.px_per_mm = 11.6;
    camera.lens = {-0.015, 0.002};
    synthetic::write_bare_shot(folder.file("light.dng"), camera, 1, 100);
    const std::array<double, 2> middles{synthetic::kShotStripX + 2 + 37, synthetic::kShotStripX + 2 + 75 + 18};
    for (int i = 0; i < 2; ++i) {
        synthetic::CopyShot shot;
        shot.x_mm = middles[static_cast<std::size_t>(i)], shot.y_mm = synthetic::kShotStripY + 17.4875, shot.tilt_deg = 0.6 - i;
        shot.seed = 400 + static_cast<std::uint64_t>(i);
        synthetic::write_shot(folder.file("m" + std::to_string(i + 1) + ".dng"), camera, shot, film().light, synthetic::kShotFilmPxPerMm);
    }
    std::ofstream(folder.file("l.toml")) << "[roll.A]\n[[shots]]\nroll = \"A\"\nfirst = 5\nframes = 2\nfiles = \"m*.dng\"\nlight_frame = \"light.dng\"\n";
    auto ledger = read_ledger(folder.file("l.toml"));
    REQUIRE(ledger);
    RunOptions options;
    options.ledger = std::move(*ledger);
    options.positives = false;
    Prepared p = prepared(options);
    REQUIRE(p.plan.sheets.size() == 2);
    CHECK(has(p.findings, "lens-straightened"));
    const std::array<std::size_t, 2> first_frame{0, 2};
    const std::array<std::size_t, 2> frames{2, 1};  // the strip has three
    for (int i = 0; i < 2; ++i) {
        const auto sheet = pipeline::measure_sheet(p.plan, i, options, {}, p.findings, silent_observer());
        REQUIRE(sheet);
        if (sheet->record.failure) FAIL(describe(*sheet->record.failure));
        REQUIRE(sheet->record.strips.size() == 1);
        const StripRecord& strip = sheet->record.strips[0];
        REQUIRE(strip.frames.size() == frames[static_cast<std::size_t>(i)]);
        CHECK(strip.frames[0].number == 5 + 2 * i);
        std::vector<PointPx> found, truth;
        for (std::size_t f = 0; f < strip.frames.size(); ++f)
            for (std::size_t c = 0; c < 4; ++c) {
                found.push_back(strip.frames[f].box.corners[c] * (1 / sheet->record.scale.value()));
                const auto& corner = film().strips[0].frames[first_frame[static_cast<std::size_t>(i)] + f].corners_px[c];
                truth.push_back(PointPx{corner[0], corner[1]} * (1 / synthetic::kShotFilmPxPerMm));
            }
        CHECK(laid(found, truth).worst < 0.12);
        for (int c = 0; c < 3; ++c) CHECK(strip.base.base[c].value.value() == Approx(film().strips[0].base_density[static_cast<std::size_t>(c)]).margin(0.015));
    }
}
