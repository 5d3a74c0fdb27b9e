#include "daemon/logbook/db.hpp"

#include "daemon/logbook/guarded_files.hpp"

namespace ingle::logbook {

Statement::Statement(Database& db, std::string_view sql) : db_(&db) {
    if (!db.ok() || !db.is_open()) return;
    db.check(sqlite3_prepare_v3(db.handle(), sql.data(), static_cast<int>(sql.size()),
                                SQLITE_PREPARE_PERSISTENT, &statement_, nullptr),
             sql.substr(0, 60));
}

bool Statement::step() {
    if (!statement_ || !db_->ok()) return false;
    int const result = sqlite3_step(statement_);
    if (result == SQLITE_ROW) return true;
    if (result != SQLITE_DONE)
        db_->fail(sqlite3_extended_errcode(db_->handle()),
                  std::string_view(sqlite3_sql(statement_)).substr(0, 60));
    sqlite3_reset(statement_);
    return false;
}

void Statement::reset() {
    if (!statement_) return;
    sqlite3_reset(statement_);
    sqlite3_clear_bindings(statement_);
}

std::string_view Statement::view(int column) const {
    auto const* data = static_cast<char const*>(sqlite3_column_blob(statement_, column));
    if (!data) return {};
    return {data, static_cast<std::size_t>(sqlite3_column_bytes(statement_, column))};
}

void Statement::bind_integer(int place, std::int64_t value) {
    if (statement_) sqlite3_bind_int64(statement_, place, value);
}
void Statement::bind_real(int place, double value) {
    if (statement_) sqlite3_bind_double(statement_, place, value);
}
void Statement::bind_text(int place, std::string_view value) {
    if (statement_)
        sqlite3_bind_text(statement_, place, value.data() ? value.data() : "", static_cast<int>(value.size()),
                          SQLITE_TRANSIENT);
}
void Statement::bind_blob(int place, std::span<unsigned char const> value) {
    // A null pointer would make an empty blob a NULL.
    if (statement_)
        sqlite3_bind_blob(statement_, place, value.empty() ? "" : static_cast<void const*>(value.data()),
                          static_cast<int>(value.size()), SQLITE_STATIC);
}

bool Database::open(std::string const& path, int flags, std::string const& vfs) {
    close();
    failure_.reset();
    path_ = path;
    int const result = sqlite3_open_v2(path.c_str(), &db_, flags | SQLITE_OPEN_NOMUTEX,
                                       vfs.empty() ? guarded_files() : vfs.c_str());
    if (result != SQLITE_OK) {
        fail(db_ ? sqlite3_extended_errcode(db_) : result, "open");
        sqlite3_close(std::exchange(db_, nullptr));
        return false;
    }
    sqlite3_extended_result_codes(db_, 1);
    return true;
}

void Database::close() {
    statements_.clear();
    // A statement that somebody still has keeps the connection until it ends, and no longer.
    sqlite3_close_v2(std::exchange(db_, nullptr));
}

void Database::fail(int code, std::string_view doing) {
    if (failure_) return;
    std::string reason =
        db_ && sqlite3_extended_errcode(db_) == code ? sqlite3_errmsg(db_) : sqlite3_errstr(code);
    if (db_ && (code & 0xff) == SQLITE_IOERR)
        if (int const number = sqlite3_system_errno(db_); number != 0)
            reason += " (errno " + std::to_string(number) + ")";
    failure_ = Failure{code, "logbook " + path_ + ": " + reason + " [" + std::to_string(code) + "] at \"" +
                                 std::string(doing) + "\""};
}

void Database::run(char const* sql) {
    if (ok() && db_)
        check(sqlite3_exec(db_, sql, nullptr, nullptr, nullptr), std::string_view(sql).substr(0, 60));
}

std::int64_t Database::number(char const* sql) {
    Statement statement(*this, sql);
    return statement.step() ? statement.integer(0) : 0;
}

std::string Database::word(char const* sql) {
    Statement statement(*this, sql);
    return statement.step() ? statement.text(0) : std::string();
}

Statement& Database::prepared(char const* literal) {
    auto found = statements_.find(literal);
    // One that could not be prepared (the file was busy, or failing) is tried again.
    if (found != statements_.end() && !found->second.ready())
        statements_.erase(std::exchange(found, statements_.end()));
    if (found == statements_.end()) found = statements_.emplace(literal, Statement(*this, literal)).first;
    found->second.reset();
    return found->second;
}

Transaction::Transaction(Database& db, bool write) : db_(db) {
    db_.run(write ? "BEGIN IMMEDIATE" : "BEGIN");
    open_ = db_.ok();
}

Transaction::~Transaction() {
    if (open_ && db_.is_open()) sqlite3_exec(db_.handle(), "ROLLBACK", nullptr, nullptr, nullptr);
}

bool Transaction::commit() {
    db_.run("COMMIT");
    if (!db_.ok()) return false;
    open_ = false;
    return true;
}

}  // namespace ingle::logbook
