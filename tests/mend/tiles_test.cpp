// SPDX-License-Identifier: GPL-3.0-or-later
// Large pictures are mended tile by tile: bodies and holes cross the tiles' borders, and nothing depends on memory or on the order of tiles.
#include "basefog/mend/mend.h"

#include "mend/fill.h"
#include "mend/runs.h"
#include "mend/wide.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>
#include <set>

using namespace basefog;
using namespace basefog::mending;

namespace {

cv::Mat blobs(int width, int height, unsigned seed, int count, int largest) {
    std::mt19937 random(seed);
    cv::Mat mask = cv::Mat::zeros(height, width, CV_8U);
    for (int i = 0; i < count; ++i) {
        const cv::Point at(static_cast<int>(random() % static_cast<unsigned>(width)), static_cast<int>(random() % static_cast<unsigned>(height)));
        const cv::Size size(1 + static_cast<int>(random() % static_cast<unsigned>(largest)), 1 + static_cast<int>(random() % static_cast<unsigned>(largest)));
        cv::ellipse(mask, at, size, static_cast<double>(random() % 180), 0, 360, cv::Scalar(255), -1);
    }
    return mask;
}

Runs runs_by_tiles(const cv::Mat& mask) {
    const Tiles tiles{mask.cols, mask.rows};
    std::vector<std::vector<Run>> parts;
    for (int i = tiles.count() - 1; i >= 0; --i) parts.push_back(runs_of(mask(tiles.tile(i)), {}, tiles.tile(i).tl()));
    return {mask.rows, parts};
}

cv::Mat drawn(const Runs& runs, cv::Size size) {
    cv::Mat mask = cv::Mat::zeros(size, CV_8U);
    runs.draw({0, 0, size.width, size.height}, mask);
    return mask;
}

bool same(const cv::Mat& a, const cv::Mat& b) { return a.size() == b.size() && cv::countNonZero(a != b) == 0; }

/// Film of 1300 x 700 pixels, so six tiles, with a long scratch, specks, a smear, and infrared beside the colours.
struct Film {
    PxRect rect{40, 30, 1340, 730};
    Image<LinearRgbi> pixels{1300, 700};
    MendFacts facts;

    Film() {
        std::mt19937 random(3);
        const cv::Mat specks = blobs(1300, 700, 5, 60, 7);
        for (std::int64_t y = 0; y < 700; ++y)
            for (std::int64_t x = 0; x < 1300; ++x) {
                const auto px = static_cast<double>(x), py = static_cast<double>(y);
                const bool scratch = std::abs(py - 300 - px / 9) < 2;
                const double smear = 0.4 * std::exp(-std::pow((px - 520) / 60, 2) - std::pow((py - 500) / 40, 2));
                const double pass = (scratch ? 0.3 : 1.0) * (specks.at<uchar>(static_cast<int>(y), static_cast<int>(x)) ? 0.15 : 1.0) * std::pow(10.0, -smear);
                const double grain = 1 + 0.02 * (static_cast<double>(random()) / 4294967295.0 - 0.5);
                const auto light = static_cast<float>((0.2 + 0.1 * std::sin(px / 40)) * grain * pass);
                pixels(x, y) = {light, light * 0.7F, light * 0.3F, static_cast<float>(0.9 * pass)};
            }
        facts.light.coefficient[3][0] = std::log(0.9);
        facts.light.scan_width = facts.light.scan_height = 2000;
        facts.infrared = InfraredModel{};
        facts.infrared->match.places = 50;
        facts.infrared->match.shift_x = 0.4;
        facts.infrared->match.focus = 0.3;
        facts.scale = PixelsPerMm(47);
        facts.residue_left = true;
    }
};

/// Backwards, to be as unlike the usual order as can be.
ForEach backwards() {
    ForEach for_each;
    for_each.at_once = 3;
    for_each.run = [](std::int64_t n, std::int64_t, const std::function<void(std::int64_t)>& work) {
        for (std::int64_t i = n - 1; i >= 0; --i) work(i);
    };
    return for_each;
}

}  // namespace

TEST_CASE("runs found tile by tile are the mask, whole, and its bodies are those of connected components") {
    for (unsigned seed = 1; seed <= 6; ++seed) {
        const cv::Mat mask = blobs(1100, 600, seed, 400, 12);
        const Runs runs = runs_by_tiles(mask);
        CHECK(same(drawn(runs, mask.size()), mask));
        CHECK(runs.pixels() == cv::countNonZero(mask));
        const cv::Rect part(500, 100, 40, 450);
        cv::Mat some = cv::Mat::zeros(part.size(), CV_8U);
        runs.draw(part, some);
        CHECK(same(some, mask(part)));
        CHECK(runs.touches(part) == (cv::countNonZero(mask(part)) > 0));
        int count = 0;
        const std::vector<int> body = runs.bodies(count);
        cv::Mat labels;
        REQUIRE(count == cv::connectedComponents(mask, labels, 8, CV_32S) - 1);
        std::set<std::pair<int, int>> pairs;  // as many as bodies only if the two numberings agree
        for (std::size_t i = 0; i < body.size(); ++i) pairs.insert({body[i], labels.at<int>(runs.all()[i].y, runs.all()[i].x0)});
        CHECK(pairs.size() == static_cast<std::size_t>(count));
    }
}

