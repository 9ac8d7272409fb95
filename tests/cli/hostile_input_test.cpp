// SPDX-License-Identifier: GPL-3.0-or-later
// Bad input: each a clear error with the right exit code, and nothing already made is lost.
#include "cli/program.h"

#include <sys/stat.h>
#include <catch2/catch.hpp>
#include <cstdint>
#include <vector>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

void put16(std::string& bytes, std::uint16_t v) {
    bytes += static_cast<char>(v & 255);
    bytes += static_cast<char>(v >> 8);
}
void put32(std::string& bytes, std::uint32_t v) {
    put16(bytes, static_cast<std::uint16_t>(v & 65535));
    put16(bytes, static_cast<std::uint16_t>(v >> 16));
}

/// A TIFF header by hand [TIFF6, sections 2 and 8]: `side` x `side` pixels of 16-bit RGB, one strip, no pixel data behind it.
std::string header_only_tiff(std::uint32_t side) {
    std::string bytes = "II";
    put16(bytes, 42);
    put32(bytes, 8);
    const std::vector<std::array<std::uint32_t, 4>> entries{{256, 4, 1, side}, {257, 4, 1, side}, {258, 3, 1, 16},   {259, 3, 1, 1},   {262, 3, 1, 2},
                                                            {273, 4, 1, 200},  {277, 3, 1, 3},    {278, 4, 1, side}, {279, 4, 1, 100}, {282, 3, 1, 300}};
    put16(bytes, static_cast<std::uint16_t>(entries.size()));
    for (const auto& [tag, type, count, value] : entries) {
        put16(bytes, static_cast<std::uint16_t>(tag));
        put16(bytes, static_cast<std::uint16_t>(type));
        put32(bytes, count);
        put32(bytes, value);
    }
    put32(bytes, 0);
    return bytes;
}

}  // namespace

TEST_CASE("files that are no scans are refused with what is wrong, and the good one still gets its report") {
    const TemporaryFolder folder;
    const std::string good = content_of(shared_sheet_path());
    std::ofstream(folder.file("truncated.tif"), std::ios::binary) << good.substr(0, good.size() / 3);
    std::ofstream(folder.file("empty.tif"));
    std::ofstream(folder.file("text.tif")) << "Dear lab, please find my film enclosed.\n";
    std::ofstream(folder.file("huge.tif"), std::ios::binary) << header_only_tiff(60000);
    std::ofstream(folder.file("dot.tif"), std::ios::binary) << header_only_tiff(1);
    fs::create_directory(folder.file("folder.tif"));
    for (const char* name : {"truncated.tif", "empty.tif", "text.tif", "huge.tif", "dot.tif", "folder.tif", "missing.tif"}) {
        const Ran ran = run_program(folder, "measure " + std::string(name) + " --output out-" + name);
        INFO(name << ": " << ran.err);
        CHECK(ran.code == 3);
        CHECK(ran.err.find(name) != std::string::npos);
        CHECK(ran.err.size() < 600);
        CHECK(schema_complaints(folder.file(std::string("out-") + name + "/report.json")).empty());
    }
    const Ran all = run_program(folder, "measure truncated.tif empty.tif text.tif huge.tif folder.tif missing.tif '" + shared_sheet_path() + "' --output all");
    CHECK(all.code == 3);
    CHECK(all.out.find("2 strips") != std::string::npos);
}

TEST_CASE("an output that cannot be written is an output error") {
    const TemporaryFolder folder;
    std::ofstream(folder.file("file")) << "x";
    CHECK(run_program(folder, "measure '" + shared_sheet_path() + "' --output file").code == 4);
    CHECK(run_program(folder, "measure '" + shared_sheet_path() + "' --output file/below").code == 4);
    if (::geteuid() != 0) {  // root may write anywhere
        fs::create_directory(folder.file("locked"));
        ::chmod(folder.file("locked").c_str(), 0500);
        CHECK(run_program(folder, "measure '" + shared_sheet_path() + "' --output locked/out").code == 4);
    }
    CHECK(run_program(folder, "measure '" + shared_sheet_path() + "' --output /proc/out").code == 4);
}

TEST_CASE("names from a ledger stay inside the output folder and cannot act in the report") {
    const TemporaryFolder folder;
    std::ofstream(folder.file("ledger.toml"))
        << "[roll.\"../../escape\"]\n[roll.\"<script>alert(1)</script>\"]\n[[sheet]]\nfile = \"" << shared_sheet_path()
        << "\"\nstrips = [ { roll = \"../../escape\", first = 1 }, { roll = \"<script>alert(1)</script>\", first = 1 } ]\n";
    const Ran ran = run_program(folder, "invert --ledger ledger.toml --output a/b/out");
    INFO(ran.err);
    REQUIRE(ran.code == 0);
    for (const auto& entry : fs::recursive_directory_iterator(folder.path()))
        if (entry.is_regular_file() && entry.path().filename() != "ledger.toml") CHECK(entry.path().string().find("/a/b/out/") != std::string::npos);
    CHECK(content_of(folder.file("a/b/out/report.html")).find("<script>alert") == std::string::npos);
}

TEST_CASE("no file the run reads is written over, whatever is asked") {
    const TemporaryFolder folder;
    fs::copy_file(shared_sheet_path(), folder.file("scan.tif"));
    const std::string before = content_of(folder.file("scan.tif"));
    CHECK(run_program(folder, "measure scan.tif --output out --write-layout scan.tif --replace").code == 2);
    CHECK((content_of(folder.file("scan.tif")) == before));
    CHECK(run_program(folder, "measure scan.tif --output ''").code == 2);
    CHECK(run_program(folder, "measure scan.tif --output out --memory -5").code == 2);
    std::ofstream(folder.file("text.icc")) << "no profile";
    CHECK(run_program(folder, "invert scan.tif --output out --output-profile text.icc").code == 2);
    CHECK(run_program(folder, "invert scan.tif --output out --output-profile missing.icc").code == 2);
}

TEST_CASE("infrared that saw nothing is not believed") {
    const TemporaryFolder folder;
    synthetic::SheetSpec spec = synthetic::small_sheet(3, true);
    synthetic::Sheet sheet = synthetic::draw_sheet(spec);
    cv::Mat samples = synthetic::encode(sheet, spec);
    samples.forEach<cv::Vec<std::uint16_t, 4>>([](cv::Vec<std::uint16_t, 4>& p, const int*) { p[3] = 0; });
    synthetic::write_tiff(folder.file("dead.tif"), samples, spec.dpi);
    const Ran ran = run_program(folder, "measure dead.tif --output out --verbose");
    CHECK(ran.code == 0);
    CHECK(ran.out.find("It is not used") != std::string::npos);
    CHECK(ran.out.find("residue-heavy") == std::string::npos);
}
