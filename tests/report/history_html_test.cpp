// SPDX-License-Identifier: GPL-3.0-or-later
// The page of trends: strict markup, safe names, every point a link, nothing but itself needed.
#include "basefog/report/write_history.h"
#include "report/markup.h"
#include "report/sample_trends.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <set>

using namespace basefog;
constexpr auto sample_trends = [](auto&&... name) { return sample::trends(name...); };

namespace {

int count(const std::vector<markup::Element>& elements, const std::string& tag, const std::string& attribute, const std::string& begins) {
    return static_cast<int>(std::count_if(elements.begin(), elements.end(), [&](const markup::Element& e) {
        const auto found = e.attributes.find(attribute);
        return e.tag == tag && found != e.attributes.end() && found->second.rfind(begins, 0) == 0;
    }));
}

}  // namespace

TEST_CASE("the page of trends is strict markup, with its own scripts only and nothing loaded, whatever names hold") {
    const std::string hostile = "</title><script>alert(1)</script>\" onload=\"x\xff\xe2\x80\xae";
    for (const HistoryTrends& trends : {sample_trends(), sample_trends(hostile), HistoryTrends{}}) {
        const std::string html = history_html(trends, "/pages", "2026-06-01T10:00:00Z");
        std::vector<markup::Element> elements;
        REQUIRE_NOTHROW(elements = markup::read_markup(html));
        CHECK(std::count_if(elements.begin(), elements.end(), [](const markup::Element& e) { return e.tag == "script"; }) == 2);
        for (const markup::Element& e : elements) {
            CHECK(e.attributes.count("onload") == 0);
            CHECK(e.attributes.count("src") == 0);
        }
        CHECK(html.find("\xe2\x80\xae") == std::string::npos);  // turns the reading direction
        CHECK(html.find("default-src &#39;none&#39;") != std::string::npos);
        std::set<std::string> ids;
        for (const markup::Element& e : elements)
            if (const auto id = e.attributes.find("id"); id != e.attributes.end()) CHECK(ids.insert(id->second).second);
        for (const markup::Element& e : elements)
            if (const auto href = e.attributes.find("href"); href != e.attributes.end() && href->second[0] == '#')
                CHECK(ids.count(href->second.substr(1)) == 1);
    }
}

TEST_CASE("every point leads to its roll's report, by a path relative to the page") {
    const auto elements = markup::read_markup(history_html(sample_trends(), "/pages", ""));
    // 12 rolls in 7 lines twice, in 2 habits, in 1 stock, and once each in the list.
    CHECK(count(elements, "a", "class", "dot") == 12 * (2 * kMeasures + 2 + 1));
    CHECK(count(elements, "a", "href", "../results/R0/report.html#roll-1") == 1 * (2 * kMeasures + 3 + 1));
    const auto moved = markup::read_markup(history_html(sample_trends(), "/results", ""));
    CHECK(count(moved, "a", "href", "R0/report.html#roll-1") > 0);
    HistoryTrends unknown = sample_trends();
    for (HistoryRoll& roll : unknown.rolls) roll.report.clear();
    CHECK(count(markup::read_markup(history_html(unknown, "/pages", "")), "a", "class", "dot") == 0);
    const auto odd = markup::read_markup(history_html(sample_trends("javascript:x ?#"), "/pages", ""));
    CHECK(count(odd, "a", "href", "javascript") == 0);
    CHECK(count(odd, "a", "href", "../results/javascript%3Ax%20%3F%230/") > 0);
}

TEST_CASE("colour is never the only mark: layers differ in shape and name, told lines in their stroke, points set aside in theirs") {
    const std::string html = history_html(sample_trends(), "/pages", "");
    CHECK(html.find(">red</text>") != std::string::npos);
    CHECK(html.find(">blue</text>") != std::string::npos);
    CHECK(html.find("trend blue claimed") != std::string::npos);
    CHECK(html.find("dot red aside") != std::string::npos);
    CHECK(html.find("set aside</title>") != std::string::npos);
}

TEST_CASE("the same trends give the same page, and numbers that are none do not break it") {
    CHECK((history_html(sample_trends(), "/p", "t") == history_html(sample_trends(), "/p", "t")));
    HistoryTrends odd = sample_trends();
    odd.baths[0].lines[0].slope = NAN;
    odd.baths[0].lines[2].points[0].y = INFINITY;
    odd.stocks[0].points[0].y = 0;
    const std::string html = history_html(odd, "/p", "");
    CHECK_NOTHROW(markup::read_markup(html));
    for (const char* number : {"\"nan", "\"inf", "Mnan", "Lnan", " nan"}) CHECK(html.find(number) == std::string::npos);
}
