// SPDX-License-Identifier: GPL-3.0-or-later
// Runs the program under test and keeps what it said.
#pragma once

#include "support/small_sheet.h"
#include "support/temporary_folder.h"

#include <sys/wait.h>
#include <fstream>
#include <iterator>
#include <string>

namespace basefog {

struct Ran {
    int code = -1;  ///< exit code; 128 + the signal when it was killed
    std::string out, err;
};

inline std::string content_of(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// `arguments` as typed in a shell, run in `folder` with a plain environment.
inline Ran run_program(const TemporaryFolder& folder, const std::string& arguments, const std::string& before = "") {
    const std::string out = folder.file(".stdout"), err = folder.file(".stderr");
    const std::string line = "cd '" + folder.path().string() + "' && " + before + " '" BASEFOG_PROGRAM "' " + arguments + " >'" + out + "' 2>'" + err + "'";
    const int status = std::system(line.c_str());
    Ran ran;
    ran.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    ran.out = content_of(out);
    ran.err = content_of(err);
    std::filesystem::remove(out);
    std::filesystem::remove(err);
    return ran;
}

/// The sheet every test of the program runs on; drawn once.
inline const std::string& shared_sheet_path() {
    static const TemporaryFolder folder;
    static const std::string path = [] {
        const std::string file = folder.file("sheet.tif");
        synthetic::write_small_sheet(file, synthetic::small_sheet());
        return file;
    }();
    return path;
}

/// Validates a report against docs/report.schema.json; returns the complaints, empty when it is valid.
std::string schema_complaints(const std::string& report_path);

}  // namespace basefog
