// SPDX-License-Identifier: GPL-3.0-or-later
// The pieces report.json is put together from. Beside any measured number stands, in the same object under "uncertainty"
// and the same key, its standard uncertainty, number of samples and flags.
#pragma once

#include "basefog/report/types.h"

#include <nlohmann/json.hpp>

namespace basefog::report {

using Json = nlohmann::ordered_json;

/// null for what is not finite: NaN and infinity have no place in JSON [RFC8259 section 6]. -0 becomes 0.
[[nodiscard]] Json number(double value);
/// null for an empty string.
[[nodiscard]] Json text_or_null(const std::string& text);
[[nodiscard]] Json triple(const Rgb<double>& values);
[[nodiscard]] Json quad(const Quad& corners);

[[nodiscard]] inline double plain(double value) { return value; }
template <class Tag>
[[nodiscard]] double plain(Quantity<Tag> value) {
    return value.value();
}
template <class T>
[[nodiscard]] Json number_or_null(const std::optional<T>& value) {
    return value ? number(plain(*value)) : Json(nullptr);
}
[[nodiscard]] Json uncertainty_parts(double std_uncertainty, std::int64_t n, MeasureFlag flags);
template <class T>
[[nodiscard]] Json uncertainty(const Measured<T>& m) {
    return uncertainty_parts(plain(m.std_uncertainty), m.n, m.flags);
}

/// Choices of print; `balance`: what it came to, where it is known.
[[nodiscard]] Json print_json(const PrintValues& print, const std::optional<Rgb<LogExposure>>& balance);
[[nodiscard]] Json what_if_json(const std::vector<WhatIf>& what_if);
[[nodiscard]] Json scan_json(const ScanRecord& scan);
[[nodiscard]] Json roll_json(const RunRecord& record, const RollRecord& roll);
[[nodiscard]] Json comparison_json(const StockComparison& comparison);
[[nodiscard]] Json stock_json(const Stock& stock);
[[nodiscard]] Json session_json(const Session& session);
[[nodiscard]] Json bath_json(const Bath& bath);
[[nodiscard]] Json finding_json(const RunRecord& record, const Finding& finding);

}  // namespace basefog::report
