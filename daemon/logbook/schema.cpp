#include "daemon/logbook/schema.hpp"

#include <array>
#include <utility>
#include <vector>

#include "config/secrets.hpp"

namespace ingle::logbook {
namespace {

constexpr char const* attempt_table = R"sql(
CREATE TABLE attempt(       -- one try to deliver a row of the outbox, or that it was given up
  id INTEGER PRIMARY KEY, notice TEXT NOT NULL, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL,
  outcome TEXT NOT NULL, reason TEXT NOT NULL);
CREATE INDEX attempt_by_notice ON attempt(notice);
)sql";

// One expression for the code at place `i` (see pack.hpp), for columns with this prefix.
std::string code_at(std::string const& width, std::string const& bytes) {
    auto const digit = [](std::string const& from, std::string const& place) {
        return "(instr('0123456789ABCDEF',substr(" + from + "," + place + ",1))-1)";
    };
    auto const run = [&](std::string const& from, int digits) {
        std::string sum;
        for (int d = 1; d <= digits; ++d) {
            if (d > 1) sum = "(" + sum + ")*16+";
            sum += digit(from, std::to_string(d));
        }
        return sum;
    };
    auto const hex = [&](int size) {
        auto const n = std::to_string(size);
        return "hex(substr(" + bytes + ",s.i*" + n + "+1," + n + "))";
    };
    return "CASE " + width + " WHEN 0 THEN 1 WHEN 4 THEN " +
           digit("hex(substr(" + bytes + ",s.i/2+1,1))", "s.i%2+1") + " WHEN 8 THEN " + run(hex(1), 2) +
           " WHEN 16 THEN " + run(hex(2), 4) + " ELSE " + run(hex(4), 8) + " END";
}

constexpr char const* first_tables = R"sql(
CREATE TABLE boot(          -- wall time of a row = boot.offset_ms + its ms
  id INTEGER PRIMARY KEY, uid TEXT NOT NULL, offset_ms INTEGER NOT NULL,
  certain INTEGER NOT NULL, -- 0: the board has not learnt the time in this boot; 2: something vouches for it
  first_ms INTEGER NOT NULL, last_ms INTEGER NOT NULL);
CREATE TABLE anchor(id INTEGER PRIMARY KEY, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL,
  wall_ms INTEGER NOT NULL, certain INTEGER NOT NULL);
CREATE TABLE setting(id INTEGER PRIMARY KEY, text TEXT NOT NULL);
CREATE TABLE run(id INTEGER PRIMARY KEY, boot INTEGER NOT NULL, started_ms INTEGER NOT NULL, ended_ms INTEGER,
  clean INTEGER NOT NULL DEFAULT 0, setting INTEGER, zone TEXT NOT NULL);
CREATE TABLE probe(id INTEGER PRIMARY KEY, name TEXT NOT NULL, driver TEXT NOT NULL, device TEXT NOT NULL);
CREATE TABLE calibration(   -- degC = gain * raw + shift; readings refer to it, a new one never changes old rows
  id INTEGER PRIMARY KEY, probe INTEGER NOT NULL, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL,
  points TEXT NOT NULL, gain REAL NOT NULL, shift REAL NOT NULL);
CREATE TABLE tail(          -- one row a commit, see tail.hpp; emptied each hour into `packed`
  id INTEGER PRIMARY KEY, boot INTEGER NOT NULL, t0 INTEGER NOT NULL, step INTEGER NOT NULL,
  v TEXT NOT NULL, side TEXT);
CREATE TABLE track(id INTEGER PRIMARY KEY, width INTEGER NOT NULL, base INTEGER NOT NULL, step INTEGER NOT NULL,
  codes BLOB NOT NULL);     -- stamps that are not equally spaced; several chunks may share one
CREATE TABLE packed(        -- see pack.hpp; kind 0 readings, 1 cold junction, 2 and 3 high and low half of the word
  id INTEGER PRIMARY KEY, kind INTEGER NOT NULL, calibration INTEGER NOT NULL, boot INTEGER NOT NULL,
  t0 INTEGER NOT NULL, t1 INTEGER NOT NULL, every INTEGER NOT NULL, slots INTEGER NOT NULL,
  n INTEGER NOT NULL, max INTEGER NOT NULL, sum INTEGER NOT NULL, track INTEGER, marks TEXT,
  width INTEGER NOT NULL, base INTEGER NOT NULL, step INTEGER NOT NULL, codes BLOB NOT NULL);
CREATE INDEX packed_by_time ON packed(calibration, boot, t0);
CREATE TABLE minutes(       -- raw readings by the minute of boot time k0, k0 + 1, ...: how many, the lowest, how much
  id INTEGER PRIMARY KEY,   -- above it the highest is, and the sum less n times the lowest; n 0 = none. As in `packed`
  calibration INTEGER NOT NULL, boot INTEGER NOT NULL, k0 INTEGER NOT NULL, slots INTEGER NOT NULL,
  n_width INTEGER NOT NULL, n_base INTEGER NOT NULL, n_step INTEGER NOT NULL, n_codes BLOB NOT NULL,
  low_width INTEGER NOT NULL, low_base INTEGER NOT NULL, low_step INTEGER NOT NULL, low_codes BLOB NOT NULL,
  span_width INTEGER NOT NULL, span_base INTEGER NOT NULL, span_step INTEGER NOT NULL, span_codes BLOB NOT NULL,
  rest_width INTEGER NOT NULL, rest_base INTEGER NOT NULL, rest_step INTEGER NOT NULL, rest_codes BLOB NOT NULL);
CREATE INDEX minutes_by_time ON minutes(calibration, boot, k0);
CREATE TABLE roll(          -- level 1: 15 min, 2: 4 h, 3: 2 d of boot time; raw readings in 1/18000 degC
  level INTEGER NOT NULL, calibration INTEGER NOT NULL, boot INTEGER NOT NULL, k INTEGER NOT NULL,
  n INTEGER NOT NULL, min INTEGER NOT NULL, max INTEGER NOT NULL, sum INTEGER NOT NULL,
  PRIMARY KEY(level, calibration, boot, k)) WITHOUT ROWID;
CREATE TABLE fault(id INTEGER PRIMARY KEY, probe INTEGER NOT NULL, boot INTEGER NOT NULL, t0 INTEGER NOT NULL,
  t1 INTEGER NOT NULL, n INTEGER NOT NULL, kind TEXT NOT NULL, reason TEXT NOT NULL);
CREATE TABLE rejected(id INTEGER PRIMARY KEY, probe INTEGER NOT NULL, boot INTEGER NOT NULL,
  boot_ms INTEGER NOT NULL, raw REAL, kind TEXT NOT NULL, reason TEXT NOT NULL);
CREATE TABLE event(id INTEGER PRIMARY KEY, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL, name TEXT NOT NULL,
  subject_kind TEXT NOT NULL, subject TEXT NOT NULL, text TEXT NOT NULL, numbers TEXT);
CREATE TABLE alarm_change(id INTEGER PRIMARY KEY, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL,
  alarm INTEGER NOT NULL, name TEXT NOT NULL, subject_kind TEXT NOT NULL, subject TEXT NOT NULL,
  change TEXT NOT NULL, state TEXT NOT NULL, priority TEXT NOT NULL, active INTEGER NOT NULL, text TEXT NOT NULL,
  who TEXT NOT NULL, worst REAL NOT NULL, spells INTEGER NOT NULL, shelved_until_ms INTEGER);
CREATE TABLE cook(id INTEGER PRIMARY KEY, dish TEXT NOT NULL, food TEXT NOT NULL, plan TEXT NOT NULL,
  zone TEXT NOT NULL, began_boot INTEGER NOT NULL, began_ms INTEGER NOT NULL, ended_boot INTEGER, ended_ms INTEGER,
  kept INTEGER NOT NULL DEFAULT 1);
CREATE TABLE outbox(id TEXT PRIMARY KEY, channel TEXT NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL,
  boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL, attempts INTEGER NOT NULL, state TEXT NOT NULL,
  error TEXT NOT NULL, done_boot INTEGER, done_ms INTEGER);
CREATE INDEX outbox_pending ON outbox(boot) WHERE state = 'pending';
CREATE TABLE memory(key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE damaged(id INTEGER PRIMARY KEY, file TEXT NOT NULL, boot INTEGER NOT NULL, boot_ms INTEGER NOT NULL,
  what TEXT NOT NULL, cooks TEXT NOT NULL);
CREATE TABLE seq(i INTEGER PRIMARY KEY);
INSERT INTO seq SELECT value FROM (WITH RECURSIVE n(value) AS (SELECT 0 UNION ALL SELECT value + 1 FROM n
  WHERE value < 899) SELECT value FROM n);
)sql";

constexpr char const* first_view_text = R"sql(
CREATE VIEW raw_reading(calibration, boot, boot_ms, raw, quality) AS
  SELECT p.calibration, p.boot,
    p.t0 + s.i*p.every + CASE WHEN p.track IS NULL THEN 0 ELSE k.base + k.step*(@track_code - 1) END,
    (p.base + p.step*(@packed_code - 1))/18000.0,
    CASE WHEN substr(p.marks, s.i + 1, 1) = '?' THEN 'doubtful' ELSE 'good' END
  FROM packed p JOIN seq s ON s.i < p.slots LEFT JOIN track k ON k.id = p.track
  WHERE p.kind = 0 AND @packed_code > 0
  UNION ALL
  SELECT json_extract(r.value, '$[1]') + c.key - 2, t.boot, t.t0 + json_extract(r.value, '$[0]'),
    CAST(c.value AS INTEGER)*t.step/18000.0, CASE c.type WHEN 'text' THEN 'doubtful' ELSE 'good' END
  FROM tail t, json_each(t.v) r, json_each(r.value) c WHERE c.key > 1;
CREATE VIEW reading(probe, utc, celsius, quality, raw, boot, boot_ms, clock_certain) AS
  SELECT p.name, @utc(r.boot_ms), r.raw*c.gain + c.shift, r.quality, r.raw, r.boot, r.boot_ms, b.certain
  FROM raw_reading r JOIN calibration c ON c.id = r.calibration JOIN probe p ON p.id = c.probe
  JOIN boot b ON b.id = r.boot;
CREATE VIEW raw_minute(calibration, boot, k, n, min, max, sum) AS -- two rows for a minute in which the tail was packed
  SELECT calibration, boot, k, n, low, low + span, rest + n*low FROM (
    SELECT m.calibration, m.boot, m.k0 + s.i AS k, @value(n) AS n, @value(low) AS low, @value(span) AS span,
      @value(rest) AS rest FROM minutes m JOIN seq s ON s.i < m.slots) WHERE n > 0;
CREATE VIEW minute(probe, utc, readings, min, max, mean, boot, boot_ms) AS
  SELECT p.name, @utc(r.k*60000), r.n, r.min/18000.0*c.gain + c.shift, r.max/18000.0*c.gain + c.shift,
    r.sum/18000.0/r.n*c.gain + c.shift, r.boot, r.k*60000
  FROM raw_minute r JOIN calibration c ON c.id = r.calibration JOIN probe p ON p.id = c.probe
  JOIN boot b ON b.id = r.boot;
CREATE VIEW note(utc, subject, text) AS
  SELECT @utc(e.boot_ms), e.subject, e.text FROM event e JOIN boot b ON b.id = e.boot WHERE e.name = 'note';
CREATE VIEW alarm(utc, alarm, name, subject, change, state, priority, text) AS
  SELECT @utc(a.boot_ms), a.alarm, a.name, a.subject, a.change, a.state, a.priority, a.text
  FROM alarm_change a JOIN boot b ON b.id = a.boot;
)sql";

