// SPDX-License-Identifier: GPL-3.0-or-later
// Many sheets in one run: what is finished is not made twice, however a run ended, and what cannot be made stops nothing else.
#include "cli/batch.h"

#include <catch2/catch.hpp>
#include <chrono>
#include <cstdlib>
#include <random>
#include <thread>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

std::map<std::string, fs::file_time_type> times(const std::string& folder) {
    std::map<std::string, fs::file_time_type> times;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.path().extension() == ".tif") times[entry.path().filename().string()] = entry.last_write_time();
    return times;
}

}  // namespace

TEST_CASE("a second run takes over what is finished, unless inputs or choices changed") {
    const TemporaryFolder folder;
    put_sheets(folder, 3);
    REQUIRE(invert(folder, "a.tif b.tif c.tif --output out").code == 0);
    const auto whole = results(folder.file("out"));
    const auto made = times(folder.file("out"));
    REQUIRE(made.size() >= 6);

    const Ran again = invert(folder, "a.tif b.tif c.tif --output out");
    INFO(again.err);
    CHECK(again.code == 0);
    CHECK(again.out.find("3 sheets were finished before") != std::string::npos);
    CHECK((results(folder.file("out")) == whole));
    CHECK((times(folder.file("out")) == made));

    SECTION("a scan that was touched is the same scan") {
        fs::last_write_time(folder.file("b.tif"), fs::file_time_type::clock::now());
        CHECK(invert(folder, "a.tif b.tif c.tif --output out").code == 0);
        CHECK((times(folder.file("out")) == made));
    }
    SECTION("a scan with other content is another scan, even with its old name and time") {
        const auto time = fs::last_write_time(folder.file("b.tif"));
        draw_sheet(folder.file("b.tif"), 7);
        fs::last_write_time(folder.file("b.tif"), time);
        const Ran refused = invert(folder, "a.tif b.tif c.tif --output out");
        CHECK(refused.code == 4);
        CHECK(refused.err.find("--update") != std::string::npos);
        CHECK((results(folder.file("out")) == whole));
        CHECK(invert(folder, "a.tif b.tif c.tif --output out --update").code == 0);
        for (const auto& [name, time_then] : made) CHECK((times(folder.file("out"))[name] == time_then) == !name.starts_with("b-"));
    }
    SECTION("other choices are refused, and --replace makes everything anew") {
        CHECK(invert(folder, "a.tif b.tif c.tif --output out --exposure 0.5").code == 4);
        CHECK((results(folder.file("out")) == whole));
        CHECK(invert(folder, "a.tif b.tif c.tif --output out --replace").code == 0);
        CHECK((results(folder.file("out")) == whole));
        for (const auto& [name, time_then] : made) CHECK(times(folder.file("out"))[name] != time_then);
    }
    SECTION("a layout corrected for one sheet makes that sheet anew, and no other") {
        const std::string layout = folder.file("layout.toml"), with_layout = "a.tif b.tif c.tif --output out --update --layout layout.toml";
        REQUIRE(run_program(folder, "measure a.tif b.tif c.tif --output measured --write-layout layout.toml").code == 0);
        REQUIRE(invert(folder, with_layout).code == 0);
        const auto then = times(folder.file("out"));
        std::string text = content_of(layout);
        const std::string frame = "[[sheet.strip.frame]]\n";
        const auto at = text.find(frame, text.find("\"b.tif\""));
        REQUIRE(at != std::string::npos);
        text.insert(at + frame.size(), "grow_left_px = -5\n");
        std::ofstream(layout) << text;
        REQUIRE(invert(folder, with_layout).code == 0);
        for (const auto& [name, time_then] : then) CHECK((times(folder.file("out"))[name] == time_then) == !name.starts_with("b-"));
    }
    SECTION("a result that is gone is made again; one that was worked on is not written over unasked") {
        fs::remove(folder.file("out/positives/a-strip1-01.tif"));
        CHECK(invert(folder, "a.tif b.tif c.tif --output out").code == 0);
        CHECK((results(folder.file("out")) == whole));
        std::ofstream(folder.file("out/positives/c-strip1-01.tif")) << "retouched";
        CHECK(invert(folder, "a.tif b.tif c.tif --output out").code == 4);
        CHECK(content_of(folder.file("out/positives/c-strip1-01.tif")) == "retouched");
    }
    SECTION("a damaged note is as good as none") {
        for (const auto& entry : fs::directory_iterator(folder.file("out/resume")))
            if (entry.path().extension() == ".group") fs::resize_file(entry.path(), fs::file_size(entry.path()) / 2);
        CHECK(invert(folder, "a.tif b.tif c.tif --output out").code == 0);
        CHECK((results(folder.file("out")) == whole));
    }
    SECTION("a note that was whole but not yet in place when its run was killed is none, and is cleared away") {
        fs::path note;
        for (const auto& entry : fs::directory_iterator(folder.file("out/resume")))
            if (entry.path().extension() == ".group") note = entry.path();
        const fs::path pending = note.parent_path() / (".pending-4711-" + note.filename().string());
        fs::rename(note, pending);
        const Ran killed_before = invert(folder, "a.tif b.tif c.tif --output out");
        INFO(killed_before.err);
        CHECK(killed_before.code == 0);
        CHECK(killed_before.out.find("2 sheets were finished before") != std::string::npos);
        CHECK_FALSE(fs::exists(pending));
        CHECK((results(folder.file("out")) == whole));
    }
    SECTION("more sheets are added to those that are finished") {
        draw_sheet(folder.file("d.tif"), 9);
        const Ran more = invert(folder, "a.tif b.tif c.tif d.tif --output out");
        CHECK(more.code == 0);
        CHECK(more.out.find("3 sheets were finished before") != std::string::npos);
        CHECK(schema_complaints(folder.file("out/report.json")).empty());
    }
}

