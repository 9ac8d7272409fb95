// SPDX-License-Identifier: GPL-3.0-or-later
// A ledger as read, with the places needed to check what its parts say about each other.
#pragma once

#include "basefog/ledger/types.h"
#include "ledger/fields.h"
#include "ledger/problems.h"

#include <string>
#include <vector>

namespace basefog::ledger_room {

enum class Referred { stock, bath, session, roll };

struct Reference {
    Referred kind = Referred::stock;
    Named id;
    std::string owner;  ///< who refers, for messages
};

/// A name this file gives, for finding it given twice.
struct Given {
    std::string owner;  ///< `roll "R1"`
    Place place;
};

struct Draft {
    Ledger ledger;
    std::vector<Given> given;
    std::vector<Named> includes;  ///< other ledgers, resolved
    std::vector<Reference> references;
    std::vector<Place> session_dates;              ///< as many as ledger.sessions
    std::vector<Place> sheet_files;                ///< as many as ledger.sheets
    std::vector<std::vector<Place>> strip_places;  ///< for each sheet, as many as its strips
};

/// Reads a roll's `frames`: what is noted of single ones.
[[nodiscard]] std::vector<NamedFrame> read_frames(Fields& roll);

/// Reads every [[sheet]]; `root` is the whole text.
void read_sheets(Fields& root, Draft& draft, Problems& problems);
/// Reads every [[shots]]: each of its files becomes a sheet.
void read_shots(Fields& root, Draft& draft, Problems& problems);

/// Reads every [notebook.NAME]: rolls and sessions out of CSV files. An error of a CSV file names that file.
[[nodiscard]] Result<void> read_notebooks(Fields& root, Draft& draft, Problems& problems);

/// References without a target, sessions older than their bath, sheets or strips that stand twice. `all` is what every file together holds.
void cross_check(const Draft& draft, const Ledger& all, Problems& problems);

}  // namespace basefog::ledger_room