// "@utc(x)" and "@value(x)" with their argument, the others as they are.
std::string first_views() {
    std::string text = first_view_text;
    auto const replace = [&](std::string const& token, auto const& with) {
        for (auto at = text.find(token); at != std::string::npos; at = text.find(token)) {
            auto end = at + token.size();
            std::string argument;
            if (token.back() == '(') {
                auto const close = text.find(')', end);
                argument = text.substr(end, close - end);
                end = close + 1;
            }
            text.replace(at, end - at, with(argument));
        }
    };
    replace("@packed_code", [](auto const&) { return "(" + code_at("p.width", "p.codes") + ")"; });
    replace("@track_code", [](auto const&) { return "(" + code_at("k.width", "k.codes") + ")"; });
    replace("@value(", [](std::string const& name) {
        return "(m." + name + "_base+m." + name + "_step*((" +
               code_at("m." + name + "_width", "m." + name + "_codes") + ")-1))";
    });
    replace("@utc(", [](std::string const& ms) {
        return "strftime('%Y-%m-%dT%H:%M:%fZ',(b.offset_ms+" + ms + ")/1000.0,'unixepoch')";
    });
    return text;
}

// Version 1 kept kitchen files with the tokens and passwords that they could hold, version 2 with the paths
// and queries of addresses, versions 3 and 4 with a program's arguments and what stands in headers. What is
// overwritten is zeroed in the file, too.
void remove_secrets(Database& db) {
    std::vector<std::pair<std::int64_t, std::string>> kept;
    {
        Statement rows(db, "SELECT id, text FROM setting");
        while (rows.step()) kept.emplace_back(rows.integer(0), rows.text(1));
    }
    for (auto const& [id, text] : kept)
        if (auto const clean = without_secrets(text); clean != text)
            db.prepared("UPDATE setting SET text=? WHERE id=?").with(clean, id).run();
}

