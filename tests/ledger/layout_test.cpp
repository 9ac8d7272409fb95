// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/layout_file.h"

#include "checks.h"
#include "support/temporary_folder.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>

using namespace basefog;
using ledger_checks::must_say;
using ledger_checks::replaced;

namespace {

const std::string kPath = "layout.toml";

/// A rectangle turned by `degrees` (clockwise on the scan) around its first corner; corners in read order.
Quad turned_box(double x, double y, double along, double across, double degrees) {
    const double r = degrees * 3.14159265358979323846 / 180, c = std::cos(r), s = std::sin(r);
    const PointPx e{c, s}, f{-s, c}, o{x, y};
    return {o, o + e * along, o + e * along + f * across, o + f * across};
}

/// One horizontal strip with three frames and one vertical with two, placed with odd fractions of a pixel.
NamedLayout example() {
    NamedLayout sheet{"scans/sheet \"1\" \\ \xC3\xA9.tif", {}, {}};
    sheet.layout.scale = px_per_mm_from_dpi(3200);
    sheet.layout.scale_origin = ScaleOrigin::film_width;
    StripBox lying;
    lying.corners = turned_box(311.116, 207.333, 20500, 4406.3, 1.25);
    lying.angle_deg = 1.25;
    lying.perforations_seen = true;
    lying.confidence = 0.98;
    for (int i = 0; i < 3; ++i) {
        const double r = 1.25 * 3.14159265358979323846 / 180, t = 600 + 4787.4 * i;
        const double x = 311.116 + t * std::cos(r) - 690 * std::sin(r), y = 207.333 + t * std::sin(r) + 690 * std::cos(r);
        lying.frames.push_back({turned_box(x, y, 4535.4, 3023.6, 1.25), FrameKind::picture, 0.9, Millimetres(0.04), i == 1, false});
    }
    lying.frames[2].kind = FrameKind::blank;
    StripBox standing;
    standing.direction = StripDirection::vertical;
    // Read from its top end downwards: the picture's top is the scan's right.
    standing.corners = {{{24000, 6000}, {24010, 16000}, {19604, 16004}, {19594, 6004}}};
    standing.angle_deg = -std::atan2(10, 10000) * 180 / 3.14159265358979323846;
    standing.confidence = 0.5;
    for (int i = 0; i < 2; ++i) {
        const double y = 6300 + 4787.0 * i;
        standing.frames.push_back(
            {{{{23300, y}, {23304, y + 4535}, {20280, y + 4538}, {20276, y + 3}}}, FrameKind::fogged, 0.25, Millimetres(0.3), false, false});
    }
    sheet.layout.strips = {lying, standing};
    sheet.names = {{"R1", {1, 2, 3}}, {"Übung/2", {0, 7}}};
    return sheet;
}

std::vector<NamedLayout> parsed(const std::string& text) {
    const auto sheets = parse_layouts(text, kPath);
    INFO((sheets ? std::string() : describe(sheets.error())));
    REQUIRE(sheets);
    return *sheets;
}

void check_near(const Quad& a, const Quad& b, double margin) {
    for (int i = 0; i < 4; ++i) {
        CHECK(a[i].x == Approx(b[i].x).margin(margin));
        CHECK(a[i].y == Approx(b[i].y).margin(margin));
    }
}

/// A strip of two 720 x 480 frames, level, in plain numbers.
const std::string kPlain = R"([[sheet]]
file = "a.tif"
pixels_per_mm = 20
[[sheet.strip]]
roll = "R1"
corners = [[100, 100], [1900, 100], [1900, 800], [100, 800]]
[[sheet.strip.frame]]
number = 1
corners = [[200, 200], [920, 200], [920, 680], [200, 680]]
[[sheet.strip.frame]]
number = 2
corners = [[960, 200], [1680, 200], [1680, 680], [960, 680]]
)";

}  // namespace

