// A SQLite connection with a sticky error: after the first failure every call does nothing until
// take_failure(), so a transaction is straight code with one check at its end. Owned by a store or a reader;
// one thread.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>

namespace ingle::logbook {

struct Failure {
    int code = 0;      // SQLite's extended result code
    std::string text;  // operation, object and reason
    int kind() const { return code & 0xff; }
};

class Database;

class Statement {
public:
    Statement(Database& db, std::string_view sql);
    ~Statement() { sqlite3_finalize(statement_); }
    Statement(Statement&& other) noexcept
        : db_(other.db_), statement_(std::exchange(other.statement_, nullptr)) {}
    Statement& operator=(Statement&&) = delete;

    // Binds all parameters in order. Text is copied; blobs must live until the statement is reset.
    template <class... T>
    Statement& with(T const&... values) {
        reset();
        int place = 0;
        (bind(++place, values), ...);
        return *this;
    }
    bool step();  // true: a row
    void run() {
        while (step()) {
        }
    }
    void reset();
    bool ready() const { return statement_ != nullptr; }

    bool null(int column) const { return sqlite3_column_type(statement_, column) == SQLITE_NULL; }
    std::int64_t integer(int column) const { return sqlite3_column_int64(statement_, column); }
    int small(int column) const { return sqlite3_column_int(statement_, column); }
    double real(int column) const { return sqlite3_column_double(statement_, column); }
    std::string text(int column) const { return std::string(view(column)); }
    std::string_view view(int column) const;  // of a text or a blob, until the next step
    bool is_text(int column) const { return sqlite3_column_type(statement_, column) == SQLITE_TEXT; }

private:
    template <class T>
    void bind(int place, T const& value) {
        if constexpr (std::is_same_v<T, std::nullptr_t>)
            ;  // reset() left it NULL
        else if constexpr (std::is_integral_v<T>)
            bind_integer(place, static_cast<std::int64_t>(value));
        else if constexpr (std::is_floating_point_v<T>)
            bind_real(place, value);
        else if constexpr (std::is_convertible_v<T, std::string_view>)
            bind_text(place, value);
        else if constexpr (std::is_same_v<T, std::span<unsigned char const>>)
            bind_blob(place, value);
        else if (value)  // an optional
            bind(place, *value);
    }
    void bind_integer(int place, std::int64_t value);
    void bind_real(int place, double value);
    void bind_text(int place, std::string_view value);
    void bind_blob(int place, std::span<unsigned char const> value);

    Database* db_;
    sqlite3_stmt* statement_ = nullptr;
};

class Database {
public:
    Database() = default;
    ~Database() { close(); }
    Database(Database const&) = delete;
    Database& operator=(Database const&) = delete;

    bool open(std::string const& path, int flags, std::string const& vfs = "");
    void close();
    bool is_open() const { return db_ != nullptr; }
    sqlite3* handle() const { return db_; }
    std::string const& path() const { return path_; }

    bool ok() const { return !failure_; }
    std::optional<Failure> take_failure() { return std::exchange(failure_, std::nullopt); }
    void fail(int code, std::string_view doing);
    void check(int code, std::string_view doing) {
        if (code != SQLITE_OK && code != SQLITE_DONE && code != SQLITE_ROW) fail(code, doing);
    }

    void run(char const* sql);                 // any number of statements, no rows wanted
    std::int64_t number(char const* sql);      // first column of the first row; 0 if there is none
    std::string word(char const* sql);         // the same as text
    Statement& prepared(char const* literal);  // kept until close(); `literal` must outlive the connection

private:
    sqlite3* db_ = nullptr;
    std::string path_;
    std::map<char const*, Statement> statements_;
    std::optional<Failure> failure_;
};

// BEGIN IMMEDIATE ... COMMIT; whatever is not committed is rolled back, without disturbing the failure.
class Transaction {
public:
    explicit Transaction(Database& db, bool write = true);
    ~Transaction();
    Transaction(Transaction const&) = delete;
    Transaction& operator=(Transaction const&) = delete;
    bool commit();

private:
    Database& db_;
    bool open_ = false;
};

}  // namespace ingle::logbook
