// SPDX-License-Identifier: GPL-3.0-or-later
// Layouts as report.json has them and as the page sends them. Everything that comes in is judged.
#pragma once

#include "basefog/review/types.h"
#include "review/desk.h"

#include <cmath>
#include <stdexcept>

namespace basefog::review {

/// Throws nlohmann::json::exception or std::invalid_argument where the value is not of its kind; `guarded` turns that into an Error.
template <class J>
Quad quad_of(const J& json) {
    Quad quad{};
    for (std::size_t i = 0; i < quad.size(); ++i) quad[i] = {json.at(i).at(0).template get<double>(), json.at(i).at(1).template get<double>()};
    for (const PointPx& p : quad)
        if (!std::isfinite(p.x) || !std::isfinite(p.y)) throw std::invalid_argument("a corner is no number");
    return quad;
}
template <class Read>
auto guarded(const std::string& path, Read read) -> Result<decltype(read())> {
    try {
        return read();
    } catch (const std::exception& e) {  // nlohmann's own, and ours
        return fail(ErrorCode::malformed, std::string("is no such file as this program writes: ") + e.what(), path);
    }
}

/// Errors: malformed.
[[nodiscard]] Result<std::vector<SheetOnDesk>> sheets_of_report(const std::string& report_json, const std::string& path);
[[nodiscard]] Result<ReviewedRun> run_of_report(const std::string& report_json, const std::string& path);

[[nodiscard]] nlohmann::ordered_json sheet_json(const SheetOnDesk& sheet);
/// Errors: malformed.
[[nodiscard]] Result<std::vector<NamedLayout>> layouts_of_json(const nlohmann::json& sheets);

/// To the hundredth of a pixel, which is as fine as a layout file goes.
[[nodiscard]] bool same_place(const Quad& a, const Quad& b);
/// In everything a page may change of a sheet.
[[nodiscard]] bool same_layout(const NamedLayout& a, const NamedLayout& b);

}  // namespace basefog::review