TEST_CASE("a layout read back is the layout written, to 0.01 px") {
    const NamedLayout before = example();
    const std::string text = layout_text({before});
    const auto sheets = parsed(text);
    REQUIRE(sheets.size() == 1);
    const NamedLayout& after = sheets[0];
    CHECK(after.file == before.file);
    CHECK(after.names == before.names);
    CHECK(after.layout.scale.value() == Approx(before.layout.scale.value()).margin(5e-7));  // six decimals are written
    CHECK(after.layout.scale_origin == before.layout.scale_origin);
    REQUIRE(after.layout.strips.size() == before.layout.strips.size());
    for (std::size_t s = 0; s < after.layout.strips.size(); ++s) {
        const StripBox &was = before.layout.strips[s], &is = after.layout.strips[s];
        check_near(is.corners, was.corners, 0.005000001);  // half of the last digit written
        CHECK(is.direction == was.direction);
        CHECK(is.perforations_seen == was.perforations_seen);
        CHECK(is.confidence == Approx(was.confidence).margin(0.0005));
        CHECK(is.angle_deg == Approx(was.angle_deg).margin(1e-4));  // 0.01 px over the shorter strip's 10,000 px is 6e-5 degrees
        REQUIRE(is.frames.size() == was.frames.size());
        for (std::size_t f = 0; f < is.frames.size(); ++f) {
            check_near(is.frames[f].corners, was.frames[f].corners, 0.005000001);
            CHECK(is.frames[f].kind == was.frames[f].kind);
            CHECK(is.frames[f].placed_by_pitch == was.frames[f].placed_by_pitch);
            CHECK_FALSE(is.frames[f].by_hand);
            CHECK(is.frames[f].confidence == Approx(was.frames[f].confidence).margin(0.0005));
            CHECK(is.frames[f].edge_std.value() == Approx(was.frames[f].edge_std.value()).margin(0.00005));
        }
    }
    CHECK(layout_text(sheets) == text);  // and so on for ever
}

TEST_CASE("a layout reads the same from Windows and with a byte order mark") {
    const std::string text = layout_text({example()});
    std::string windows = "\xEF\xBB\xBF";
    for (const char c : text) windows += c == '\n' ? std::string("\r\n") : std::string(1, c);
    CHECK(layout_text(parsed(windows)) == text);
}

TEST_CASE("sheets without strips, several sheets and none are layouts") {
    CHECK(parsed("").empty());
    CHECK(parsed(layout_text({})).empty());
    NamedLayout bare{"b.tif", {}, {}};
    const auto sheets = parsed(layout_text({example(), bare}));
    REQUIRE(sheets.size() == 2);
    CHECK(sheets[1].file == "b.tif");
    CHECK(sheets[1].layout.strips.empty());
}

TEST_CASE("only frames that were edited come back as set by hand, and stay so") {
    const std::string text = layout_text({example()});
    const std::string first_corner = text.substr(text.find("corners = [[", text.find("number = 2")) + 12, 7);
    const auto sheets = parsed(replaced(text, "[[" + first_corner, "[[" + std::to_string(std::stoi(first_corner) - 9)));
    const auto& frames = sheets.at(0).layout.strips.at(0).frames;
    CHECK_FALSE(frames.at(0).by_hand);
    CHECK(frames.at(1).by_hand);
    CHECK_FALSE(frames[1].placed_by_pitch);
    CHECK(frames[1].confidence == 1);
    CHECK_FALSE(frames.at(2).by_hand);
    CHECK(parsed(layout_text(sheets)).at(0).layout.strips.at(0).frames == frames);

    const auto other_kind = parsed(replaced(text, "kind = \"blank\"", "kind = \"picture\"")).at(0).layout.strips.at(0).frames;
    CHECK(other_kind.at(2).by_hand);
    CHECK(other_kind.at(2).kind == FrameKind::picture);
    CHECK_FALSE(other_kind.at(1).by_hand);

    const auto renumbered = parsed(replaced(text, "number = 2", "number = 12")).at(0);
    CHECK(renumbered.names.at(0).numbers == std::vector<int>{1, 12, 3});
    CHECK_FALSE(renumbered.layout.strips.at(0).frames.at(1).by_hand);  // a name is not a place
}

TEST_CASE("a frame's block can be deleted, and a copied one moved along by an advance") {
    const std::string text = layout_text({example()});
    const std::size_t begin = text.find("[[sheet.strip.frame]]", text.find("number = 1")), end = text.find("\n\n", begin) + 2;
    const std::string block = text.substr(begin, end - begin);
    const auto fewer = parsed(replaced(text, block, "")).at(0);
    CHECK(fewer.names.at(0).numbers == std::vector<int>{1, 3});

    // Added after the first frame in the text, but it lies last.
    const std::string added = replaced(replaced(block, "number = 2", "number = 4"), "\ncorners", "\nshift_px = 9574.8\ncorners");
    const auto more = parsed(replaced(text, block, added + block)).at(0);
    CHECK(more.names.at(0).numbers == std::vector<int>{1, 2, 3, 4});
    const auto& frames = more.layout.strips.at(0).frames;
    CHECK(frames.at(3).by_hand);
    CHECK(distance(centre(frames[3].corners), centre(frames[1].corners)) == Approx(9574.8).margin(0.02));
}

