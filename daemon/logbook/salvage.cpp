#include "daemon/logbook/salvage.hpp"

#include <unistd.h>

#include <cstdio>

#include "daemon/logbook/db.hpp"

namespace ingle::logbook {

std::string free_name(std::string const& path, char const* suffix) {
    for (int n = 1; n < 1000; ++n) {
        auto name = path + suffix + std::to_string(n);
        if (access(name.c_str(), F_OK) != 0) return name;
    }
    return {};
}

std::string move_aside(std::string const& path) {
    auto to = free_name(path, ".damaged-");
    if (to.empty() || std::rename(path.c_str(), to.c_str()) != 0) return {};
    // The write-ahead file holds the newest rows of the damaged copy and goes with it.
    std::rename((path + "-wal").c_str(), (to + "-wal").c_str());
    std::remove((path + "-shm").c_str());
    return to;
}

Salvage salvage(std::string const& moved, std::string const& vfs) {
    Salvage out;
    out.file = moved;
    Database db;
    if (!db.open(moved, SQLITE_OPEN_READONLY, vfs)) return out;
    // Each piece for itself: one unreadable table does not cost the others.
    auto const each = [&](char const* sql, auto&& row) {
        Statement statement(db, sql);
        while (statement.step()) row(statement);
        return !db.take_failure();
    };
    each("SELECT dish, id FROM cook ORDER BY id", [&](Statement& s) {
        out.cooks += (out.cooks.empty() ? "" : ", ") + s.text(0) + " (" + s.text(1) + ")";
    });
    bool const read =
        each("SELECT key, value FROM memory", [&](Statement& s) { out.memory.put(s.text(0), s.text(1)); });
    out.memory_whole = read && !out.memory.all().empty();
    each(
        "SELECT uid, offset_ms, certain, last_ms FROM boot WHERE id=(SELECT value FROM meta WHERE "
        "key='memory_boot')",
        [&](Statement& s) {
            out.memory_uid = s.text(0), out.memory_offset_ms = s.integer(1);
            out.memory_certain = s.small(2), out.memory_last_ms = s.integer(3);
        });
    each(
        "SELECT id, channel, kind, body, boot_ms, attempts, error FROM outbox WHERE state='pending' ORDER BY "
        "rowid",
        [&](Statement& s) {
            out.pending.push_back({s.text(0),
                                   s.text(1),
                                   s.text(2),
                                   s.text(3),
                                   Instant(Span(s.integer(4))),
                                   s.small(5),
                                   "pending",
                                   s.text(6),
                                   {}});
        });
    each("SELECT max(alarm) FROM alarm_change", [&](Statement& s) { out.last_alarm = s.integer(0); });
    each("SELECT max(id) FROM cook", [&](Statement& s) { out.last_cook = s.integer(0); });
    return out;
}

}  // namespace ingle::logbook