TEST_CASE("a folder of scans is worked on sheet by sheet, what is no scan passed over") {
    const TemporaryFolder folder;
    fs::create_directory(folder.file("scans"));
    synthetic::write_small_sheet(folder.file("scans/two.tif"), synthetic::small_sheet(2));
    synthetic::write_small_sheet(folder.file("scans/one.tif"), synthetic::small_sheet(1));
    std::ofstream(folder.file("scans/notes.txt")) << "washed twice\n";
    std::ofstream(folder.file("scans/.hidden.tif"), std::ios::binary) << content_of(folder.file("scans/one.tif"));
    const Ran ran = run_program(folder, "measure scans --output out");
    INFO(ran.err);
    CHECK(ran.code == 0);
    CHECK(ran.out.find("2 sheets") != std::string::npos);
    const std::string report = content_of(folder.file("out/report.json"));
    CHECK(report.find("scans/one.tif") < report.find("scans/two.tif"));
    fs::create_directory(folder.file("empty"));
    CHECK(run_program(folder, "measure empty --output out2").code == 3);
}

TEST_CASE("one sheet whose results cannot be made is left out when asked to keep going") {
    const TemporaryFolder folder;
    put_sheets(folder, 3);
    std::ofstream(folder.file("bad.tif")) << "II*";
    // A folder stands where a positive of the second sheet should go.
    fs::create_directories(folder.file("out/positives/b-strip1-01.tif/in the way"));
    CHECK(invert(folder, "a.tif b.tif bad.tif c.tif --output out --replace").code == 4);
    CHECK_FALSE(fs::exists(folder.file("out/report.json")));
    const Ran ran = invert(folder, "a.tif b.tif bad.tif c.tif --output out --update --keep-going");
    INFO(ran.err);
    CHECK(ran.code == 6);
    CHECK(ran.out.find("2 sheets could not be used") != std::string::npos);
    CHECK(fs::exists(folder.file("out/positives/a-strip1-01.tif")));
    CHECK(fs::exists(folder.file("out/positives/c-strip1-01.tif")));
    CHECK_FALSE(fs::exists(folder.file("out/positives/b-strip1-02.tif")));  // taken back with its sheet
    CHECK(schema_complaints(folder.file("out/report.json")).empty());
    const std::string report = content_of(folder.file("out/report.json"));
    CHECK(report.find("sheet-failed") != std::string::npos);

    fs::remove_all(folder.file("out/positives/b-strip1-01.tif"));
    const Ran later = invert(folder, "a.tif b.tif c.tif --output out");
    INFO(later.err);
    CHECK(later.code == 0);
    CHECK(later.out.find("2 sheets were finished before") != std::string::npos);
    REQUIRE(invert(folder, "a.tif b.tif c.tif --output undisturbed").code == 0);
    CHECK((results(folder.file("out")) == results(folder.file("undisturbed"))));
}

// tools/kill-test runs this with more kills.
TEST_CASE("killed at any moment, then run again: the results of an undisturbed run to the byte, and no stray file", "[kill]") {
    const TemporaryFolder folder;
    put_sheets(folder, 4);
    const std::string command = "a.tif b.tif c.tif d.tif --output ";
    const auto start = std::chrono::steady_clock::now();
    REQUIRE(invert(folder, command + "undisturbed").code == 0);
    // How long a run may live at most: shortened when one slips through, so that about as many are killed whatever else the machine does.
    double longest = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    const auto undisturbed = results(folder.file("undisturbed"));

    const char* asked = std::getenv("BASEFOG_KILLS");
    const int kills = asked != nullptr ? std::atoi(asked) : 5;
    std::mt19937 random(20260314);  // its output is defined by the standard
    int killed = 0, finished = 0;
    while (killed < kills) {
        const std::string out = "out" + std::to_string(finished);
        // Kills into the same folder until a run slips through: what one left the next goes on from.
        for (bool done = false; !done && killed < kills;) {
            const double after = longest * (0.02 + static_cast<double>(random() % 1000) / 1000);
            const Ran ran = run_program(folder, "invert " + command + out, kFixedTime + " timeout --signal=KILL " + std::to_string(after));
            // timeout kills itself too, so a killed run may still be going down, and hold its folder, when the next begins.
            if (ran.code == 4 && ran.err.find("another run is writing") != std::string::npos) {
                std::this_thread::sleep_for(std::chrono::milliseconds(50));
                continue;
            }
            INFO("after " << killed << " kills: " << ran.err);
            done = ran.code == 0;
            killed += done ? 0 : 1;
            longest *= done ? 0.85 : 1.05;
            if (!done) REQUIRE(ran.code == 137);
        }
        const Ran last = invert(folder, command + out);
        INFO("after " << killed << " kills: " << last.err);
        REQUIRE(last.code == 0);
        REQUIRE((results(folder.file(out)) == undisturbed));
        REQUIRE(temporary_files(folder.file(out)) == 0);
        fs::remove_all(folder.file(out));
        ++finished;
    }
    WARN(killed << " kills, " << finished << " batches finished after them");
}
