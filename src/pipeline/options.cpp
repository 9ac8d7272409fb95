// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/pipeline/run.h"

#include "print.h"

namespace basefog {
using pipeline::invert_options_of;
using pipeline::print_of_run;
namespace {
// Chosen: below this not even one frame of a 1200 dpi scan fits beside the decoder.
constexpr std::int64_t kLeastMemory = 64LL * 1024 * 1024;
}  // namespace

Result<void> validate(const RunOptions& options) {
    if (options.memory_bytes < kLeastMemory) return fail(ErrorCode::usage, "--memory is too small", {}, "give at least 64M");
    if (options.output_folder.empty()) return fail(ErrorCode::usage, "--output is empty", {}, "name a folder");
    if (options.threads < 0) return fail(ErrorCode::usage, "--threads is negative", {}, "give 0 for all, or a number");
    if (options.join_shots && options.find.close_up)
        return fail(ErrorCode::usage, "--join and --close-up exclude each other", {}, "shots of single frames are close-ups; shots of a strip are joined");
    if (options.join_shots && options.ledger)
        return fail(ErrorCode::usage, "--join goes without a ledger", {}, "write `join = true` below its [[shots]] instead");
    if (options.write_layout && options.layout_output.empty()) return fail(ErrorCode::usage, "--write-layout needs a file name");
    for (auto valid : {validate(options.scan), validate(options.find), validate(options.density), validate(options.residue), validate(options.film),
                       validate(invert_options_of(options, print_of_run(options)))})
        if (!valid) return valid;
    return {};
}

}  // namespace basefog
