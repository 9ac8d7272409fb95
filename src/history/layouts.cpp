// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/layouts.h"

#include <fmt/format.h>
#include <filesystem>

namespace basefog::history_room {
namespace {

constexpr const char* kLayout1 = R"(
CREATE TABLE result(
 id INTEGER PRIMARY KEY, digest TEXT NOT NULL UNIQUE, set_behind INTEGER NOT NULL DEFAULT 0,
 roll TEXT NOT NULL, sheets TEXT, session TEXT, session_date TEXT, process TEXT, developer_minutes REAL, developer_celsius REAL,
 wash_agent TEXT, wash_grams_per_litre REAL, wash_celsius REAL, wash_soak_minutes REAL, wash_rinses INTEGER,
 bath TEXT, bath_mixed_on TEXT, bath_litres REAL, bath_good_for_rolls INTEGER, rolls_done_before INTEGER, bath_age_days INTEGER,
 stock TEXT, black_and_white INTEGER, box_speed REAL, stock_expiry TEXT, years_past_expiry REAL, rating REAL, tank TEXT, reel INTEGER,
 strips INTEGER, pictures INTEGER, base_red REAL, base_green REAL, base_blue REAL, base_red_std REAL, base_green_std REAL, base_blue_std REAL,
 slope_red REAL, slope_green REAL, slope_blue REAL, slope_red_std REAL, slope_green_std REAL, slope_blue_std REAL,
 residue_area_percent REAL, residue_grade TEXT, veil_density REAL, streaked_share REAL,
 outcome TEXT, rated_over_stops REAL, spare_stops REAL, shadow_lost_percent REAL, exposure_stops REAL,
 finished TEXT, program_version TEXT, report TEXT, report_place INTEGER) STRICT;
CREATE INDEX result_by_roll ON result(roll);
)";

// Speed as measured came later.
constexpr const char* kLayout2 = "ALTER TABLE result ADD COLUMN effective_index REAL;";
// Colour charts came later still.
constexpr const char* kLayout3 = "ALTER TABLE result ADD COLUMN chart_colour TEXT;";

/// "history.sqlite.layout-1-backup", with a number where that exists.
std::string backup_name(const std::string& path, std::int64_t layout) {
    std::string name = fmt::format("{}.layout-{}-backup", path, layout);
    std::error_code ignored;
    for (int i = 2; std::filesystem::exists(name, ignored); ++i) name = fmt::format("{}.layout-{}-backup-{}", path, layout, i);
    return name;
}

}  // namespace

const std::vector<std::string>& layout_steps() {
    static const std::vector<std::string> kSteps{kLayout1, kLayout2, kLayout3};
    return kSteps;
}

Result<void> bring_up_to_date(const Database& database, const std::vector<std::string>& steps, Observer& observer) {
    const auto layout = database.whole_of("PRAGMA user_version");
    if (!layout) return Failure(layout.error());
    const auto newest = static_cast<std::int64_t>(steps.size());
    if (*layout > newest)
        return fail(ErrorCode::unsupported, fmt::format("the history has layout {}; this program knows up to {}", *layout, newest), database.path(),
                    "it was left as it is; use the newer program it was made with");
    if (*layout < 0) return fail(ErrorCode::malformed, "the history's layout has a negative number", database.path(), "it was left as it is; restore a copy");
    if (*layout == newest) return {};
    if (*layout > 0) {
        const std::string backup = backup_name(database.path(), *layout);
        if (auto copied = database.copy_to(backup); !copied) return copied;
        observer.notice(fmt::format("the history is brought up to date; as it was, it is kept in {}", backup));
    }
    auto transaction = Transaction::begin(database);
    if (!transaction) return Failure(std::move(transaction.error()));
    // Read again inside the transaction: another program may have just done the same.
    const auto now = database.whole_of("PRAGMA user_version");
    if (!now) return Failure(now.error());
    for (std::int64_t i = *now; i < newest; ++i)
        if (auto done = database.run(steps[static_cast<std::size_t>(i)]); !done) return done;
    if (auto set = database.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}", kApplicationId, newest)); !set) return set;
    return transaction->commit();
}

Result<void> check_whole(const Database& database) {
    const auto application = database.whole_of("PRAGMA application_id"), layout = database.whole_of("PRAGMA user_version"),
               tables = database.whole_of("SELECT count(*) FROM sqlite_schema");
    for (const auto* read : {&application, &layout, &tables})
        if (!*read) return Failure(read->error());
    const bool empty = *application == 0 && *layout == 0 && *tables == 0;
    if (!empty && *application != kApplicationId)
        return fail(ErrorCode::malformed, "this is another program's database, not a history", database.path(), "it was left as it is; name another file");
    auto check = database.prepare("PRAGMA integrity_check(3)");
    if (!check) return Failure(std::move(check.error()));
    std::string complaints;
    while (check->step())
        if (const std::string line = check->text(0); line != "ok") complaints += (complaints.empty() ? "" : "; ") + line;
    if (check->code() != 0) return database.failure();
    if (!complaints.empty())
        return fail(ErrorCode::malformed, "the history file is damaged: " + complaints, database.path(),
                    "it was left as it is; restore a copy, or add your results to a new file");
    return {};
}

}  // namespace basefog::history_room