TEST_CASE("what is too wide to fill is told across tiles as in the whole picture") {
    constexpr double kScale = 47, kRadius = 0.5 * kScale;
    Scratch scratch({}, 1 << 20, {}, silent_observer());
    for (unsigned seed = 1; seed <= 4; ++seed) {
        const cv::Mat mask = blobs(1100, 800, seed, 40, 60);
        // The obvious way, on the whole picture.
        cv::Mat framed, depth, away;
        cv::copyMakeBorder(mask, framed, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
        cv::distanceTransform(framed, depth, cv::DIST_L2, 3);
        const cv::Mat core = depth(cv::Rect(1, 1, mask.cols, mask.rows)) > kRadius;
        REQUIRE(cv::countNonZero(core) > 0);
        cv::distanceTransform(~core, away, cv::DIST_L2, 3);
        const cv::Mat narrow = mask & (away > kRadius + 1);
        const auto told = spare_wide(runs_by_tiles(mask), {mask.cols, mask.rows}, kScale, Wide::its_middle, {scratch, backwards()});
        REQUIRE(told);
        CHECK(same(drawn(told->hole, mask.size()), narrow));
        CHECK(told->beyond == cv::countNonZero(mask) - cv::countNonZero(narrow));
        cv::Mat labels, kept = mask.clone();
        std::set<int> wide;
        cv::connectedComponents(mask, labels, 8, CV_32S);
        for (int y = 0; y < mask.rows; ++y)
            for (int x = 0; x < mask.cols; ++x)
                if (core.at<uchar>(y, x)) wide.insert(labels.at<int>(y, x));
        for (int y = 0; y < mask.rows; ++y)
            for (int x = 0; x < mask.cols; ++x)
                if (wide.contains(labels.at<int>(y, x))) kept.at<uchar>(y, x) = 0;
        const auto whole = spare_wide(runs_by_tiles(mask), {mask.cols, mask.rows}, kScale, Wide::all_of_it, {scratch, backwards()});
        REQUIRE(whole);
        CHECK(same(drawn(whole->hole, mask.size()), kept));
    }
}

TEST_CASE("a large picture is mended to the same bytes in memory and on disk, in any order of tiles, read by any parts") {
    const TemporaryFolder folder;
    const Film film;
    const ViewSource source(film.rect, film.pixels.view());
    const cv::Mat map_mat = blobs(130, 70, 9, 20, 2);
    Image<Defect> map(134, 73);
    for (std::int64_t y = 0; y < 70; ++y)
        for (std::int64_t x = 0; x < 130; ++x)
            if (map_mat.at<uchar>(static_cast<int>(y), static_cast<int>(x))) map(x + 4, y + 3) = Defect::dust;
    for (const bool infrared : {true, false}) {
        INFO("infrared " << infrared);
        MendFacts facts = film.facts;
        if (!infrared) facts.infrared.reset();
        Image<LinearRgbi> first(1300, 700);
        for (std::int64_t y = 0; y < 700; ++y) std::copy_n(film.pixels.row(y), 1300, first.row(y));
        const Mending at_once = mend(first.view(), film.rect, {map.view(), 10}, facts, {});
        REQUIRE(at_once.filled > 100);
        if (infrared) REQUIRE(at_once.divided > 1000);
        Scratch scratch(folder.path().string(), 0, "film", silent_observer());
        const auto mended = mend(source, {map.view(), 10}, facts, {}, {scratch, backwards(), 1});
        REQUIRE(mended);
        CHECK(mended->counts().divided == at_once.divided);
        CHECK(mended->counts().filled == at_once.filled);
        CHECK(mended->counts().places == at_once.places);
        CHECK(mended->counts().beyond == at_once.beyond);
        std::int64_t wrong = 0, unmarked = 0;
        for (const PxRect part : {PxRect{40, 30, 600, 400}, PxRect{600, 30, 1340, 400}, PxRect{40, 400, 1340, 730}}) {
            Image<LinearRgbi> got(part.width(), part.height());
            Image<Mended> marks(part.width(), part.height());
            REQUIRE(mended->read(part, got.view()));
            REQUIRE(mended->marks(part, marks.view()));
            for (std::int64_t y = part.y0; y < part.y1; ++y)
                for (std::int64_t x = part.x0; x < part.x1; ++x) {
                    const LinearRgbi &a = got(x - part.x0, y - part.y0), &b = first(x - 40, y - 30), &raw = film.pixels(x - 40, y - 30);
                    const Mended mark = marks(x - part.x0, y - part.y0);
                    wrong += std::memcmp(&a, &b, sizeof a) != 0 || mark != at_once.mask(x - 40, y - 30);
                    unmarked += mark == Mended::untouched && std::memcmp(&a, &raw, sizeof a) != 0;
                }
        }
        CHECK(wrong == 0);
        CHECK(unmarked == 0);
    }
}
