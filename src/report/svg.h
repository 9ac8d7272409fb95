// SPDX-License-Identifier: GPL-3.0-or-later
// The few shapes plots are made of.
#pragma once

#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <string_view>

namespace basefog::report::svg {

[[nodiscard]] inline std::string line(double x0, double y0, double x1, double y1, std::string_view css) {
    return fmt::format("<line class=\"{}\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"/>\n", css, svg_number(x0), svg_number(y0), svg_number(x1), svg_number(y1));
}

/// `content` is markup.
[[nodiscard]] inline std::string text(double x, double y, std::string_view css, std::string_view content) {
    return fmt::format("<text class=\"{}\" x=\"{}\" y=\"{}\">{}</text>\n", css, svg_number(x), svg_number(y), content);
}

[[nodiscard]] inline std::string rect(double x0, double y0, double x1, double y1, std::string_view css) {
    return fmt::format("<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", css, svg_number(x0), svg_number(y0),
                       svg_number(std::max(0.0, x1 - x0)), svg_number(std::max(0.0, y1 - y0)));
}

}  // namespace basefog::report::svg
