// Store: from a batch to rows.
#include <algorithm>

#include "daemon/logbook/json.hpp"
#include "daemon/logbook/pack.hpp"
#include "daemon/logbook/store.hpp"

namespace ingle::logbook {
namespace {

std::int64_t ms(Instant at) {
    return at.time_since_epoch().count();
}
std::optional<std::int64_t> ms(std::optional<Instant> const& at) {
    if (!at) return std::nullopt;
    return ms(*at);
}

// Words of the file format: they stay as they are whatever the rest of the program calls things.
std::string_view word(Transition transition) {
    switch (transition) {
        case Transition::raised:
            return "raised";
        case Transition::worsened:
            return "worsened";
        case Transition::acknowledged:
            return "acknowledged";
        case Transition::cleared:
            return "cleared";
        case Transition::shelved:
            return "shelved";
        case Transition::unshelved:
            return "unshelved";
        case Transition::suppressed:
            return "suppressed";
        case Transition::unsuppressed:
            return "unsuppressed";
        case Transition::updated:
            return "updated";
    }
    return "updated";
}

struct Line {
    double gain = 1, shift = 0;
    std::string points = "[]";
};
// One point moves the scale, two points also stretch it.
Line line_through(std::vector<CalibrationPoint> const& points) {
    Line line;
    if (points.size() == 1) line.shift = points[0].is.celsius - points[0].reads.celsius;
    if (points.size() >= 2) {
        auto const span = points[1].reads.celsius - points[0].reads.celsius;
        if (span != 0) line.gain = (points[1].is.celsius - points[0].is.celsius) / span;
        line.shift = points[0].is.celsius - line.gain * points[0].reads.celsius;
    }
    line.points = "[";
    for (auto const& p : points) {
        line.points += line.points.size() > 1 ? ",[" : "[";
        append_number(line.points, p.reads.celsius);
        line.points += ',';
        append_number(line.points, p.is.celsius);
        line.points += ']';
    }
    line.points += ']';
    return line;
}

}  // namespace

Store::Newest Store::newest_rows() {
    auto& row = db_.prepared(
        "SELECT (SELECT max(id) FROM tail), (SELECT max(id) FROM fault), (SELECT max(id) FROM rejected),"
        " (SELECT max(id) FROM event), (SELECT max(id) FROM alarm_change)");
    Newest newest{};
    if (row.step())
        for (int i = 0; i < static_cast<int>(newest.size()); ++i)
            newest[static_cast<std::size_t>(i)] = row.integer(i);
    row.reset();
    return newest;
}

bool Store::has_stored_it() {
    auto const before = std::exchange(unsure_, std::nullopt);
    if (!before) return false;
    auto const now = newest_rows();
    bool stored = false;
    for (std::size_t i = 0; i < now.size(); ++i) stored = stored || now[i] > (*before)[i];
    // Its sync failed: nothing more is built on it before it is in the file itself.
    if (stored) db_.run("PRAGMA wal_checkpoint(PASSIVE)");
    return stored;
}

bool Store::write(Batch const& batch) {
    Transaction transaction(db_);
    auto const before = newest_rows();
    auto const new_slot = [](Other const& other) { return std::holds_alternative<SlotMade>(other); };
    if (std::ranges::any_of(batch.others, new_slot)) find_calibrations(batch);
    for (auto const& other : batch.others) std::visit([this](auto const& o) { put(o); }, other);
    if (batch.memory) put(*batch.memory);
    write_readings(batch);
    bool const complete = db_.ok();
    if (transaction.commit()) return true;
    if (complete) unsure_ = before;
    forget_rolled_back();
    return false;
}

std::size_t Store::write_one_by_one(Batch const& batch) {
    std::size_t refused = 0;
    auto const attempt = [&](auto&& write) {
        Transaction transaction(db_);
        write();
        if (transaction.commit()) return;
        forget_rolled_back();
        db_.take_failure();
        ++refused;
    };
    for (auto const& other : batch.others)
        attempt([&] { std::visit([this](auto const& o) { put(o); }, other); });
    if (batch.memory) attempt([&] { put(*batch.memory); });
    attempt([&] { write_readings(batch); });
    return refused;
}

void Store::write_readings(Batch const& batch) {
    waiting_.clear();
    auto reason = batch.reasons.begin();
    for (auto const& item : batch.readings) {
        auto& to = slot(item.slot);
        if (item.flags & (ReadingItem::rejected | ReadingItem::fault_begins)) {
            if (reason == batch.reasons.end()) continue;
            auto const& why = *reason++;
            if (item.flags & ReadingItem::fault_begins) {
                begin_spell(to, item.at, why.fault);
            } else {
                db_.prepared(
                       "INSERT INTO rejected(probe, boot, boot_ms, raw, kind, reason) VALUES(?,?,?,?,?,?)")
                    .with(to.probe, boot_, item.at, why.raw, to_word(why.fault.kind), why.fault.reason)
                    .run();
            }
        } else if (item.flags & ReadingItem::fault_goes_on) {
            extend_spell(to, item.at);
        } else {
            if (to.fault != 0) write_spell(to), to.fault = 0;
            if (to.calibration == 0) find_calibration(to, made_[item.slot]);
            TailReading r{item.at, to.calibration, item.units, (item.flags & ReadingItem::doubtful) != 0, {},
                          {}};
            if (item.flags & ReadingItem::has_cold_junction) r.cold_junction = item.cold_junction;
            if (item.flags & ReadingItem::has_word) r.word = item.word;
            waiting_.push_back(r);
        }
    }
    for (auto& [number, s] : slots_) write_spell(s);
    if (waiting_.empty()) return;
    auto const row = write_tail(waiting_);
    std::optional<std::string_view> side;
    if (!row.side.empty()) side = row.side;
    db_.prepared("INSERT INTO tail(boot, t0, step, v, side) VALUES(?,?,?,?,?)")
        .with(boot_, row.t0, row.step, row.v, side)
        .run();
    tail_from_ = std::min(tail_from_.value_or(INT64_MAX), row.t0);
    tail_readings_ += static_cast<std::int64_t>(waiting_.size());
}

Store::Slot& Store::slot(std::uint16_t number) {
    auto const found = slots_.find(number);
    if (found != slots_.end()) return found->second;
    // A reading of a probe that nobody announced is kept under a name that says so.
    put(SlotMade{number, number, 0, {}});
    return slots_[number];
}

void Store::begin_spell(Slot& slot, std::int64_t at, Fault const& fault) {
    write_spell(slot);
    db_.prepared("INSERT INTO fault(probe, boot, t0, t1, n, kind, reason) VALUES(?,?,?,?,1,?,?)")
        .with(slot.probe, boot_, at, at, to_word(fault.kind), fault.reason)
        .run();
    slot.fault = db_.ok() ? sqlite3_last_insert_rowid(db_.handle()) : 0;
    slot.t1 = at, slot.n = 1, slot.moved = false;
}

void Store::extend_spell(Slot& slot, std::int64_t at) {
    if (slot.fault == 0) {  // the file was opened anew since
        auto& last =
            db_.prepared("SELECT id, t1, n FROM fault WHERE probe=? AND boot=? ORDER BY id DESC LIMIT 1")
                .with(slot.probe, boot_);
        if (last.step()) {
            slot.fault = last.integer(0), slot.t1 = last.integer(1), slot.n = last.integer(2);
            last.reset();
        } else {
            return begin_spell(slot, at, Fault{FaultKind::unspecified, "its beginning was not recorded"});
        }
    }
    slot.t1 = std::max(slot.t1, at);
    ++slot.n;
    slot.moved = true;
}

void Store::write_spell(Slot& slot) {
    if (slot.fault == 0 || !slot.moved) return;
    db_.prepared("UPDATE fault SET t1=?, n=? WHERE id=?").with(slot.t1, slot.n, slot.fault).run();
    slot.moved = false;
}

std::string Store::name_of(Subject subject) const {
    auto const pick = [&](auto const& names, auto name) {
        auto const i = static_cast<std::size_t>(subject.number);
        return subject.number >= 0 && i < names.size() ? std::string(name(names[i]))
                                                       : std::to_string(subject.number);
    };
    auto const same = [](std::string const& name) -> std::string const& { return name; };
    switch (subject.kind) {
        case SubjectKind::probe:
            return pick(options_.probes, [](ProbeIdentity const& p) -> std::string const& { return p.name; });
        case SubjectKind::vessel:
            return pick(options_.vessels, same);
        case SubjectKind::dish:
            return pick(options_.dishes, same);
        case SubjectKind::kitchen:
            break;
    }
    return {};
}

void Store::put(AlarmChanged const& change) {
    auto const& a = change.alarm;
    last_alarm_ = std::max(last_alarm_, a.id);
    db_.prepared(
           "INSERT INTO alarm_change(boot, boot_ms, alarm, name, subject_kind, subject, change, state, "
           "priority,"
           " active, text, who, worst, spells, shelved_until_ms) VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)")
        .with(boot_, ms(change.at), a.id, a.type ? a.type->name : std::string_view(), to_word(a.subject.kind),
              name_of(a.subject), word(change.transition), to_word(a.state), to_word(a.priority), a.active,
              a.text, a.acknowledged_by, a.worst, a.spells, ms(a.shelved_until))
        .run();
}

void Store::put(Event const& event) {
    std::optional<std::string> numbers;
    if (!event.numbers.empty()) {
        numbers = "{";
        for (auto const& [key, value] : event.numbers) {
            if (numbers->size() > 1) *numbers += ',';
            append_quoted(*numbers, key);
            *numbers += ':';
            if (value - value == 0)
                append_number(*numbers, value);
            else
                *numbers += "null";
        }
        *numbers += '}';
    }
    auto const at = place(ms(event.at));
    db_.prepared(
           "INSERT INTO event(boot, boot_ms, name, subject_kind, subject, text, numbers) "
           "VALUES(?,?,?,?,?,?,?)")
        .with(at.boot, at.ms, event.name, to_word(event.subject.kind), name_of(event.subject), event.text,
              numbers)
        .run();
}

void Store::put(Memory const& memory) {
    if (!memory_known_) read_memory();
    auto const& now = memory.all();
    for (auto const& [key, value] : now) {
        auto const before = stored_memory_.find(key);
        if (before != stored_memory_.end() && before->second == value) continue;
        db_.prepared("INSERT INTO memory VALUES(?,?) ON CONFLICT(key) DO UPDATE SET value=excluded.value")
            .with(key, value)
            .run();
    }
    for (auto const& [key, value] : stored_memory_)
        if (now.find(key) == now.end()) db_.prepared("DELETE FROM memory WHERE key=?").with(key).run();
    stored_memory_ = now;
    if (memory_boot_ != boot_) set_meta("memory_boot", std::to_string(boot_));
    memory_boot_ = boot_;
}

void Store::put(Anchored const& anchor) {
    db_.prepared("INSERT INTO anchor(boot, boot_ms, wall_ms, certain) VALUES(?,?,?,?)")
        .with(boot_, anchor.at, anchor.at + anchor.clock.offset_ms, anchor.clock.certain)
        .run();
    if (anchor.clock.proven || !clock_.clock.proven) clock_ = anchor;
    set_offset(anchor.clock);
}

void Store::put(SlotMade const& made) {
    find_calibration(make_slot(made), made);
}

Store::Slot& Store::make_slot(SlotMade const& made) {
    made_[made.slot] = made;
    auto const p = static_cast<std::size_t>(made.probe);
    auto const identity = p < options_.probes.size()
                              ? options_.probes[p]
                              : ProbeIdentity{"probe-" + std::to_string(made.probe), "unknown", "", {}};
    Slot to;
    auto& known =
        db_.prepared("SELECT id FROM probe WHERE name=? AND driver=? AND device=? ORDER BY id DESC LIMIT 1")
            .with(identity.name, identity.driver, identity.device);
    if (known.step()) {
        to.probe = known.integer(0);
        known.reset();
    } else {
        db_.prepared("INSERT INTO probe(name, driver, device) VALUES(?,?,?)")
            .with(identity.name, identity.driver, identity.device)
            .run();
        to.probe = db_.ok() ? sqlite3_last_insert_rowid(db_.handle()) : 0;
    }
    return slots_[made.slot] = to;
}

// What was rolled back may have held their rows, and the memory that was thought to be stored.
void Store::forget_rolled_back() {
    for (auto& [number, slot] : slots_) slot.calibration = slot.fault = 0;
    memory_known_ = false;
}

// Of readings from before a new calibration, before that one: the newest of a probe is to be its last row.
void Store::find_calibrations(Batch const& batch) {
    constexpr auto no_value = ReadingItem::rejected | ReadingItem::fault_begins | ReadingItem::fault_goes_on;
    for (auto const& item : batch.readings) {
        auto const to = slots_.find(item.slot);
        if (to != slots_.end() && to->second.calibration == 0 && !(item.flags & no_value))
            find_calibration(to->second, made_[item.slot]);
    }
}

void Store::find_calibration(Slot& to, SlotMade const& made) {
    auto const line = line_through(made.points);
    auto& last = db_.prepared("SELECT id, points FROM calibration WHERE probe=? ORDER BY id DESC LIMIT 1")
                     .with(to.probe);
    bool const have = last.step();
    if (have && last.view(1) == line.points) to.calibration = last.integer(0);
    last.reset();
    if (to.calibration == 0) {
        db_.prepared("INSERT INTO calibration(probe, boot, boot_ms, points, gain, shift) VALUES(?,?,?,?,?,?)")
            .with(to.probe, boot_, made.at, line.points, line.gain, line.shift)
            .run();
        to.calibration = db_.ok() ? sqlite3_last_insert_rowid(db_.handle()) : 0;
    }
}

void Store::put(CookBegun const& cook) {
    running_[cook.id] = cook;
    last_cook_ = std::max(last_cook_, cook.id);
    db_.prepared(
           "INSERT INTO cook(id, dish, food, plan, zone, began_boot, began_ms) VALUES(?,?,?,?,?,?,?)"
           " ON CONFLICT(id) DO UPDATE SET ended_boot=NULL, ended_ms=NULL"  // its end was taken back
           " WHERE dish=excluded.dish")
        .with(cook.id, cook.dish, cook.food, cook.plan, options_.zone, boot_, ms(cook.at))
        .run();
}

void Store::put(CookEnded const& cook) {
    running_.erase(cook.id);
    db_.prepared("UPDATE cook SET ended_boot=?, ended_ms=? WHERE id=?").with(boot_, cook.at, cook.id).run();
}

void Store::put(CookKept const& cook) {
    db_.prepared("UPDATE cook SET kept=? WHERE id=?").with(cook.keep, cook.id).run();
}

void Store::put(OutboxRow const& row) {
    if (row.state == "pending")
        pending_[row.id] = row;
    else
        pending_.erase(row.id);
    std::optional<std::int64_t> done_boot;
    if (row.done) done_boot = boot_;
    db_.prepared(
           "INSERT INTO outbox VALUES(?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT(id) DO UPDATE SET "
           "attempts=excluded.attempts,"
           " state=excluded.state, error=excluded.error, done_boot=excluded.done_boot, "
           "done_ms=excluded.done_ms")
        .with(row.id, row.channel, row.kind, row.body, boot_, ms(row.at), row.attempts, row.state, row.error,
              done_boot, ms(row.done))
        .run();
}

void Store::put(DeliveryAttempt const& attempt) {
    db_.prepared("INSERT INTO attempt(notice, boot, boot_ms, outcome, reason) VALUES(?,?,?,?,?)")
        .with(attempt.notice, boot_, ms(attempt.at), attempt.outcome, attempt.reason)
        .run();
}

}  // namespace ingle::logbook