TEST_CASE("each edge moves outwards by the pixels given, on lying and standing strips") {
    const auto moved = [](const std::string& line) {
        return parsed(replaced(kPlain, "number = 1\n", "number = 1\n" + line + "\n")).at(0).layout.strips.at(0).frames.at(0).corners;
    };
    check_near(moved("grow_left_px = 10"), {{{190, 200}, {920, 200}, {920, 680}, {190, 680}}}, 1e-9);
    check_near(moved("grow_top_px = 10"), {{{200, 190}, {920, 190}, {920, 680}, {200, 680}}}, 1e-9);
    check_near(moved("grow_right_px = -10"), {{{200, 200}, {910, 200}, {910, 680}, {200, 680}}}, 1e-9);
    check_near(moved("grow_bottom_px = 10"), {{{200, 200}, {920, 200}, {920, 690}, {200, 690}}}, 1e-9);
    check_near(moved("shift_px = -5"), {{{195, 200}, {915, 200}, {915, 680}, {195, 680}}}, 1e-9);

    // The same strip standing: turned a quarter clockwise, so that (x, y) becomes (1000 - y, x).
    const std::string standing = R"([[sheet]]
file = "a.tif"
[[sheet.strip]]
roll = "R1"
direction = "vertical"
corners = [[900, 100], [900, 1900], [200, 1900], [200, 100]]
[[sheet.strip.frame]]
number = 1
grow_left_px = 10
corners = [[800, 200], [800, 920], [320, 920], [320, 200]]
)";
    check_near(parsed(standing).at(0).layout.strips.at(0).frames.at(0).corners, {{{800, 190}, {800, 920}, {320, 920}, {320, 190}}}, 1e-9);
    CHECK(parsed(standing).at(0).layout.strips.at(0).angle_deg == Approx(0).margin(1e-9));
}

TEST_CASE("corners of a frame in any order are put into reading order") {
    const Quad right{{{200, 200}, {920, 200}, {920, 680}, {200, 680}}};
    for (const char* order : {"[[920, 200], [920, 680], [200, 680], [200, 200]]",     // begun elsewhere
                              "[[200, 680], [920, 680], [920, 200], [200, 200]]",     // the other way round
                              "[[200, 200], [920, 680], [920, 200], [200, 680]]"}) {  // across
        const auto frame = parsed(replaced(kPlain, "[[200, 200], [920, 200], [920, 680], [200, 680]]", order)).at(0).layout.strips.at(0).frames.at(0);
        check_near(frame.corners, right, 0);
        CHECK(frame.by_hand);
    }
}