struct Step {
    char const* tables;
    std::string (*views)();
    void (*rows)(Database&);
};
std::array<Step, 5> const steps{{{first_tables, first_views, nullptr},
                                 {"", first_views, remove_secrets},
                                 {"", first_views, remove_secrets},
                                 {attempt_table, first_views, nullptr},
                                 {"", first_views, remove_secrets}}};

std::string other_program(Database& db, std::int64_t id) {
    if (!db.ok() || id == application_id) return {};
    return db.path() +
           " is an SQLite file of another program: give the logbook another name in the kitchen file";
}
std::string too_new(Database& db, std::int64_t version) {
    if (!db.ok() || version <= newest_version()) return {};
    return db.path() + " was written by a newer ingled (logbook version " + std::to_string(version) +
           ", this one knows up to " + std::to_string(newest_version()) +
           "): install that version, or move the file away";
}

// Views hold no data: each version makes its own anew.
void drop_views(Database& db) {
    std::string drops;
    {
        Statement views(db, "SELECT name FROM sqlite_master WHERE type='view'");
        while (views.step()) drops += "DROP VIEW " + views.text(0) + ";";
    }
    db.run(drops.c_str());
}

}  // namespace

int newest_version() {
    return static_cast<int>(steps.size());
}

std::string migrate(Database& db, int version) {
    auto const now = db.number("PRAGMA user_version");
    bool const empty = db.number("SELECT count(*) FROM sqlite_master") == 0;
    if (!db.ok()) return {};
    if (!empty)
        if (auto text = other_program(db, db.number("PRAGMA application_id")); !text.empty()) return text;
    if (auto text = too_new(db, now); !text.empty()) return text;
    if (now > 0 && now < version) db.run("PRAGMA secure_delete=ON");
    for (auto at = now; at < version && db.ok(); ++at) {
        auto const& step = steps[static_cast<std::size_t>(at)];
        Transaction transaction(db);
        drop_views(db);
        db.run(step.tables);
        db.run(step.views().c_str());
        if (step.rows) step.rows(db);
        db.run(("PRAGMA application_id=" + std::to_string(application_id)).c_str());
        db.run(("PRAGMA user_version=" + std::to_string(at + 1)).c_str());
        transaction.commit();
    }
    // The write-ahead file held what was overwritten.
    if (now > 0 && now < version) db.run("PRAGMA secure_delete=OFF; PRAGMA wal_checkpoint(TRUNCATE)");
    return {};
}

std::string readable(Database& db) {
    if (db.number("PRAGMA user_version") == 0 && db.number("SELECT count(*) FROM sqlite_master") == 0 &&
        db.ok())
        return db.path() + " is empty: ingled has not written to it yet";
    if (auto text = other_program(db, db.number("PRAGMA application_id")); !text.empty()) return text;
    return too_new(db, db.number("PRAGMA user_version"));
}

}  // namespace ingle::logbook
