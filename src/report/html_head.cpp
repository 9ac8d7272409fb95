// SPDX-License-Identifier: GPL-3.0-or-later
// A page's head and scripts, and the policy that ties both to what was built.
#include "report/page.h"
#include "report/text.h"

#include <fmt/format.h>

namespace basefog::report {
namespace {

int digit(char c) { return c <= '9' ? c - '0' : c - 'a' + 10; }

/// 'sha256-...' as a policy names it [CSP3, section 2.3.1].
std::string source_of(const EmbeddedFile& file) {
    std::string bytes;
    for (std::size_t i = 0; i + 1 < file.sha256.size(); i += 2) bytes += static_cast<char>(digit(file.sha256[i]) * 16 + digit(file.sha256[i + 1]));
    return " &#39;sha256-" + base64(bytes) + "&#39;";
}

}  // namespace

std::string page_head(std::string_view title, std::string_view version, const std::vector<const EmbeddedFile*>& styles) {
    std::string style_sources, sheets;
    for (const EmbeddedFile* style : styles) {
        style_sources += source_of(*style);
        sheets += fmt::format("<style>{}</style>\n", style->text);
    }
    // Should a name from outside ever slip through the escaping, it still could not load or run anything. Pictures: the page's own, and
    // the proofs that lie beside it.
    return fmt::format(
        "<head>\n<meta charset=\"utf-8\"/>\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src &#39;none&#39;; "
        "script-src{0}{1}; style-src{2}; style-src-attr &#39;unsafe-inline&#39;; img-src data: &#39;self&#39;; base-uri &#39;none&#39;; "
        "form-action &#39;none&#39;; require-trusted-types-for &#39;script&#39;; trusted-types &#39;none&#39;\"/>\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<meta name=\"color-scheme\" content=\"light dark\"/>\n"
        "<meta name=\"referrer\" content=\"no-referrer\"/>\n<meta name=\"generator\" content=\"basefog {3}\"/>\n<title>{4}</title>\n{5}</head>\n",
        source_of(kCollectionsJs), source_of(kViewerJs), style_sources, escape(version), escape(title), sheets);
}

std::string page_scripts() { return fmt::format("<script>{}</script>\n<script>{}</script>\n", kCollectionsJs.text, kViewerJs.text); }

std::string viewer() {
    return "<div id=\"tray\" class=\"tray\" role=\"region\" aria-label=\"Compare\" hidden=\"hidden\"></div>\n"
           "<dialog id=\"viewer\" class=\"viewer\"></dialog>\n";
}

}  // namespace basefog::report