TEST_CASE("mistakes in a layout are placed and put right") {
    struct Mistake {
        std::string from, to;
        std::vector<std::string> says;
    };
    const std::string one = "[[200, 200], [920, 200], [920, 680], [200, 680]]";
    const std::vector<Mistake> mistakes = {
        {"number = 1",
         "numbr = 1",
         {"line 8, column 1: unknown key \"numbr\" in frame 1 of strip 1 of sheet 1; did you mean \"number\"?", "line 7, column 1", "has no \"number\""}},
        {"number = 1", "number = \"1\"", {"line 8, column 10", "is text, but must be a number; for example number = 1"}},
        {"number = 1", "number = -1", {"line 8, column 10", "is -1, outside 0 to 9999"}},
        {"number = 1", "number = 1.5", {"line 8, column 10", "must be a whole number"}},
        {"number = 1\n", "number = 1\nkind = \"pictur\"\n", {"line 9, column 8", "is \"pictur\"; write \"picture\", \"blank\" or \"fogged\""}},
        {"number = 2", "number = 1", {"line 10, column 1: strip 1 of sheet 1 has two frames with the number 1"}},
        {one, "[[200, 200], [920, 200], [920, 680]]", {"line 9, column 11", "must be four corners of two numbers each"}},
        {one, "[[200, 200], [920, 200], [920, 680], [200]]", {"line 9, column 11", "must be four corners of two numbers each"}},
        {one, "[[200, 200], [920, 200], [920, 680], [200, \"680\"]]", {"line 9, column 11", "must be four corners of two numbers each"}},
        {one, "[[200, 200], [920, 200], [920, 680], [200, nan]]", {"line 9, column 54", "is nan, outside"}},
        {one, "200", {"line 9, column 11", "is a number, but must be a list"}},
        {one, "[[200, 200], [920, 200], [920, 200], [200, 200]]", {"line 7, column 1: the corners of frame 1 of strip 1 of sheet 1 have a side of 0.00 px"}},
        {one, "[[200, 200], [920, 200], [520, 300], [200, 680]]", {"line 7, column 1", "do not span an area with four corners that all point outwards"}},
        {one, "[[200, 2000], [920, 2000], [920, 2480], [200, 2480]]", {"line 7, column 1", "have their centre at 560, 2240, outside the strip"}},
        {one,
         "[[900, 200], [1620, 200], [1620, 680], [900, 680]]",
         {"line 10, column 1: two frames of strip 1 of sheet 1, number 1 and 2, lie over each other"}},
        {"number = 1\n", "number = 1\ngrow_left_px = -900\n", {"line 7, column 1", "span no area once its edges are moved"}},
        {"number = 1\n", "number = 1\nfound = 3\n", {"line 9, column 9", "is a number, but must be a table"}},
        {"roll = \"R1\"\n", "", {"line 4, column 1: strip 1 of sheet 1 has no \"roll\""}},
        {"roll = \"R1\"\n",
         "roll = \"R1\"\ndirection = \"vertical\"\n",
         {"line 4, column 1: the corners of strip 1 of sheet 1 run across the scan although its direction is \"vertical\""}},
        {"[[100, 100], [1900, 100], [1900, 800], [100, 800]]",
         "[[100, 100], [1900, 800], [1900, 100], [100, 800]]",
         {"line 4, column 1", "cross over: two of them are in the wrong order"}},
        {"corners = [[100, 100], [1900, 100], [1900, 800], [100, 800]]\n", "", {"line 4, column 1: strip 1 of sheet 1 has no \"corners\""}},
        {"file = \"a.tif\"\n", "", {"line 1, column 1: sheet 1 has no \"file\""}},
        {"pixels_per_mm = 20", "pixels_per_mm = 0", {"line 3, column 17", "is 0, outside 1 to 1000 px/mm"}},
        {"pixels_per_mm = 20", "scale_from = \"guess\"", {"line 3, column 14", "\"film width\""}},
        {"[[sheet]]\nfile", "[sheet]\nfile", {"line 1, column 1: \"sheet\" of the layout is a table, but must be a list of tables"}},
        {"[[sheet.strip.frame]]\nnumber = 1",
         "[[sheet.strip.frames]]\nnumber = 1",
         {"line 7, column 15: unknown key \"frames\" in strip 1 of sheet 1; did you mean \"frame\"?"}},
    };
    for (const Mistake& mistake : mistakes) {
        INFO(mistake.to);
        std::string text = replaced(kPlain, mistake.from, mistake.to);
        if (mistake.to == "[sheet]\nfile") text = "[sheet]\nfile = \"a.tif\"\n";
        must_say(parse_layouts(text, kPath), kPath, mistake.says);
    }
    must_say(parse_layouts("[[sheet]]\nfile = \"a\"\n[[sheet]]\nfile = \"a\"\n", kPath), kPath, {"line 4, column 8: sheet \"a\" stands twice"});
    must_say(parse_layouts("sheet = [1]\n", kPath), kPath, {"line 1, column 10", "holds a number, but must hold tables"});
}

TEST_CASE("a strip listed from its far end keeps that order") {
    // Corners begun at the right end below: the strip as read upside down.
    std::string text = replaced(kPlain, "[[100, 100], [1900, 100], [1900, 800], [100, 800]]", "[[1900, 800], [100, 800], [100, 100], [1900, 100]]");
    const auto strip = parsed(text).at(0);
    CHECK(strip.names.at(0).numbers == std::vector<int>{1, 2});
    CHECK(strip.layout.strips.at(0).angle_deg == Approx(0).margin(1e-9));
    check_near(strip.layout.strips.at(0).frames.at(0).corners, {{{920, 680}, {200, 680}, {200, 200}, {920, 200}}}, 0);
}

TEST_CASE("strips that are turned or mirrored read back in their own order, untouched") {
    for (const bool mirrored : {false, true}) {
        NamedLayout sheet = example();
        for (StripBox& strip : sheet.layout.strips) {
            const auto orient = [&](Quad& q) { q = mirrored ? Quad{q[1], q[0], q[3], q[2]} : Quad{q[2], q[3], q[0], q[1]}; };
            orient(strip.corners);
            for (FrameBox& frame : strip.frames) orient(frame.corners);
            std::reverse(strip.frames.begin(), strip.frames.end());
        }
        const std::string text = layout_text({sheet});
        const auto again = parsed(text);
        CHECK(layout_text(again) == text);
        for (const StripBox& strip : again.at(0).layout.strips) {
            for (const FrameBox& frame : strip.frames) CHECK_FALSE(frame.by_hand);
        }
    }
}

TEST_CASE("a layout is read from a file, and its absence is told") {
    const TemporaryFolder folder;
    const std::filesystem::path path = folder.path() / "layout.toml";
    std::ofstream(path) << layout_text({example()});
    const auto read = read_layouts(path.string());
    std::filesystem::remove(path);
    REQUIRE(read);
    CHECK(read->at(0).names == example().names);
    const auto missing = read_layouts(path.string());
    REQUIRE_FALSE(missing);
    CHECK(missing.error().code == ErrorCode::not_found);
}
