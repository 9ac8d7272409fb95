// SPDX-License-Identifier: GPL-3.0-or-later
// A results folder as a run leaves it, from the reports' invented record.
#pragma once

#include "basefog/report/write_report.h"
#include "report/sample_record.h"
#include "support/temporary_folder.h"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace basefog {

inline void put_file(const std::string& path, const std::string& content) { std::ofstream(path, std::ios::binary) << content; }
inline std::string file_content(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// report.json and one proof.
inline void write_results(const TemporaryFolder& folder, const RunRecord& record = sample::rich()) {
    put_file(folder.file("report.json"), report_json(record));
    std::filesystem::create_directories(folder.file("proofs"));
    put_file(folder.file("proofs/R1-01.jpg"), sample::picture_bytes(1));
}

}  // namespace basefog
