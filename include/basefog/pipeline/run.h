// SPDX-License-Identifier: GPL-3.0-or-later
// The whole way: scans in, positives and a report out.
#pragma once

#include "basefog/core/observer.h"
#include "basefog/core/print_choices.h"
#include "basefog/core/result.h"
#include "basefog/density/options.h"
#include "basefog/film/options.h"
#include "basefog/frames/options.h"
#include "basefog/history/types.h"
#include "basefog/invert/options.h"
#include "basefog/ledger/types.h"
#include "basefog/mend/options.h"
#include "basefog/report/types.h"
#include "basefog/residue/options.h"
#include "basefog/scan/options.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog {

struct RunOptions {
    std::vector<std::string> scans;  ///< paths, of files or of folders of them; with a ledger, may be empty (all its sheets) or a choice of them
    std::optional<Ledger> ledger;
    bool join_shots = false;  ///< without a ledger: scans are overlapping shots of strips, each folder of one, and single files all of one
    std::string layout_path;  ///< corrections by hand, or empty
    /// Results of earlier rolls, from `history_path`: what they show of a stock is a prior for its rolls here. May be empty.
    std::vector<HistoryRoll> history;
    std::string history_path;
    PrintChoices print;                        ///< for every frame; over `invert`'s own
    std::vector<RollPrintChoices> roll_print;  ///< from a settings file; over the ledger's
    std::string settings_path;                 ///< where they were read, or empty: never written over
    std::string output_folder = "basefog-results";
    bool positives = true;      ///< false: measure only
    bool write_layout = false;  ///< write layout.toml beside the report
    std::string layout_output;  ///< where, when write_layout
    bool replace = false;       ///< make everything anew, over existing results
    bool update = false;        ///< make anew, over existing results, what its inputs or choices changed for; else results must be the same run's
    bool keep_going = false;    ///< leave out sheets whose results cannot be made, whatever the reason, and go on
    int threads = 0;            ///< 0: all
    std::int64_t memory_bytes = 768LL * 1024 * 1024;
    std::string finished;  ///< ISO 8601 time stamped into the report; given, so that runs can repeat
    std::string command;   ///< "invert" or "measure"

    ScanOptions scan;
    OverviewOptions overview;
    FindOptions find;
    DensityOptions density;
    ResidueOptions residue;
    FilmOptions film;
    MendOptions mend;
    InvertOptions invert;
};
[[nodiscard]] Result<void> validate(const RunOptions& options);

/// The scans that a run would work on together, as they share rolls or stocks; each group's results depend on no other group's.
/// Errors: usage, and those of reading the layout file.
[[nodiscard]] Result<std::vector<std::vector<std::string>>> sheet_groups(const RunOptions& options);

/// Runs everything and writes the results. A scan that fails is recorded in the result and the others go on. Sheets that an earlier run into the
/// same folder finished, with the same inputs and choices, are taken over as they are.
/// Errors: usage, unwritable (the output folder or the report), interrupted.
[[nodiscard]] Result<RunRecord> run(const RunOptions& options, Observer& observer);

}  // namespace basefog
