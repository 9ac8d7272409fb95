// SPDX-License-Identifier: GPL-3.0-or-later
// Rolls photographed frame by frame.
#include "basefog/ledger/read_ledger.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>

#include <fstream>

using namespace basefog;

namespace {

struct Folder {
    TemporaryFolder folder;
    Folder() {
        std::filesystem::create_directories(folder.path() / "R1");
        for (const char* name : {"shot10.dng", "shot9.dng", "shot0011.dng", "shot8.dng", "notes.txt", ".shot1.dng", "shot-light.dng"})
            std::ofstream(folder.path() / "R1" / name) << "x";
    }
    [[nodiscard]] Result<Ledger> read(const std::string& shots) const {
        std::ofstream(folder.file("l.toml")) << "[roll.R1]\n[roll.R2]\n" << shots;
        return read_ledger(folder.file("l.toml"));
    }
    [[nodiscard]] std::string complaint(const std::string& shots) const {
        const auto ledger = read(shots);
        return ledger ? std::string() : describe(ledger.error());
    }
};

}  // namespace

TEST_CASE("a pattern's files are a roll's frames, in the order of their numbers") {
    const Folder folder;
    const auto ledger = folder.read(
        "[[shots]]\nroll = \"R1\"\nfirst = 8\nfiles = \"R1/shot*.dng\"\nlight_frame = \"R1/shot-light.dng\"\ndark_frame = \"dark.dng\"\nturn = true\n");
    INFO((ledger ? std::string() : describe(ledger.error())));
    REQUIRE(ledger);
    std::vector<std::string> names;
    for (const Sheet& shot : ledger->sheets) {
        names.push_back(std::filesystem::path(shot.path).filename().string());
        CHECK(shot.close_up);
        CHECK(shot.light_frame_path == folder.folder.file("R1/shot-light.dng"));
        CHECK(shot.dark_frame_path == folder.folder.file("dark.dng"));
        REQUIRE(shot.strips.size() == 1);
        CHECK(shot.strips[0].roll == "R1");
        CHECK(shot.strips[0].turn == true);
        CHECK(shot.strips[0].first_frame == 7 + static_cast<int>(names.size()));
    }
    // Neither the light frame nor hidden files; 9 before 10, however many zeros lead.
    CHECK(names == std::vector<std::string>{"shot8.dng", "shot9.dng", "shot10.dng", "shot0011.dng"});
}

TEST_CASE("a list of files keeps its order, and several rolls may follow each other") {
    const Folder folder;
    const auto ledger = folder.read(
        "[[shots]]\nroll = \"R1\"\nfiles = [ \"R1/shot9.dng\", \"R1/shot8.dng\" ]\n[[shots]]\nroll = \"R2\"\nfiles = \"R1/shot1?.dng\"\nencoding = 2.2\n");
    REQUIRE(ledger);
    REQUIRE(ledger->sheets.size() == 3);
    CHECK(ledger->sheets[0].file == "R1/shot9.dng");
    CHECK(ledger->sheets[1].strips[0].first_frame == 2);
    CHECK(ledger->sheets[2].strips[0].roll == "R2");
    CHECK(ledger->sheets[2].encoding == "2.2");
    CHECK(ledger->sheets[2].light_frame_path.empty());
}

TEST_CASE("shots may show several frames each, or be one strip in overlapping parts") {
    using Catch::Contains;
    const Folder folder;
    const std::string files = "[[shots]]\nroll = \"R1\"\nfirst = 7\nfiles = \"R1/shot*.dng\"\nlight_frame = \"R1/shot-light.dng\"\n";
    const auto several = folder.read(files + "frames = 3\n");
    REQUIRE(several);
    REQUIRE(several->sheets.size() == 4);
    for (std::size_t i = 0; i < 4; ++i) {
        const Sheet& sheet = several->sheets[i];
        CHECK(sheet.strip_shots);
        CHECK_FALSE(sheet.close_up);
        CHECK(sheet.frames_each == 3);
        CHECK(sheet.strips.at(0).first_frame == 7 + 3 * static_cast<int>(i));
        CHECK(sheet.further_shots.empty());
    }
    const auto joined = folder.read(files + "join = true\nexposures = 2\n");
    REQUIRE(joined);
    REQUIRE(joined->sheets.size() == 1);
    const Sheet& strip = joined->sheets[0];
    CHECK(strip.strip_shots);
    CHECK_FALSE(strip.close_up);
    CHECK(strip.file == "R1/shot8.dng");
    CHECK(strip.exposure_paths == std::vector<std::string>{folder.folder.file("R1/shot9.dng")});
    REQUIRE(strip.further_shots.size() == 1);
    CHECK(strip.further_shots[0].file == "R1/shot10.dng");
    CHECK(strip.further_shots[0].exposure_paths == std::vector<std::string>{folder.folder.file("R1/shot0011.dng")});
    CHECK(strip.strips.at(0).first_frame == 7);
    CHECK(strip.strips.size() == 1);
    CHECK_THAT(folder.complaint(files + "join = true\nframes = 3\n"), Contains("both"));
    CHECK_THAT(folder.complaint(files + "frames = 0\n"), Contains("frames"));
    CHECK_THAT(folder.complaint(files + "join = 3\n"), Contains("join"));
    // A file that is a part of a strip is no other's.
    CHECK_THAT(folder.complaint(files + "join = true\n[[shots]]\nroll = \"R2\"\nfiles = \"R1/shot10.dng\"\n"), Contains("already described"));
}

TEST_CASE("slips in shots are told") {
    using Catch::Contains;
    const Folder folder;
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"R1/*.tif\"\n"), Contains("no file fits"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"elsewhere/*\"\n"), Contains("no file fits"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\n"), Contains("files"));
    CHECK_THAT(folder.complaint("[[shots]]\nfiles = \"R1/*.dng\"\n"), Contains("roll"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R9\"\nfiles = \"R1/*.dng\"\n"), Contains("R9"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = [ 3 ]\n"), Contains("a number"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"R1/*.dng\"\nligth_frame = \"a\"\n"), Contains("light_frame"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"R1/*.dng\"\ndark_frame = \"a\"\n"), Contains("no light frame"));
    CHECK_THAT(folder.complaint("[shots]\nroll = \"R1\"\n"), Contains("[[shots]]"));
    // One file cannot be two frames.
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = [ \"R1/shot9.dng\", \"R1/shot9.dng\" ]\n"), Contains("already described"));
}

TEST_CASE("shots of a frame at several exposures follow one another") {
    using Catch::Contains;
    const Folder folder;
    const auto ledger = folder.read("[[shots]]\nroll = \"R1\"\nfirst = 3\nfiles = \"R1/shot*.dng\"\nlight_frame = \"R1/shot-light.dng\"\nexposures = 2\n");
    REQUIRE(ledger);
    REQUIRE(ledger->sheets.size() == 2);
    CHECK(ledger->sheets[0].file == "R1/shot8.dng");
    CHECK(ledger->sheets[0].exposure_paths == std::vector<std::string>{folder.folder.file("R1/shot9.dng")});
    CHECK(ledger->sheets[1].file == "R1/shot10.dng");
    CHECK(ledger->sheets[1].exposure_paths == std::vector<std::string>{folder.folder.file("R1/shot0011.dng")});
    CHECK(ledger->sheets[1].strips[0].first_frame == 4);
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"R1/shot*.dng\"\nexposures = 2\n"), Contains("no multiple"));
    CHECK_THAT(folder.complaint("[[shots]]\nroll = \"R1\"\nfiles = \"R1/shot*.dng\"\nexposures = 9\n"), Contains("exposures"));
}
