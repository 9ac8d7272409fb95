// SPDX-License-Identifier: GPL-3.0-or-later
// A proof made while someone chooses must be what a run with the same choices makes: the run is the oracle.
#include "basefog/pipeline/proofs.h"

#include "support/small_sheet.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>

#include <filesystem>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

struct SharedRun {
    TemporaryFolder folder;
    std::string path = folder.file("sheet.tif");
    RunOptions options;
    RunRecord record;

    SharedRun() {
        (void)synthetic::write_small_sheet(path, synthetic::small_sheet(3));
        record = run_with({});
    }
    [[nodiscard]] RunRecord run_with(const PrintChoices& print) {
        options.scans = {path};
        options.output_folder = folder.file("results");
        options.command = "invert";
        options.replace = true;
        RunOptions chosen = options;
        chosen.print = print;
        auto made = run(chosen, silent_observer());
        REQUIRE(made);
        return std::move(*made);
    }
};
SharedRun& shared() {
    static SharedRun run;
    return run;
}

cv::Mat decoded(const std::string& jpeg) { return cv::imdecode(std::vector<char>(jpeg.begin(), jpeg.end()), cv::IMREAD_COLOR); }
cv::Mat proof_of(const SharedRun& run, const FrameRecord& frame) { return cv::imread((fs::path(run.options.output_folder) / frame.proof).string()); }
double light_of(const cv::Mat& picture) {
    const cv::Scalar mean = cv::mean(picture);
    return (mean[0] + mean[1] + mean[2]) / 3;
}

ProofWish wish_for(const FrameRecord& frame, const PrintValues& print = {}) { return {shared().path, frame.box.corners, print, 1200, true}; }
Proof made(ProofTable& table, const ProofWish& wish) {
    auto proof = table.proof(wish, silent_observer());
    INFO((proof ? std::string() : describe(proof.error())));
    REQUIRE(proof);
    return std::move(*proof);
}
ProofTable measured() {
    auto table = ProofTable::measure(shared().options, silent_observer());
    REQUIRE(table);
    return std::move(*table);
}

const FrameRecord& frame_at(const RunRecord& record, std::size_t strip, std::size_t frame) { return record.scans.at(0).strips.at(strip).frames.at(frame); }

}  // namespace

TEST_CASE("a proof is what a run with the same choices makes, pixel for pixel") {
    ProofTable table = measured();
    BalanceChoice warm;
    warm.by = BalanceChoice::By::numbers;
    warm.stops = {Stops(-0.4), Stops(0.1), Stops(0.3)};
    BalanceChoice own;
    own.by = BalanceChoice::By::frame;
    const PrintChoices choices[] = {{}, {{}, Stops(0.8), {}, {}, {}}, {warm, Stops(-0.3), 1.2, Stops(-5), 0.7}, {own, {}, {}, {}, {}}};
    for (const PrintChoices& print : choices) {
        const RunRecord record = shared().run_with(print);
        for (const std::size_t f : {std::size_t{0}, std::size_t{2}}) {
            const FrameRecord& frame = frame_at(record, 0, f);
            const Proof proof = made(table, wish_for(frame, overlaid({}, print)));
            const cv::Mat seen = decoded(proof.jpeg), by_run = proof_of(shared(), frame);
            REQUIRE(seen.size() == by_run.size());
            CHECK(cv::norm(seen, by_run, cv::NORM_INF) == 0);
            for (int l = 0; l < 3; ++l) CHECK(proof.balance[l].value() == Approx(to_stops(frame.balance[l]).value()).margin(1e-12));
        }
    }
}

TEST_CASE("a frame whose corners were moved is shown as they lie now") {
    ProofTable table = measured();
    const FrameRecord& frame = frame_at(shared().record, 0, 0);
    ProofWish wish = wish_for(frame);
    const cv::Mat whole = decoded(made(table, wish).jpeg);
    // The left half of the picture.
    wish.corners[1] = (frame.box.corners[0] + frame.box.corners[1]) * 0.5;
    wish.corners[2] = (frame.box.corners[3] + frame.box.corners[2]) * 0.5;
    const cv::Mat half = decoded(made(table, wish).jpeg);
    CHECK(half.cols == Approx(whole.cols / 2.0).margin(1));
    CHECK(half.rows == Approx(whole.rows).margin(1));
    const cv::Rect left(0, 0, std::min(half.cols, whole.cols), std::min(half.rows, whole.rows));
    CHECK(std::abs(light_of(half(left)) - light_of(whole(left))) < 1);
}

