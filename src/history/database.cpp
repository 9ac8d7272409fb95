// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/database.h"

#include <sqlite3.h>
#include <cmath>

namespace basefog::history_room {
namespace {

/// Chosen: how long to wait for another program that is adding.
constexpr int kPatienceMs = 5000;

Failure failure_of(int code, const std::string& words, const std::string& path) {
    switch (code & 0xff) {
        case SQLITE_NOTADB:
            return fail(ErrorCode::malformed, "this is not a history file", path, "it was left as it is; name another file with --history");
        case SQLITE_CORRUPT:
            return fail(ErrorCode::malformed, "the history file is damaged: " + words, path,
                        "it was left as it is; restore a copy, or add your results to a new file");
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return fail(ErrorCode::unwritable, "another program is using the history", path, "try again when it is done");
        case SQLITE_CANTOPEN:
            return fail(ErrorCode::unreadable, "the history cannot be opened", path, "check the folder and its permissions");
        case SQLITE_READONLY:
        case SQLITE_PERM:
            return fail(ErrorCode::unwritable, "the history may not be written to", path, "check the permissions of the file and its folder");
        case SQLITE_FULL:
            return fail(ErrorCode::unwritable, "the disk is full", path, "the history is as it was before");
        case SQLITE_IOERR:
            return fail(ErrorCode::unreadable, "reading or writing the history failed: " + words, path, "check the disk it lies on");
        default:
            return fail(ErrorCode::malformed, "the history cannot be used: " + words, path);
    }
}

}  // namespace

void Statement::Finalize::operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }

void Statement::bind(int place, const std::string& text) {
    sqlite3_bind_text(statement_.get(), place, text.data(), static_cast<int>(text.size()), SQLITE_TRANSIENT);
}
void Statement::bind(int place, double number) { sqlite3_bind_double(statement_.get(), place, number); }
void Statement::bind(int place, std::int64_t number) { sqlite3_bind_int64(statement_.get(), place, number); }
void Statement::bind_null(int place) { sqlite3_bind_null(statement_.get(), place); }

bool Statement::step() {
    const int code = sqlite3_step(statement_.get());
    code_ = code == SQLITE_ROW || code == SQLITE_DONE ? 0 : code;
    return code == SQLITE_ROW;
}

void Statement::reset() {
    sqlite3_reset(statement_.get());
    sqlite3_clear_bindings(statement_.get());
}

bool Statement::is_null(int column) const { return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL; }

std::string Statement::text(int column) const {
    const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(statement_.get(), column));
    return bytes == nullptr ? std::string() : std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column)));
}

double Statement::number(int column) const { return sqlite3_column_double(statement_.get(), column); }
std::int64_t Statement::whole(int column) const { return sqlite3_column_int64(statement_.get(), column); }

void Database::Close::operator()(sqlite3* handle) const { sqlite3_close(handle); }

Result<Database> Database::open(const std::string& path, bool may_write, bool may_create) {
    const int flags = (may_write ? SQLITE_OPEN_READWRITE : SQLITE_OPEN_READONLY) | (may_create ? SQLITE_OPEN_CREATE : 0);
    sqlite3* handle = nullptr;
    const int code = sqlite3_open_v2(path.c_str(), &handle, flags, nullptr);
    Database database(handle, path);
    if (code != SQLITE_OK) return failure_of(code, handle != nullptr ? sqlite3_errmsg(handle) : "no memory", path);
    sqlite3_extended_result_codes(handle, 1);
    sqlite3_busy_timeout(handle, kPatienceMs);
    // The file may come from anywhere: its schema gets no power over the program, and damage is looked for in every page read.
    sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
    if (auto set = database.run("PRAGMA cell_size_check = ON"); !set) return Failure(std::move(set.error()));
    return database;
}

Failure Database::failure() const { return failure_of(sqlite3_extended_errcode(handle_.get()), sqlite3_errmsg(handle_.get()), path_); }

Result<Statement> Database::prepare(const std::string& sql) const {
    sqlite3_stmt* statement = nullptr;
    if (sqlite3_prepare_v2(handle_.get(), sql.c_str(), static_cast<int>(sql.size()), &statement, nullptr) != SQLITE_OK) return failure();
    return Statement(statement);
}

Result<void> Database::run(const std::string& sql) const {
    if (sqlite3_exec(handle_.get(), sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) return failure();
    return {};
}

Result<std::int64_t> Database::whole_of(const std::string& pragma_or_query) const {
    auto statement = prepare(pragma_or_query);
    if (!statement) return Failure(std::move(statement.error()));
    if (!statement->step()) return failure();
    return statement->whole(0);
}

Result<void> Database::copy_to(const std::string& path) const {
    auto target = open(path, true, true);
    if (!target) return Failure(std::move(target.error()));
    sqlite3_backup* backup = sqlite3_backup_init(target->handle_.get(), "main", handle_.get(), "main");
    if (backup == nullptr) return target->failure();
    sqlite3_backup_step(backup, -1);
    if (sqlite3_backup_finish(backup) != SQLITE_OK) return target->failure();
    return {};
}

Result<Transaction> Transaction::begin(const Database& database) {
    if (auto begun = database.run("BEGIN IMMEDIATE"); !begun) return Failure(std::move(begun.error()));
    return Transaction(database);
}

Result<void> Transaction::commit() {
    if (auto done = database_->run("COMMIT"); !done) return done;
    database_ = nullptr;
    return {};
}

Transaction::~Transaction() {
    if (database_ != nullptr) (void)database_->run("ROLLBACK");
}

}  // namespace basefog::history_room
