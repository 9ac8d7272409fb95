// SPDX-License-Identifier: GPL-3.0-or-later
// SQLite behind a few owning classes. Every failure comes back as an Error that says what it means for the person.
#pragma once

#include "basefog/core/result.h"

#include <cstdint>
#include <memory>
#include <string>
#include <utility>

struct sqlite3;
struct sqlite3_stmt;

namespace basefog::history_room {

class Statement {
public:
    Statement() = default;
    explicit Statement(sqlite3_stmt* statement) : statement_(statement) {}
    void bind(int place, const std::string& text);
    void bind(int place, double number);
    void bind(int place, std::int64_t number);
    void bind_null(int place);
    /// True: there is a row. SQLite's code otherwise, 0 at the end.
    [[nodiscard]] bool step();
    [[nodiscard]] int code() const { return code_; }
    void reset();
    [[nodiscard]] bool is_null(int column) const;
    [[nodiscard]] std::string text(int column) const;
    [[nodiscard]] double number(int column) const;
    [[nodiscard]] std::int64_t whole(int column) const;

private:
    struct Finalize {
        void operator()(sqlite3_stmt* statement) const;
    };
    std::unique_ptr<sqlite3_stmt, Finalize> statement_;
    int code_ = 0;
};

class Database {
public:
    /// Neither makes folders nor looks inside.
    [[nodiscard]] static Result<Database> open(const std::string& path, bool may_write, bool may_create);
    [[nodiscard]] Result<Statement> prepare(const std::string& sql) const;
    /// Any number of statements, results ignored.
    [[nodiscard]] Result<void> run(const std::string& sql) const;
    [[nodiscard]] Result<std::int64_t> whole_of(const std::string& pragma_or_query) const;
    /// A consistent copy, whatever else goes on.
    [[nodiscard]] Result<void> copy_to(const std::string& path) const;
    /// The last failure in words.
    [[nodiscard]] Failure failure() const;
    [[nodiscard]] const std::string& path() const { return path_; }

private:
    struct Close {
        void operator()(sqlite3* handle) const;
    };
    Database(sqlite3* handle, std::string path) : handle_(handle), path_(std::move(path)) {}
    std::unique_ptr<sqlite3, Close> handle_;
    std::string path_;
};

/// Rolls back unless committed.
class Transaction {
public:
    [[nodiscard]] static Result<Transaction> begin(const Database& database);
    [[nodiscard]] Result<void> commit();
    ~Transaction();
    Transaction(Transaction&& other) noexcept : database_(std::exchange(other.database_, nullptr)) {}
    Transaction& operator=(Transaction&&) = delete;

private:
    explicit Transaction(const Database& database) : database_(&database) {}
    const Database* database_;
};

}  // namespace basefog::history_room