TEST_CASE("a grey patch of the proof comes out grey, and one of a frame that moved is told to be the old one") {
    ProofTable table = measured();
    const FrameRecord& frame = frame_at(shared().record, 0, 0);
    PrintValues print;
    print.balance.by = BalanceChoice::By::patch;
    print.balance.patch = {0.2, 0.3, 0.23, 0.345};
    const Proof proof = made(table, wish_for(frame, print));
    CHECK(proof.note.empty());
    const cv::Mat picture = decoded(proof.jpeg);
    const cv::Rect patch(int(0.2 * picture.cols), int(0.3 * picture.rows), std::max(2, int(0.03 * picture.cols)), std::max(2, int(0.045 * picture.rows)));
    const cv::Scalar mean = cv::mean(picture(patch));
    CHECK(std::max({mean[0], mean[1], mean[2]}) - std::min({mean[0], mean[1], mean[2]}) < 8);  // code values: grain and JPEG's chroma
    ProofWish moved = wish_for(frame, print);
    for (PointPx& corner : moved.corners) corner = corner + PointPx{12, 0};
    CHECK_FALSE(made(table, moved).note.empty());
}

TEST_CASE("a quick proof of a large frame looks like the exact one") {
    const TemporaryFolder folder;
    synthetic::SheetSpec spec = synthetic::small_sheet(5);
    spec.dpi = 1250;  // a frame is 1770 pixels long: reduced by two
    spec.strips.resize(1);
    spec.strips[0].frames.resize(1);
    spec.width = 70;
    spec.height = 58;
    const synthetic::Sheet truth = synthetic::write_small_sheet(folder.file("large.tif"), spec);
    RunOptions options;
    options.scans = {folder.file("large.tif")};
    options.command = "invert";
    options.output_folder = folder.file("none");
    auto table = ProofTable::measure(options, silent_observer());
    REQUIRE(table);
    CHECK_FALSE(fs::exists(folder.file("none")));                                  // measuring for proofs writes nothing
    const synthetic::Corners& where = truth.strips.at(0).frames.at(0).corners_px;  // nothing here depends on the finder
    Quad corners{};
    for (std::size_t i = 0; i < 4; ++i) corners[i] = {where[i][0], where[i][1]};
    ProofWish wish{folder.file("large.tif"), corners, {}, 600, false};
    for (const double stops : {0.0, 1.0, -1.0}) {
        wish.print.exposure = Stops(stops);
        wish.exact = false;
        const cv::Mat quick = decoded(made(*table, wish).jpeg);
        wish.exact = true;
        const cv::Mat exact = decoded(made(*table, wish).jpeg);
        REQUIRE(quick.size() == exact.size());
        // What grain does to a mean through the print's curve, in code values. Chosen: below what an eye tells from one moment to the next.
        for (int c = 0; c < 3; ++c) CHECK(std::abs(cv::mean(quick)[c] - cv::mean(exact)[c]) < 1.5);
        cv::Mat apart;
        cv::absdiff(quick, exact, apart);
        CHECK(light_of(apart) < 4);
    }
}

TEST_CASE("what has no proof is refused in words") {
    ProofTable table = measured();
    const FrameRecord& frame = frame_at(shared().record, 0, 0);
    const auto refused = [&](ProofWish wish) {
        const auto proof = table.proof(wish, silent_observer());
        REQUIRE_FALSE(proof);
        CHECK(proof.error().code == ErrorCode::usage);
    };
    ProofWish wish = wish_for(frame);
    wish.scan = "no-such.tif";
    refused(wish);
    wish = wish_for(frame);
    for (PointPx& corner : wish.corners) corner = corner + PointPx{-1e6, 0};
    refused(wish);
    wish = wish_for(frame);
    wish.long_side = 0;
    refused(wish);
    refused(wish_for(frame_at(shared().record, 1, 1)));  // blank
    RunOptions none = shared().options;
    none.scans.clear();
    CHECK_FALSE(ProofTable::measure(none, silent_observer()));
}
