// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/history/history_file.h"

#include "history/columns.h"
#include "history/database.h"
#include "history/layouts.h"

#include <fmt/format.h>
#include <cmath>
#include <filesystem>

namespace basefog {

using namespace history_room;
namespace fs = std::filesystem;

struct HistoryFile::Connection {
    Database database;
};

HistoryFile::HistoryFile(std::unique_ptr<Connection> connection) : connection_(std::move(connection)) {}
HistoryFile::HistoryFile(HistoryFile&&) noexcept = default;
HistoryFile& HistoryFile::operator=(HistoryFile&&) noexcept = default;
HistoryFile::~HistoryFile() = default;

namespace {

Result<void> make_folder_for(const std::string& path) {
    const fs::path folder = fs::path(path).parent_path();
    std::error_code trouble;
    if (!folder.empty()) fs::create_directories(folder, trouble);
    if (trouble) return fail(ErrorCode::unwritable, "the folder for the history cannot be made: " + trouble.message(), folder.string());
    return {};
}

/// A file without any byte was begun and left; but one whose log holds something has lost its body.
Result<void> check_not_emptied(const std::string& path) {
    std::error_code ignored;
    if (!fs::is_regular_file(path, ignored) || fs::file_size(path, ignored) != 0) return {};
    const auto log = fs::file_size(path + "-wal", ignored);
    if (!ignored && log > 0) return fail(ErrorCode::malformed, "the history file is empty though its log is not", path, "it was left as it is; restore a copy");
    return {};
}

Result<Database> open_database(const std::string& path, HistoryAccess access) {
    std::error_code ignored;
    const fs::file_status status = fs::status(path, ignored);
    if (status.type() == fs::file_type::directory) return fail(ErrorCode::unreadable, "this is a folder, not a history file", path);
    if (status.type() == fs::file_type::not_found && access == HistoryAccess::read)
        return fail(ErrorCode::not_found, "there is no history yet", path, "begin one with: basefog history add RESULTS");
    if (access == HistoryAccess::write)
        if (auto made = make_folder_for(path); !made) return Failure(std::move(made.error()));
    if (auto fit = check_not_emptied(path); !fit) return Failure(std::move(fit.error()));
    // Reading a log needs to write beside it; where that is not allowed, plain reading may still do.
    auto database = Database::open(path, true, access == HistoryAccess::write);
    if (!database && access == HistoryAccess::read) database = Database::open(path, false, false);
    return database;
}

}  // namespace

Result<HistoryFile> HistoryFile::open(const std::string& path, HistoryAccess access, Observer& observer) {
    auto database = open_database(path, access);
    if (!database) return Failure(std::move(database.error()));
    if (auto whole = check_whole(*database); !whole) return Failure(std::move(whole.error()));
    const auto layout = database->whole_of("PRAGMA user_version");
    if (!layout) return Failure(layout.error());
    const auto newest = static_cast<std::int64_t>(layout_steps().size());
    // Whoever only reads changes no old file, but cannot read one either: its columns are fewer.
    if (*layout != 0 || access == HistoryAccess::write)
        if (auto current = bring_up_to_date(*database, layout_steps(), observer); !current) return Failure(std::move(current.error()));
    if (*layout == 0 && access == HistoryAccess::read && newest > 0)
        return fail(ErrorCode::not_found, "the history is empty", path, "begin it with: basefog history add RESULTS");
    if (access == HistoryAccess::write)
        if (auto log = database->run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL"); !log) return Failure(std::move(log.error()));
    return HistoryFile(std::make_unique<Connection>(Connection{std::move(*database)}));
}

namespace {

struct Bind {
    Statement& statement;
    int place;
    const HistoryRoll& roll;
    void text(const std::string& value) const { value.empty() ? statement.bind_null(place) : statement.bind(place, value); }
    void operator()(Member<std::string> m) const { text(roll.*m); }
    void operator()(Member<std::vector<std::string>> m) const { text(joined(roll.*m)); }
    void operator()(Member<std::optional<Date>> m) const { text(roll.*m ? to_string(*(roll.*m)) : std::string()); }
    void operator()(Member<std::optional<double>> m) const { roll.*m ? statement.bind(place, *(roll.*m)) : statement.bind_null(place); }
    void operator()(Member<std::optional<int>> m) const { roll.*m ? statement.bind(place, static_cast<std::int64_t>(*(roll.*m))) : statement.bind_null(place); }
    void operator()(Member<bool> m) const { statement.bind(place, static_cast<std::int64_t>(roll.*m)); }
};

struct Fetch {
    const Statement& statement;
    int column;
    HistoryRoll& roll;
    void operator()(Member<std::string> m) const { roll.*m = statement.text(column); }
    void operator()(Member<std::vector<std::string>> m) const { roll.*m = split_lines(statement.text(column)); }
    void operator()(Member<std::optional<Date>> m) const { roll.*m = date_from(statement.text(column)); }
    void operator()(Member<std::optional<double>> m) const {
        if (!statement.is_null(column) && std::isfinite(statement.number(column))) roll.*m = statement.number(column);
    }
    void operator()(Member<std::optional<int>> m) const {
        if (!statement.is_null(column)) roll.*m = static_cast<int>(statement.whole(column));
    }
    void operator()(Member<bool> m) const { roll.*m = statement.whole(column) != 0; }
};

std::string column_list() {
    std::string names;
    for (const Column& column : columns()) names += std::string(names.empty() ? "" : ", ") + column.name;
    return names;
}

HistoryRoll fetch_roll(const Statement& statement, int first) {
    HistoryRoll roll;
    for (std::size_t i = 0; i < columns().size(); ++i) std::visit(Fetch{statement, first + static_cast<int>(i), roll}, columns()[i].member);
    return roll;
}

/// Which of two results of one roll stands in front. Not which was added last: so that the order of adding does not matter.
bool newer(const HistoryRoll& a, const std::string& digest_a, const HistoryRoll& b, const std::string& digest_b) {
    if (a.finished != b.finished) return a.finished > b.finished;
    if (const int told_a = values_told(a), told_b = values_told(b); told_a != told_b) return told_a > told_b;
    return digest_a > digest_b;
}

struct Earlier {
    std::int64_t id = 0;
    std::string digest;
    bool set_behind = false;
    HistoryRoll roll;
};

class Adder {
public:
    [[nodiscard]] static Result<Adder> prepare(const Database& database) {
        Adder adder(database);
        std::string marks;
        for (std::size_t i = 0; i < columns().size() + 2; ++i) marks += i == 0 ? "?" : ", ?";
        for (auto [statement, sql] : {std::pair(&adder.find_, std::string("SELECT report, report_place FROM result WHERE digest = ?")),
                                      std::pair(&adder.move_, std::string("UPDATE result SET report = ?, report_place = ? WHERE digest = ?")),
                                      std::pair(&adder.others_, "SELECT id, digest, set_behind, " + column_list() + " FROM result WHERE roll = ?"),
                                      std::pair(&adder.set_behind_, std::string("UPDATE result SET set_behind = 1 WHERE id = ?")),
                                      std::pair(&adder.insert_, "INSERT INTO result(digest, set_behind, " + column_list() + ") VALUES(" + marks + ")")}) {
            auto prepared = database.prepare(sql);
            if (!prepared) return Failure(std::move(prepared.error()));
            *statement = std::move(*prepared);
        }
        return adder;
    }

    [[nodiscard]] Result<void> add(const HistoryRoll& roll, AddSummary& summary) {
        const std::string digest = digest_of(roll);
        const auto known = is_known(roll, digest);
        if (!known) return Failure(known.error());
        if (*known) {
            ++summary.known;
            return {};
        }
        const auto others = others_of(roll);
        if (!others) return Failure(others.error());
        bool behind = false, replaces = false;
        for (const Earlier& other : *others) {
            if (!same_roll(other.roll, roll)) continue;
            if (newer(other.roll, other.digest, roll, digest)) {
                behind = true;
            } else {
                replaces = replaces || !other.set_behind;
                set_behind_.reset();
                set_behind_.bind(1, other.id);
                if (set_behind_.step() || set_behind_.code() != 0) return database_->failure();
            }
        }
        ++(behind ? summary.older : replaces ? summary.replaced : summary.added);
        return insert(roll, digest, behind);
    }

private:
    explicit Adder(const Database& database) : database_(&database) {}

    /// The same results from another place: the link follows them, nothing else changes.
    [[nodiscard]] Result<bool> is_known(const HistoryRoll& roll, const std::string& digest) {
        find_.reset();
        find_.bind(1, digest);
        if (!find_.step()) return find_.code() != 0 ? Result<bool>(database_->failure()) : Result<bool>(false);
        const bool moved = find_.text(0) != roll.report && !roll.report.empty();
        find_.reset();
        if (!moved) return true;
        move_.reset();
        move_.bind(1, roll.report);
        roll.report_place ? move_.bind(2, static_cast<std::int64_t>(*roll.report_place)) : move_.bind_null(2);
        move_.bind(3, digest);
        if (move_.step() || move_.code() != 0) return database_->failure();
        return true;
    }

    [[nodiscard]] Result<std::vector<Earlier>> others_of(const HistoryRoll& roll) {
        std::vector<Earlier> others;
        others_.reset();
        others_.bind(1, roll.roll);
        while (others_.step()) others.push_back({others_.whole(0), others_.text(1), others_.whole(2) != 0, fetch_roll(others_, 3)});
        if (others_.code() != 0) return database_->failure();
        others_.reset();
        return others;
    }

    [[nodiscard]] Result<void> insert(const HistoryRoll& roll, const std::string& digest, bool behind) {
        insert_.reset();
        insert_.bind(1, digest);
        insert_.bind(2, static_cast<std::int64_t>(behind));
        for (std::size_t i = 0; i < columns().size(); ++i) std::visit(Bind{insert_, static_cast<int>(i) + 3, roll}, columns()[i].member);
        if (insert_.step() || insert_.code() != 0) return database_->failure();
        return {};
    }

    const Database* database_;
    Statement find_, move_, others_, set_behind_, insert_;
};

}  // namespace

Result<AddSummary> HistoryFile::add(const std::vector<HistoryRoll>& rolls) {
    const Database& database = connection_->database;
    auto transaction = Transaction::begin(database);
    if (!transaction) return Failure(std::move(transaction.error()));
    AddSummary summary;
    {
        auto adder = Adder::prepare(database);
        if (!adder) return Failure(std::move(adder.error()));
        for (const HistoryRoll& roll : rolls)
            if (auto added = adder->add(roll, summary); !added) return Failure(std::move(added.error()));
    }
    if (auto done = transaction->commit(); !done) return Failure(std::move(done.error()));
    return summary;
}

Result<std::vector<HistoryRoll>> HistoryFile::rolls(bool all) const {
    const Database& database = connection_->database;
    auto statement =
        database.prepare("SELECT " + column_list() + " FROM result WHERE set_behind = 0 OR ? ORDER BY session_date, session, roll, finished, digest");
    if (!statement) return Failure(std::move(statement.error()));
    statement->bind(1, static_cast<std::int64_t>(all));
    std::vector<HistoryRoll> rolls;
    while (statement->step()) rolls.push_back(fetch_roll(*statement, 0));
    if (statement->code() != 0) return database.failure();
    return rolls;
}

std::string default_history_path(const char* xdg_data_home, const char* home) {
    const fs::path inside = fs::path("basefog") / "history.sqlite";
    if (xdg_data_home != nullptr && fs::path(xdg_data_home).is_absolute()) return (fs::path(xdg_data_home) / inside).string();
    if (home != nullptr && *home != '\0') return (fs::path(home) / ".local" / "share" / inside).string();
    return {};
}

}  // namespace basefog
