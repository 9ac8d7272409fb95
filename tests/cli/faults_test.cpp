// SPDX-License-Identifier: GPL-3.0-or-later
// What breaks while the program runs: every result is whole or absent, the rest goes on, and exit code and report tell.
#include "cli/batch.h"

#include <sys/stat.h>
#include <catch2/catch.hpp>
#include <sstream>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

/// The program with its reading of `file` going wrong.
std::string with_fault(const std::string& kind, const std::string& file, std::uintmax_t at) {
    // A sanitizer's own library would otherwise insist on being first.
    return "ASAN_OPTIONS=verify_asan_link_order=0:detect_leaks=0 LD_PRELOAD='" BASEFOG_FAULTS "' FAULT_KIND=" + kind + " FAULT_FILE=" + file +
           " FAULT_AT=" + std::to_string(at);
}

/// What is there is what the undisturbed run has there.
bool all_whole(const std::string& folder, const std::map<std::string, std::string>& undisturbed) {
    for (const auto& [name, content] : results(folder)) {
        const auto whole = undisturbed.find(name);
        if (whole == undisturbed.end() || whole->second != content) return false;
    }
    return true;
}

/// Standard error holds nothing but the program's own messages.
bool speaks_for_itself(const std::string& err) {
    std::istringstream lines(err);
    for (std::string line; std::getline(lines, line);)
        if (!line.starts_with("warning: ") && !line.starts_with("error: ")) return false;
    return true;
}

bool shell(const std::string& line) { return std::system(line.c_str()) == 0; }

/// Runs as somebody who may not write everywhere.
std::string as_nobody() { return ::geteuid() == 0 ? "setpriv --reuid=65534 --regid=65534 --clear-groups" : ""; }

}  // namespace

TEST_CASE("a read error in the middle of a scan fails that scan alone") {
    const TemporaryFolder folder;
    put_sheets(folder, 3);
    const Ran ran = invert(folder, "a.tif b.tif c.tif --output out", with_fault("eio", "b.tif", fs::file_size(folder.file("b.tif")) / 2));
    CHECK(ran.code == 3);
    CHECK(ran.err.find("b.tif") != std::string::npos);
    CHECK(ran.err.find("Input/output error") != std::string::npos);
    CHECK(speaks_for_itself(ran.err));
    CHECK(schema_complaints(folder.file("out/report.json")).empty());
    CHECK(content_of(folder.file("out/report.json")).find("sheet-failed") != std::string::npos);
    CHECK(fs::exists(folder.file("out/positives/c-strip1-03.tif")));
    CHECK_FALSE(fs::exists(folder.file("out/positives/b-strip1-01.tif")));
    // The disk mended, the same command makes what is missing.
    const Ran later = invert(folder, "a.tif b.tif c.tif --output out");
    CHECK(later.code == 0);
    CHECK(later.out.find("2 sheets were finished before") != std::string::npos);
    REQUIRE(invert(folder, "a.tif b.tif c.tif --output undisturbed").code == 0);
    CHECK((results(folder.file("out")) == results(folder.file("undisturbed"))));
}

TEST_CASE("a scan that changes while it is read is not believed") {
    const TemporaryFolder folder;
    put_sheets(folder, 2);
    for (const std::string verb : {"measure", "invert"}) {
        const Ran ran = run_program(folder, verb + " a.tif b.tif --output " + verb, with_fault("touch", "b.tif", fs::file_size(folder.file("b.tif")) / 2));
        INFO(ran.err);
        CHECK(ran.code == 3);
        CHECK(ran.err.find("b.tif: was changed") != std::string::npos);
        CHECK(fs::exists(folder.file(verb + "/maps/a-defects.png")));
    }
}

