#include "daemon/logbook/store.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>

#include "daemon/logbook/json.hpp"
#include "daemon/logbook/pack.hpp"
#include "daemon/logbook/schema.hpp"
#include "daemon/logbook/seal.hpp"

namespace ingle::logbook {
namespace {

constexpr std::int64_t quick_check_limit = 128LL << 20;  // bytes; about 3 s on a slow card
constexpr std::int64_t most_tail_readings =
    1'000'000;  // sealed early, to bound the memory that sealing needs

std::int64_t ms(Instant at) {
    return at.time_since_epoch().count();
}

// The logbook is its owner's and its group's: SQLite gives its side files the same mode.
void keep_private(std::string const& path) {
    constexpr mode_t mode = 0640;
    struct stat found {};
    if (stat(path.c_str(), &found) == 0) {
        if (found.st_mode & 07) chmod(path.c_str(), found.st_mode & 0770);
        return;
    }
    int const made = ::open(path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (made < 0) return;  // opening it says why
    fchmod(made, mode);    // whatever the mask is
    ::close(made);
}

}  // namespace

Store::Store(WriterOptions const& options) : options_(options), clock_{ms(options.started), options.clock} {
    for (std::size_t i = 0; i < options.probes.size(); ++i)
        made_[static_cast<std::uint16_t>(i)] = SlotMade{static_cast<std::uint16_t>(i), static_cast<int>(i),
                                                        ms(options.started), options.probes[i].calibration};
}

bool Store::open(Resumed& resumed) {
    refused_.clear();
    keep_private(options_.path);
    slots_.clear();
    tail_from_.reset();
    tail_readings_ = 0;
    if (!db_.open(options_.path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, options_.vfs)) return false;
    sqlite3_busy_timeout(db_.handle(), options_.busy_ms);
    if (db_.number("SELECT count(*) FROM sqlite_master") == 0)
        db_.run(("PRAGMA page_size=" + std::to_string(page_size)).c_str());
    else if (refused_ = readable(db_); !refused_.empty())
        return db_.close(), false;
    // FULL: a commit is on the card when it returns. Temporary files stay in memory: /tmp may be tiny.
    db_.run("PRAGMA journal_mode=WAL");
    db_.run(
        "PRAGMA synchronous=FULL; PRAGMA secure_delete=OFF; PRAGMA wal_autocheckpoint=1000;"
        "PRAGMA journal_size_limit=16777216; PRAGMA temp_store=MEMORY; PRAGMA foreign_keys=OFF");
    refused_ = migrate(db_);
    if (!refused_.empty()) return db_.close(), false;
    {
        Transaction transaction(db_);
        auto const run = run_;
        find_boot();
        load(resumed);
        resumed.known = db_.ok();  // also where the disk is too full to write that this run has begun
        begin_run();
        // Their calibrations wait for a reading: the core may recall a newer one first.
        for (auto const& [number, made] : made_) make_slot(SlotMade(made));
        if (!transaction.commit()) run_ = run;
    }
    resumed.recording = db_.ok();
    return db_.ok();
}

void Store::close() {
    db_.close();
}

void Store::find_boot() {
    auto& known = db_.prepared("SELECT id, offset_ms, certain FROM boot WHERE uid=? ORDER BY id DESC LIMIT 1")
                      .with(options_.boot_id);
    if (known.step()) {
        boot_ = known.integer(0), offset_ms_ = known.integer(1), certainty_ = known.small(2);
        known.reset();
        if (run_ == 0) put(Anchored(clock_));
    } else {
        boot_ = db_.number("SELECT coalesce(max(id),0)+1 FROM boot");
        offset_ms_ = clock_.clock.offset_ms, certainty_ = unknown;
        db_.prepared("INSERT INTO boot VALUES(?,?,?,0,?,?)")
            .with(boot_, options_.boot_id, offset_ms_, ms(options_.started), ms(options_.started))
            .run();
        put(Anchored(clock_));
    }
}

void Store::begin_run() {
    auto& mine = db_.prepared("SELECT 1 FROM run WHERE id=? AND boot=? AND started_ms=?")
                     .with(run_, boot_, ms(options_.started));
    bool const known = mine.step();
    mine.reset();
    if (known) return;
    auto setting = db_.number("SELECT coalesce(max(id),0) FROM setting");
    if (db_.word("SELECT text FROM setting ORDER BY id DESC LIMIT 1") != options_.settings || setting == 0) {
        ++setting;
        db_.prepared("INSERT INTO setting VALUES(?,?)").with(setting, options_.settings).run();
    }
    db_.prepared("INSERT INTO run(boot, started_ms, setting, zone) VALUES(?,?,?,?)")
        .with(boot_, ms(options_.started), setting, options_.zone)
        .run();
    if (db_.ok()) run_ = sqlite3_last_insert_rowid(db_.handle());
}

// The last sign of life in a boot, ms: its newest row of any kind.
std::int64_t Store::end_of_boot(std::int64_t boot) {
    auto& latest = db_.prepared(
                          "SELECT max((SELECT coalesce(max(last_ms),0) FROM boot WHERE id=?1),"
                          "(SELECT coalesce(max(boot_ms),0) FROM event WHERE id>(SELECT max(id)-100 FROM "
                          "event) AND boot=?1),"
                          "(SELECT coalesce(max(boot_ms),0) FROM alarm_change"
                          " WHERE id>(SELECT max(id)-100 FROM alarm_change) AND boot=?1),"
                          "(SELECT coalesce(max(started_ms),0) FROM run WHERE boot=?1),"
                          "(SELECT coalesce(max(ended_ms),0) FROM run WHERE boot=?1))")
                       .with(boot);
    auto end = latest.step() ? latest.integer(0) : 0;
    latest.reset();
    auto& tail =
        db_.prepared("SELECT t0, step, v FROM tail WHERE boot=? ORDER BY id DESC LIMIT 3").with(boot);
    while (tail.step())
        read_tail(tail.integer(0), tail.integer(1), tail.view(2),
                  [&](std::int64_t at, std::int64_t, std::int64_t, bool) { end = std::max(end, at); });
    return end;
}

void Store::read_memory() {
    auto& memory = db_.prepared("SELECT key, value FROM memory").with();
    stored_memory_.clear();
    while (memory.step()) stored_memory_[memory.text(0)] = memory.text(1);
    memory_boot_ = db_.number("SELECT CAST(value AS INTEGER) FROM meta WHERE key='memory_boot'");
    memory_known_ = db_.ok();
}

void Store::load(Resumed& resumed) {
    auto const before = db_.number("SELECT boot FROM run ORDER BY id DESC LIMIT 1");
    read_memory();
    for (auto const& [key, value] : stored_memory_) resumed.memory.put(key, value);

    auto const past = [&](std::int64_t boot) {
        PastBoot found{boot, boot == boot_, offset_ms_, certainty_ == proven};
        auto& row = db_.prepared("SELECT offset_ms, certain FROM boot WHERE id=?").with(boot);
        if (row.step()) found.offset_ms = row.integer(0), found.proven = row.small(1) == proven;
        row.reset();
        return found;
    };
    resumed.started = options_.started;
    resumed.offset_ms = offset_ms_;
    resumed.memory_boot = past(memory_boot_);
    if (before && run_ == 0) {
        resumed.off_boot = past(before);
        resumed.off_at = Instant(Span(end_of_boot(before)));
    }

    auto& out = db_.prepared(
                       "SELECT id, channel, kind, body, boot, boot_ms, attempts, error FROM outbox"
                       " WHERE state='pending' ORDER BY rowid")
                    .with();
    while (out.step()) {
        OutboxRow row{out.text(0),  out.text(1), out.text(2), out.text(3), Instant(Span(out.integer(5))),
                      out.small(6), "pending",   out.text(7), {}};
        row.at += Span(past(out.integer(4)).offset_ms - offset_ms_);
        pending_[row.id] = row;
        resumed.pending.push_back(std::move(row));
    }
    constexpr std::int64_t hour_ms = 3'600'000, most = 10'000;
    auto& sent =
        db_.prepared(
               "SELECT channel, done_boot, done_ms FROM (SELECT rowid, channel, done_boot, done_ms FROM"
               " outbox WHERE state='sent' AND done_ms IS NOT NULL ORDER BY rowid DESC LIMIT ?)"
               " ORDER BY rowid")
            .with(most);
    auto const now_ms = options_.started.time_since_epoch().count();
    while (sent.step())
        if (auto const at = sent.integer(2) + past(sent.integer(1)).offset_ms - offset_ms_;
            at > now_ms - hour_ms)
            resumed.sent.emplace_back(sent.text(0), Instant(Span(std::min(at, now_ms))));
    constexpr std::int64_t most_signs = 200;
    auto& signs = db_.prepared("SELECT id FROM outbox WHERE id>=? AND id<? ORDER BY id DESC LIMIT ?")
                      .with(sign_of_life_prefix, std::string(sign_of_life_prefix) + "~", most_signs);
    while (signs.step()) resumed.signs.push_back(signs.text(0));
    resumed.last_alarm =
        std::max(db_.number("SELECT coalesce(max(alarm),0) FROM alarm_change"),
                 db_.number("SELECT CAST(value AS INTEGER) FROM meta WHERE key='last_alarm'"));
    last_alarm_ = std::max(last_alarm_, resumed.last_alarm);
    resumed.last_cook = std::max(db_.number("SELECT coalesce(max(id),0) FROM cook"),
                                 db_.number("SELECT CAST(value AS INTEGER) FROM meta WHERE key='last_cook'"));

    last_cook_ = std::max(last_cook_, resumed.last_cook);

    auto& tail = db_.prepared("SELECT boot, min(t0), sum(length(v)) FROM tail GROUP BY boot").with();
    while (tail.step()) {
        tail_from_ = tail.integer(0) == boot_ && !tail_from_ ? tail.integer(1) : INT64_MIN;
        tail_readings_ += tail.integer(2) / 4;
    }
}

// A stamp before this boot (a note about yesterday) belongs to the boot that was running then.
Store::Place Store::place(std::int64_t at) {
    Place found{boot_, at};
    if (at >= 0) return found;
    auto& boots =
        db_.prepared(
               "SELECT id, offset_ms FROM boot WHERE id<? AND offset_ms+first_ms<=? ORDER BY id DESC LIMIT 1")
            .with(boot_, offset_ms_ + at);
    if (boots.step()) found = {boots.integer(0), offset_ms_ + at - boots.integer(1)};
    boots.reset();
    return found;
}

// The clock of one boot has one offset: the newest of those best vouched for, so that spacing is never bent.
// As long as nothing vouches for it, its rows come after those of the boot before: it cannot have been
// earlier.
void Store::set_offset(ClockAnchor const& clock) {
    int const certainty = clock.proven ? proven : clock.certain ? believed : unknown;
    if (certainty < certainty_) return;
    auto offset_ms = clock.offset_ms;
    auto& before =
        db_.prepared("SELECT id, offset_ms FROM boot WHERE id<? ORDER BY id DESC LIMIT 1").with(boot_);
    if (certainty < proven && before.step()) {
        auto const id = before.integer(0), shift = before.integer(1);
        before.reset();
        auto const first =
            db_.number(("SELECT first_ms FROM boot WHERE id=" + std::to_string(boot_)).c_str());
        offset_ms = std::max(offset_ms, end_of_boot(id) + shift + 1 - first);
    }
    before.reset();
    offset_ms_ = offset_ms, certainty_ = certainty;
    db_.prepared("UPDATE boot SET offset_ms=?, certain=? WHERE id=?").with(offset_ms, certainty, boot_).run();
    if (certainty == proven) push_back_unproven();
}

// Boots before this one whose time nothing vouched for ended before it began.
void Store::push_back_unproven() {
    struct Boot {
        std::int64_t id = 0, offset_ms = 0, first_ms = 0;
        int certainty = unknown;
    };
    std::vector<Boot> boots;
    auto& row =
        db_.prepared(
               "SELECT id, offset_ms, first_ms, certain FROM boot WHERE id<=? ORDER BY id DESC LIMIT 50")
            .with(boot_);
    while (row.step()) boots.push_back({row.integer(0), row.integer(1), row.integer(2), row.small(3)});
    for (std::size_t i = 1; i < boots.size() && boots[i].certainty < proven; ++i) {
        auto const latest = boots[i - 1].offset_ms + boots[i - 1].first_ms - 1 - end_of_boot(boots[i].id);
        if (boots[i].offset_ms <= latest) break;
        boots[i].offset_ms = latest;
        db_.prepared("UPDATE boot SET offset_ms=? WHERE id=?").with(latest, boots[i].id).run();
    }
}

bool Store::try_to_write() {
    Transaction transaction(db_);
    set_meta("tried", std::to_string(run_));
    return transaction.commit();
}

bool Store::looks_sound() {
    if (db_.number("PRAGMA page_count") * db_.number("PRAGMA page_size") > quick_check_limit) return db_.ok();
    auto const answer = db_.word("PRAGMA quick_check(1)");
    if (db_.ok() && answer != "ok") db_.fail(SQLITE_CORRUPT, answer);
    return db_.ok();
}

bool Store::seal_due(std::int64_t now) const {
    return tail_from_ && (*tail_from_ == INT64_MIN || now - *tail_from_ >= options_.seal_every.count() ||
                          tail_readings_ >= most_tail_readings);
}

bool Store::seal() {
    Transaction transaction(db_);
    seal_tail(db_);
    thin_readings(db_, options_.keep_days);
    bound_tables(db_);
    if (!transaction.commit()) return false;
    tail_from_.reset();
    tail_readings_ = 0;
    return true;
}

bool Store::end_run(std::int64_t at) {
    Transaction transaction(db_);
    db_.prepared("UPDATE run SET ended_ms=?, clean=1 WHERE id=?").with(at, run_).run();
    db_.prepared("UPDATE boot SET last_ms=max(last_ms,?) WHERE id=?").with(at, boot_).run();
    return transaction.commit();
}

bool Store::add_what_was_written(Salvage& salvage) const {
    if (!memory_known_ || memory_boot_ != boot_ || run_ == 0) return false;
    salvage.memory = {};
    for (auto const& [key, value] : stored_memory_) salvage.memory.put(key, value);
    salvage.memory_uid = options_.boot_id;
    salvage.pending.clear();
    for (auto const& [id, row] : pending_) salvage.pending.push_back(row);
    salvage.running.clear();
    for (auto const& [id, cook] : running_) salvage.running.push_back(cook);
    salvage.last_alarm = std::max(salvage.last_alarm, last_alarm_);
    salvage.last_cook = std::max(salvage.last_cook, last_cook_);
    return true;
}

bool Store::adopt(Salvage const& salvage, std::int64_t at) {
    unsure_.reset();  // that was about the damaged file
    Transaction transaction(db_);
    std::int64_t boot = boot_;
    if (!salvage.memory_uid.empty() && salvage.memory_uid != options_.boot_id) {
        boot = boot_ - 1;  // boot 0: before the first of this file
        db_.prepared("INSERT OR IGNORE INTO boot VALUES(?,?,?,?,?,?)")
            .with(boot, salvage.memory_uid, salvage.memory_offset_ms, salvage.memory_certain, 0,
                  salvage.memory_last_ms)
            .run();
    }
    for (auto const& [key, value] : salvage.memory.all()) {
        db_.prepared("INSERT OR REPLACE INTO memory VALUES(?,?)").with(key, value).run();
        stored_memory_[key] = value;
    }
    memory_boot_ = boot;
    set_meta("memory_boot", std::to_string(boot));
    set_meta("last_alarm", std::to_string(salvage.last_alarm));
    set_meta("last_cook", std::to_string(salvage.last_cook));
    for (auto const& row : salvage.pending) put(row);
    for (auto const& cook : salvage.running) put(cook);
    if (salvage.file.empty()) return transaction.commit();
    db_.prepared("INSERT INTO damaged(file, boot, boot_ms, what, cooks) VALUES(?,?,?,?,?)")
        .with(salvage.file, boot_, at, salvage.what, salvage.cooks)
        .run();
    return transaction.commit();
}

void Store::set_meta(char const* key, std::string const& value) {
    db_.prepared("INSERT INTO meta VALUES(?,?) ON CONFLICT(key) DO UPDATE SET value=excluded.value")
        .with(std::string_view(key), value)
        .run();
}

}  // namespace ingle::logbook
