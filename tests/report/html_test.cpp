// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/report/write_report.h"
#include "report/markup.h"
#include "report/sample_record.h"
#include "support/temporary_folder.h"

#include <openssl/evp.h>
#include <openssl/sha.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <memory>
#include <regex>
#include <set>

using namespace basefog;
using markup::Element, markup::read_markup;

namespace {

std::vector<std::pair<std::string, RunRecord>> all_records() {
    return {{"rich", sample::rich()},           {"empty", sample::empty()},     {"failed", sample::failed_only()},   {"silver", sample::black_and_white()},
            {"no ledger", sample::no_ledger()}, {"hostile", sample::hostile()}, {"not finite", sample::not_finite()}};
}

/// A slow decoder of its own, by the alphabet of RFC 4648.
std::string decode_base64(const std::string& text) {
    const std::string alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string bytes;
    int bits = 0, have = 0;
    for (const char c : text) {
        if (c == '=') break;
        bits = (bits << 6) | static_cast<int>(alphabet.find(c));
        if ((have += 6) >= 8) bytes += static_cast<char>((bits >> (have -= 8)) & 0xff);
    }
    return bytes;
}

/// [WCAG2.1, "relative luminance" and "contrast ratio"], for "#rrggbb".
double luminance(const std::string& hex) {
    const auto channel = [&](std::size_t at) {
        const double v = std::stoi(hex.substr(at, 2), nullptr, 16) / 255.0;
        return v <= 0.03928 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}
double contrast(const std::string& a, const std::string& b) {
    const double la = luminance(a), lb = luminance(b);
    return (std::max(la, lb) + 0.05) / (std::min(la, lb) + 0.05);
}

}  // namespace

TEST_CASE("the test's own markup reader refuses what is broken") {
    CHECK_THROWS(read_markup("<p><b>x</p></b>"));
    CHECK_THROWS(read_markup("<p>a & b</p>"));
    CHECK_THROWS(read_markup("<p class=x>a</p>"));
    CHECK_THROWS(read_markup("<p id=\"a\" id=\"b\">a</p>"));
    CHECK_THROWS(read_markup("<p>"));
    CHECK_NOTHROW(read_markup("<!DOCTYPE html>\n<p id=\"a\">a &amp; b<br/></p>"));
}

TEST_CASE("every page is well-formed markup") {
    for (const auto& [name, record] : all_records()) {
        INFO(name);
        CHECK_NOTHROW(read_markup(report_html(record)));
    }
}

TEST_CASE("every page is one file that loads nothing and runs its own two scripts") {
    const std::set<std::string> allowed{"html",    "head",  "meta",    "title",  "style",  "body",    "a",       "header",   "p",       "h1",    "time",
                                        "nav",     "main",  "section", "h2",     "div",    "article", "h3",      "h4",       "span",    "i",     "strong",
                                        "em",      "dl",    "dt",      "dd",     "aside",  "ul",      "li",      "table",    "caption", "thead", "tbody",
                                        "tr",      "th",    "td",      "abbr",   "bdi",    "code",    "details", "summary",  "figure",  "svg",   "defs",
                                        "pattern", "rect",  "path",    "line",   "text",   "tspan",   "g",       "polyline", "polygon", "image", "img",
                                        "input",   "label", "use",     "circle", "script", "dialog",  "button",  "select",   "option",  "output"};
    for (const auto& [name, record] : all_records()) {
        INFO(name);
        const std::string html = report_html(record);
        for (const Element& element : read_markup(html)) {
            INFO(element.tag);
            CHECK(allowed.count(element.tag) == 1);
            for (const auto& [attribute, value] : element.attributes) {
                INFO(attribute << "=" << value);
                CHECK(attribute.rfind("on", 0) != 0);
                if (element.tag == "use" && attribute == "href") CHECK(value[0] == '#');
                if (attribute == "src" || (element.tag == "image" && attribute == "href")) CHECK(value.rfind("data:image/", 0) == 0);
                if (element.tag == "a" && attribute == "href") CHECK((value[0] == '#' || (value.find(':') == std::string::npos && value[0] != '/')));
            }
        }
        CHECK(html.find("http:") == std::string::npos);
        CHECK(html.find("https:") == std::string::npos);
        CHECK(html.find("innerHTML") == std::string::npos);
        CHECK(html.find("@import") == std::string::npos);
        CHECK(html.find("default-src &#39;none&#39;; script-src &#39;sha256-") != std::string::npos);
        CHECK(html.find("img-src data: &#39;self&#39;;") != std::string::npos);
        CHECK(html.find("script-src &#39;unsafe") == std::string::npos);
        const std::regex address("url\\(([^)]*)\\)");
        for (std::sregex_iterator a(html.begin(), html.end(), address), last; a != last; ++a) CHECK((*a)[1].str()[0] == '#');
    }
}

namespace {

/// What stands between <tag> and </tag>, each time.
std::vector<std::string> contents_of(const std::string& html, const std::string& tag) {
    std::vector<std::string> found;
    for (std::size_t at = html.find("<" + tag + ">"); at != std::string::npos; at = html.find("<" + tag + ">", at + 1)) {
        const std::size_t from = at + tag.size() + 2;
        found.push_back(html.substr(from, html.find("</" + tag + ">", from) - from));
    }
    return found;
}

}  // namespace

TEST_CASE("the page's policy names its styles and scripts by their digests, as another program computes them [CSP3]") {
    const std::string html = report_html(sample::rich());
    const std::vector<std::string> scripts = contents_of(html, "script"), styles = contents_of(html, "style");
    CHECK(scripts.size() == 2);
    CHECK(styles.size() == 1);
    for (const auto& list : {scripts, styles})
        for (const std::string& text : list) {
            std::array<unsigned char, SHA256_DIGEST_LENGTH> digest{};
            SHA256(reinterpret_cast<const unsigned char*>(text.data()), text.size(), digest.data());
            std::array<unsigned char, 45> encoded{};
            EVP_EncodeBlock(encoded.data(), digest.data(), static_cast<int>(digest.size()));
            CHECK(html.find("&#39;sha256-" + std::string(reinterpret_cast<const char*>(encoded.data())) + "&#39;") != std::string::npos);
        }
}

TEST_CASE("a histogram's lines hold the counts") {
    RunRecord record = sample::rich();
    FrameRecord& frame = record.scans[0].strips[0].frames[0];
    // Bins begin at -0.16 and are 0.04 wide: 0.50 lies in bin 16, whose middle is 0.50.
    frame.histogram.counts.r[16] = 30;
    frame.histogram.counts.g[16] = 60;
    frame.histogram.counts.b[16] = 15;
    frame.histogram.spots = 120;
    const std::string html = report_html(record);
    const std::size_t card = html.find("<article class=\"frame-card\" id=\"frame-1-1-1\"");
    const std::size_t from = html.find("<svg class=\"histogram\"", card);
    REQUIRE(from < html.find("</article>", card));
    const std::string svg = html.substr(from, html.find("</svg>", from) - from);
    CHECK(svg.find(">50%</text>") != std::string::npos);  // the tallest: 60 of 120
    const auto peak = [&](const std::string& css) {
        std::smatch match;
        REQUIRE(std::regex_search(svg, match, std::regex("<polyline class=\"curve " + css + "\" points=\"[-0-9.]+,[-0-9.]+ ([-0-9.]+),([-0-9.]+) ")));
        return std::pair(std::stod(match[1]), std::stod(match[2]));
    };
    const auto label = [&](const std::string& css, const std::string& words) {
        std::smatch match;
        REQUIRE(std::regex_search(svg, match, std::regex("<text class=\"tick " + css + "\" x=\"([-0-9.]+)\" y=\"([-0-9.]+)\">" + words + "</text>")));
        return std::pair(std::stod(match[1]), std::stod(match[2]) - 4);
    };
    const double at_half = label("tx", "0\\.5").first, top = label("ty", "50%").second, bottom = label("ty", "0%").second;
    constexpr double kDrawn = 0.06;  // positions are written to a tenth
    CHECK(peak("green").first == Approx(at_half).margin(kDrawn));
    CHECK(peak("green").second == Approx(top).margin(kDrawn));
    CHECK(peak("red").second == Approx((top + bottom) / 2).margin(kDrawn));
    CHECK(peak("blue").second == Approx(bottom + (top - bottom) / 4).margin(kDrawn));
    CHECK(html.find("<svg class=\"histogram\"", from + 1) == std::string::npos);  // frames without a spread have none
}

TEST_CASE("hostile names stay text") {
    const std::string html = report_html(sample::hostile());
    CHECK(contents_of(html, "script") == contents_of(report_html(sample::rich()), "script"));
    std::size_t scripts = 0;
    for (std::size_t at = html.find("<script"); at != std::string::npos; at = html.find("<script", at + 1)) ++scripts;
    CHECK(scripts == 2);
    CHECK(html.find("&lt;script&gt;alert(1)&lt;/script&gt;") != std::string::npos);
    CHECK(html.find("javascript:") == std::string::npos);
    CHECK(html.find('\x01') == std::string::npos);
    CHECK(html.find("\xe2\x80\xae") == std::string::npos);  // U+202E
    CHECK(html.find('\xff') == std::string::npos);
    CHECK(html.find("<!--") == std::string::npos);
    for (const std::string& script : contents_of(html, "script")) CHECK(script.find("<!--") == std::string::npos);
}

TEST_CASE("ids are unique and every link within the page arrives") {
    for (const auto& [name, record] : all_records()) {
        INFO(name);
        const auto elements = read_markup(report_html(record));
        std::set<std::string> ids;
        for (const Element& e : elements)
            if (e.attributes.count("id")) CHECK(ids.insert(e.attributes.at("id")).second);
        for (const Element& e : elements)
            for (const char* attribute : {"href", "for", "aria-labelledby"})
                if (e.attributes.count(attribute)) {
                    std::string target = e.attributes.at(attribute);
                    if (std::string(attribute) == "href" && target[0] != '#') continue;
                    if (target[0] == '#') target.erase(0, 1);
                    INFO(target);
                    CHECK(ids.count(target) == 1);
                }
    }
}

TEST_CASE("pictures have words, table heads have a scope, the page has a language and one first heading") {
    int first_headings = 0;
    for (const Element& e : read_markup(report_html(sample::rich()))) {
        if (e.tag == "html") CHECK(e.attributes.at("lang") == "en");
        if (e.tag == "img") CHECK_FALSE(e.attributes.at("alt").empty());
        if (e.tag == "th") CHECK(e.attributes.count("scope") == 1);
        if (e.tag == "svg" && e.attributes.count("role")) CHECK_FALSE(e.attributes.at("aria-label").empty());
        first_headings += e.tag == "h1" ? 1 : 0;
    }
    CHECK(first_headings == 1);
}

TEST_CASE("what matters most comes first") {
    const std::string html = report_html(sample::rich());
    std::size_t last = 0;
    for (const char* id : {"failures", "verdicts", "rolls", "film", "sheets", "frames", "findings", "sessions", "settings"}) {
        const std::size_t at = html.find(std::string("<section id=\"") + id + "\"");
        INFO(id);
        REQUIRE(at != std::string::npos);
        CHECK(at > last);
        last = at;
    }
    CHECK(html.find("the file ends after row 1,204 of 9,448") < html.find("<section id=\"verdicts\""));
    CHECK(html.find("residue-heavy", html.find("<section id=\"findings\"")) < html.find("bath-tired", html.find("<section id=\"findings\"")));
}

TEST_CASE("numbers stand with their uncertainty, and every frame leads to its session") {
    const std::string html = report_html(sample::rich());
    const auto card = [&](const char* id) {
        const std::size_t at = html.find(std::string("<article class=\"frame-card\" id=\"") + id);
        REQUIRE(at != std::string::npos);
        return html.substr(at, html.find("</article>", at) - at);
    };
    // Roll R2's frame 4 by sample_record.h: offset 1.6 + 0.9 sin(6.8) = 2.0447.
    const std::string frame = card("frame-1-3-4");
    CHECK(frame.find("+2.04 \xc2\xb1 0.08 stop") != std::string::npos);
    CHECK(frame.find("href=\"#session-1\"") != std::string::npos);
    CHECK(frame.find("href=\"positives/R2-04.tif\"") != std::string::npos);
    CHECK(frame.find("reel 2") != std::string::npos);
    CHECK(card("frame-1-2-6").find("Shadows lost") == std::string::npos);  // blank
    CHECK(card("frame-1-4-3").find("edge-uncertain") != std::string::npos);
    CHECK(report_html(sample::no_ledger()).find("Nothing was told about development") != std::string::npos);
}

TEST_CASE("cautions stand wherever washing again is advised, and only there") {
    const std::string html = report_html(sample::rich());
    for (const char* word : {"gloves", "eye protection", "ventilated", "Never mix chemicals", "safety data sheet", "carbon sludge", "local rules"})
        CHECK(html.find(word) != std::string::npos);
    CHECK(report_html(sample::black_and_white()).find("id=\"cautions\"") == std::string::npos);
}

TEST_CASE("pictures are carried whole") {
    const RunRecord record = sample::rich();
    const std::string html = report_html(record);
    std::set<std::string> carried;
    const std::regex data("data:image/(?:jpeg|png);base64,([A-Za-z0-9+/=]*)\"");
    for (std::sregex_iterator a(html.begin(), html.end(), data), last; a != last; ++a) carried.insert(decode_base64((*a)[1]));
    for (const ScanRecord& scan : record.scans) {
        if (scan.failure) continue;
        CHECK(carried.count(scan.overview_jpeg.read().value()) == 1);
        CHECK(carried.count(scan.residue_png.read().value()) == 1);
        for (const StripRecord& strip : scan.strips)
            for (const FrameRecord& frame : strip.frames)
                if (!frame.thumbnail_jpeg.empty()) CHECK(carried.count(frame.thumbnail_jpeg.read().value()) == 1);
    }
}

TEST_CASE("every text colour keeps the contrast WCAG 2.1 asks for (1.4.3, 4.5 to 1), by day, by night and in print") {
    const std::string html = report_html(sample::empty());
    const std::regex block(
        "--paper:(#[0-9a-f]{6});--card:(#[0-9a-f]{6});--ink:(#[0-9a-f]{6});--dim:(#[0-9a-f]{6});--rule:#[0-9a-f]{6};--accent:(#[0-9a-f]{6});--warn:(#[0-9a-f]{"
        "6});"
        "--good:#[0-9a-f]{6};\\s*--red:(#[0-9a-f]{6});--green:(#[0-9a-f]{6});--blue:(#[0-9a-f]{6});--shade:(#[0-9a-f]{6})");
    int blocks = 0;
    for (std::sregex_iterator b(html.begin(), html.end(), block), last; b != last; ++b, ++blocks)
        for (std::size_t ground : {1, 2})
            for (std::size_t text : {3, 4, 5, 6, 7, 8, 9}) {
                INFO((*b)[text] << " on " << (*b)[ground]);
                CHECK(contrast((*b)[text], (*b)[ground]) >= 4.5);
            }
    CHECK(blocks == 3);
    CHECK(contrast("#ffffff", "#000000") == Approx(21.0));  // the definition's own extreme
}

TEST_CASE("a roll shows what other exposures would have lost over all its pictures") {
    RunRecord record = sample::rich();
    const std::string html = report_html(record);
    CHECK(html.find("Had the roll been exposed differently") != std::string::npos);
    CHECK(html.find("percent, had the roll had ") != std::string::npos);
    for (RollRecord& roll : record.rolls) roll.film.verdict.what_if.clear();
    CHECK(report_html(record).find("Had the roll been exposed differently") == std::string::npos);
}

TEST_CASE("a roll graded by its veil says so, and film still in date is not called late") {
    RunRecord record = sample::rich();
    record.rolls[0].facts.years_past_expiry = -1.5;
    const std::string html = report_html(record);
    CHECK(html.find("<strong>partial</strong>, 6.3 % of the film, veil 0.012") != std::string::npos);
    CHECK(html.find("<strong>trace</strong>, 0.3 % of the film</p>") != std::string::npos);  // its veil of 0.001 says nothing
    CHECK(html.find("<dt>Date on the box</dt><dd>not reached</dd>") != std::string::npos);
    CHECK(html.find("<dd>17 years past") != std::string::npos);
}

TEST_CASE("pictures put aside are carried as those in memory are, and the page comes piece by piece") {
    const std::string whole = report_html(sample::rich());
    const TemporaryFolder folder;
    const auto scratch = std::make_shared<Scratch>(folder.path().string(), 0, "pictures", silent_observer());
    RunRecord record = sample::rich();
    for (ScanRecord& scan : record.scans) {
        REQUIRE(scan.overview_jpeg.put_aside(scratch));
        REQUIRE(scan.residue_png.put_aside(scratch));
        for (StripRecord& strip : scan.strips)
            for (FrameRecord& frame : strip.frames) REQUIRE(frame.thumbnail_jpeg.put_aside(scratch));
    }
    std::string pieces;
    std::size_t longest = 0;
    REQUIRE(report_html(record, [&](std::string_view piece) -> Result<void> {
        pieces += piece;
        longest = std::max(longest, piece.size());
        return {};
    }));
    CHECK(pieces == whole);
    CHECK(longest < whole.size() / 2);

    // A failure to write ends the page, and is handed on.
    std::size_t calls = 0;
    const auto failed = report_html(record, [&](std::string_view) -> Result<void> {
        ++calls;
        return fail(ErrorCode::unwritable, "the disk is full");
    });
    CHECK(calls == 1);
    REQUIRE_FALSE(failed);
    CHECK(failed.error().code == ErrorCode::unwritable);
}
