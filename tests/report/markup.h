// SPDX-License-Identifier: GPL-3.0-or-later
// A strict reader of the pages' markup.
#pragma once

#include <algorithm>
#include <map>
#include <regex>
#include <stdexcept>
#include <string>
#include <vector>

namespace basefog::markup {

struct Element {
    std::string tag;
    std::map<std::string, std::string> attributes;
};

/// Reads markup strictly: every element closed in order, every attribute quoted and there once, no bare '&' or '<'.
/// Throws with what is wrong. Scripts' text and the doctype are taken as they stand.
inline std::vector<Element> read_markup(const std::string& html) {
    std::vector<Element> elements;
    std::vector<std::string> open;
    const std::regex reference("&(amp|lt|gt|quot|#[0-9]+);"), tag("<([a-zA-Z0-9]+)((?: [a-zA-Z][a-zA-Z0-9:-]*=\"[^\"<]*\")*)(/?)>"),
        attribute(" ([a-zA-Z][a-zA-Z0-9:-]*)=\"([^\"<]*)\"");
    const auto check_text = [&](const std::string& text) {
        const std::string rest = std::regex_replace(text, reference, "");
        if (rest.find_first_of("&<") != std::string::npos) throw std::runtime_error("bare & or <: " + text.substr(0, 80));
    };
    std::size_t i = 0;
    while (i < html.size()) {
        const std::size_t next = std::min(html.find('<', i), html.size());
        check_text(html.substr(i, next - i));
        if (next == html.size()) break;
        const std::size_t end = html.find('>', next);
        if (end == std::string::npos) throw std::runtime_error("tag not closed");
        const std::string whole = html.substr(next, end - next + 1);
        i = end + 1;
        std::smatch match;
        if (whole == "<!DOCTYPE html>") continue;
        if (whole.rfind("</", 0) == 0) {
            if (open.empty() || whole != "</" + open.back() + ">")
                throw std::runtime_error("out of order: " + whole + " in " + (open.empty() ? "" : open.back()));
            open.pop_back();
            continue;
        }
        // Image data is long; it is checked apart and taken out before matching.
        std::string slim = whole;
        if (const std::size_t data = slim.find(";base64,"); data != std::string::npos) slim.erase(data + 8, slim.find('"', data) - data - 8);
        if (!std::regex_match(slim, match, tag)) throw std::runtime_error("not a tag: " + whole.substr(0, 200));
        Element element{match[1], {}};
        const std::string list = match[2];
        for (std::sregex_iterator a(list.begin(), list.end(), attribute), last; a != last; ++a) {
            check_text((*a)[2]);
            if (!element.attributes.emplace((*a)[1], (*a)[2]).second) throw std::runtime_error("attribute twice: " + whole.substr(0, 200));
        }
        if (match[3].length() == 0) open.push_back(element.tag);
        if (element.tag == "script") i = std::min(html.find("</script", i), html.size());  // raw text [HTML, 13.1.2]
        elements.push_back(std::move(element));
    }
    if (!open.empty()) throw std::runtime_error("never closed: " + open.back());
    return elements;
}

}  // namespace basefog::markup