TEST_CASE("a full disk is an output error, what is there is whole, and with room the same command goes on") {
    const TemporaryFolder folder;
    put_sheets(folder, 3);
    REQUIRE(invert(folder, "a.tif b.tif c.tif --output undisturbed").code == 0);
    const auto undisturbed = results(folder.file("undisturbed"));
    SECTION("a limit on the size of files, in KiB") {
        for (const int limit : {1, 40, 200}) {
            const Ran ran = run_program(folder, "invert a.tif b.tif c.tif --output out", "ulimit -f " + std::to_string(2 * limit) + "; " + kFixedTime);
            INFO(limit << ": " << ran.err);
            CHECK(ran.code == 4);
            CHECK(speaks_for_itself(ran.err));
            CHECK(all_whole(folder.file("out"), undisturbed));
            CHECK(temporary_files(folder.file("out")) == 0);
        }
        CHECK(invert(folder, "a.tif b.tif c.tif --output out").code == 0);
        CHECK((results(folder.file("out")) == undisturbed));
    }
    SECTION("a file system of 1 MB, where this system lets us make one") {
        fs::create_directory(folder.file("small"));
        const std::string inside = "cd '" + folder.path().string() + "' && unshare --map-root-user --mount sh -c 'mount -t tmpfs -o size=1m none small && ";
        if (!shell(inside + "true' 2>/dev/null")) {
            WARN("no file system could be mounted here");
            return;
        }
        CHECK(shell(inside + kFixedTime + " " BASEFOG_PROGRAM " invert a.tif b.tif c.tif --output small/out 2>err; test $? = 4 && cp -r small/out kept'"));
        CHECK(speaks_for_itself(content_of(folder.file("err"))));
        CHECK(content_of(folder.file("err")).find("No space left") != std::string::npos);
        CHECK(all_whole(folder.file("kept"), undisturbed));
        CHECK(temporary_files(folder.file("kept")) == 0);
        CHECK_FALSE(results(folder.file("kept")).empty());
    }
}

TEST_CASE("a folder that may not be written to is an output error, before any work") {
    const TemporaryFolder folder;
    put_sheets(folder, 1);
    fs::create_directory(folder.file("locked"));
    ::chmod(folder.file("locked").c_str(), 0555);
    for (const char* output : {"locked", "locked/out"}) {
        const Ran ran = invert(folder, "a.tif --output " + std::string(output), as_nobody());
        INFO(ran.err);
        CHECK(ran.code == 4);
        CHECK(speaks_for_itself(ran.err));
    }
    CHECK(results(folder.file("locked")).empty());
    fs::create_directories(folder.file("full/positives"));
    ::chmod(folder.file("full").c_str(), 0777);
    ::chmod(folder.file("full/positives").c_str(), 0555);
    CHECK(invert(folder, "a.tif --output full", as_nobody()).code == 4);
}

TEST_CASE("a broken infrared page fails its sheet alone, whose colours can be had without it") {
    const TemporaryFolder folder;
    put_sheets(folder, 2);
    REQUIRE(shell("cd '" + folder.path().string() +
                  "' && convert b.tif -colorspace Gray -negate -depth 16 -compress None grey.tif 2>/dev/null && "
                  "tiffcp -c zip b.tif two.tif 2>/dev/null && tiffcp -a -c lzw grey.tif two.tif 2>/dev/null"));
    std::string bytes = content_of(folder.file("two.tif"));
    REQUIRE(run_program(folder, "measure two.tif --output sound").code == 0);
    REQUIRE(content_of(folder.file("sound/report.json")).find("second page") != std::string::npos);
    // The page added last lies last: its rows, LZW-coded, up to its directory.
    for (std::size_t i = bytes.size() * 3 / 4; i < bytes.size() * 3 / 4 + 2000; ++i) bytes[i] = static_cast<char>(0xFF);
    std::ofstream(folder.file("two.tif"), std::ios::binary) << bytes;
    const Ran ran = run_program(folder, "measure a.tif two.tif --output out");
    INFO(ran.err);
    CHECK(ran.code == 3);
    CHECK(ran.err.find("two.tif") != std::string::npos);
    CHECK(speaks_for_itself(ran.err));
    CHECK(fs::exists(folder.file("out/maps/a-defects.png")));
    CHECK(run_program(folder, "measure a.tif two.tif --no-infrared --output without").code == 0);
}

TEST_CASE("what picture libraries find wrong is told by the program, not by them") {
    const TemporaryFolder folder;
    REQUIRE(shell("cd '" + folder.path().string() + "' && convert -size 900x600 plasma:red-blue -depth 8 -quality 92 a.jpg && convert a.jpg a.png"));
    for (const char* name : {"a.jpg", "a.png"}) {
        std::string bytes = content_of(folder.file(name));
        for (std::size_t i = bytes.size() / 2; i < bytes.size() / 2 + 40; ++i) bytes[i] = 0x55;
        std::ofstream(folder.file(name), std::ios::binary) << bytes;
        const Ran ran = run_program(folder, "measure " + std::string(name) + " --dpi 300 --output out-" + name);
        INFO(name << ": " << ran.err);
        CHECK(ran.code == 3);
        CHECK(ran.err.find(name) != std::string::npos);
        CHECK(speaks_for_itself(ran.err));
    }
}
