#include "daemon/logbook/keeper.hpp"

#include <sys/stat.h>
#include <sys/statvfs.h>

#include <algorithm>
#include <cstdio>

#include "daemon/logbook/guarded_files.hpp"

namespace ingle::logbook {
namespace {

constexpr auto log_pause = std::chrono::minutes(1);   // of one kind of trouble, one line a minute
constexpr Span patience_with_locks(30'000);           // somebody else's lock is no trouble before
constexpr auto seal_pause = std::chrono::minutes(1);  // after a sealing that failed
constexpr std::int64_t low_space = 100LL << 20;

std::int64_t size_of(std::string const& path) {
    struct stat s {};
    return stat(path.c_str(), &s) == 0 ? static_cast<std::int64_t>(s.st_size) : 0;
}
bool exists(std::string const& path) {
    struct stat s {};
    return stat(path.c_str(), &s) == 0;
}

// A person reads this: what is wrong and what helps first, what only a maintainer understands last.
std::string in_words(Failure const& failure) {
    auto const said = [&]() -> std::string {
        switch (failure.kind()) {
            case SQLITE_FULL:
                return "the disk is full. Free some space on it; readings wait in memory until then.";
            case SQLITE_READONLY:
                return "the disk or the file cannot be written. A worn card turns read-only.";
            case SQLITE_CANTOPEN:
            case SQLITE_PERM:
                return "the logbook cannot be opened. Check that its directory exists and belongs to the "
                       "daemon's user.";
            case SQLITE_BUSY:
            case SQLITE_LOCKED:
                return "another program holds the logbook. Close it.";
            default:
                return "the logbook cannot be used. Readings wait in memory and it is tried again.";
        }
    }();
    return said + " (" + failure.text + ")";
}

std::string waiting_rows_damaged(std::string const& path, std::uint32_t frame) {
    return "the write-ahead file of the logbook " + path + " is damaged from its page " +
           std::to_string(frame) + " on";
}

// Failures that the same batch would meet again for ever.
bool refused_for_good(int kind) {
    return kind == SQLITE_CONSTRAINT || kind == SQLITE_MISMATCH || kind == SQLITE_TOOBIG ||
           kind == SQLITE_RANGE;
}

}  // namespace

Keeper::Keeper(WriterOptions const& options, Callbacks const& callbacks)
    : options_(options), callbacks_(callbacks), store_(options) {}

Resumed Keeper::start() {
    Resumed resumed;
    // Another program's lock passes: what the last run left behind is worth waiting for.
    for (int attempt = 0; attempt < 2 && !open(resumed, options_.started); ++attempt) {
        if (!busy_since_) break;
        resumed = {};
    }
    state_read_ = resumed.known;
    if (!store_.is_open())
        resumed.text = trouble_ ? trouble_->text : last_failure_;
    else if (!last_event_.empty())
        resumed.text = last_event_;
    return resumed;
}

bool Keeper::open(Resumed& resumed, Instant at) {
    if (auto const frame = damaged_before_it_is_opened(options_.path); frame != 0) {
        rescue(waiting_rows_damaged(options_.path, frame), at, resumed);
        return store_.is_open();
    }
    if (store_.open(resumed)) {
        if (written_before_ && !store_.adopt(*written_before_, at.time_since_epoch().count()))
            store_.take_failure();
        written_before_.reset();
        files_.note(options_.path);
        return true;
    }
    auto const failure = store_.take_failure();
    if (!failure) {
        failing_ = true;
        next_try_ = Steady::now() + std::chrono::seconds(30);
        tell(store_.refused(), at);
        return false;
    }
    if (failure->kind() != SQLITE_CORRUPT && failure->kind() != SQLITE_NOTADB)
        return failed(*failure, at), false;
    resumed = {};
    rescue(failure->text, at, resumed);
    return store_.is_open();
}

bool Keeper::write(Batch& batch, Instant at) {
    if (store_.is_open()) look_at_files(at);
    if (failing_ && Steady::now() < next_try_ && !store_.is_open()) return false;
    if (!store_.is_open()) {
        Resumed resumed;
        bool const opened = open(resumed, at);
        if (resumed.known && !std::exchange(state_read_, true)) late_ = std::move(resumed);
        if (!opened) return false;
        store_.has_stored_it() ? batch.drop_tried() : batch.none_tried();
    }
    if (batch.empty() && !trouble_) return failing_ = false, true;
    if (batch.empty() ? store_.try_to_write() : store_.write(batch)) {
        failing_ = false;
        busy_since_.reset();
        files_.note(options_.path);
        return true;
    }
    auto const failure = store_.take_failure().value_or(Failure{SQLITE_ERROR, "unknown"});
    if (refused_for_good(failure.kind())) {
        auto const dropped = store_.write_one_by_one(batch);
        say("not-recorded", std::to_string(dropped) + " entries were refused: " + failure.text);
        return true;
    }
    batch.all_tried();
    failed(failure, at);
    return false;
}

void Keeper::failed(Failure const& failure, Instant at) {
    store_.close();
    failing_ = true;
    last_failure_ = in_words(failure);
    next_try_ = Steady::now() + options_.retry_every;
    if (failure.kind() == SQLITE_CORRUPT || failure.kind() == SQLITE_NOTADB) {
        Resumed older;  // than what the running kitchen knows
        rescue(failure.text, at, older);
        return;
    }
    if (pages_missed() != std::exchange(pages_missed_, pages_missed())) {
        next_try_ = Steady::now() + std::chrono::milliseconds(100);
        return say("logbook-side-files", "the index beside the logbook " + options_.path +
                                             " was shortened while it was written to; it is made anew");
    }
    if (failure.kind() == SQLITE_BUSY || failure.kind() == SQLITE_LOCKED) {
        if (!busy_since_) busy_since_ = at;
        if (at - *busy_since_ < patience_with_locks) return;
    }
    tell(last_failure_, at);
}

void Keeper::tell(std::string text, Instant at) {
    log(text);
    if (trouble_) return;
    trouble_ = Trouble{std::move(text), busy_since_.value_or(at)};
    if (callbacks_.trouble) callbacks_.trouble(*trouble_);
}

void Keeper::recovered(Recovered r, Instant at) {
    r.since = trouble_->since, r.until = at;
    auto const length = std::to_string((r.until - r.since).count() / 1000) + " s";
    r.text = "recording again after " + length;
    r.text += r.lost == 0
                  ? ", of which nothing was lost"
                  : ", " + std::to_string(r.lost) + " readings over " +
                        std::to_string((r.span->second - r.span->first).count() / 1000) + " s were lost";
    trouble_.reset();
    busy_since_.reset();
    last_log_ = {};
    log(r.text);
    if (callbacks_.recovered) callbacks_.recovered(r);
}

void Keeper::rescue(std::string const& what, Instant at, Resumed& resumed) {
    Salvage written;
    bool const knows = store_.add_what_was_written(written);
    store_.close();
    auto const moved = move_aside(options_.path);
    if (moved.empty())
        return tell(what + ", and it cannot be moved aside: check the directory's permissions", at);
    auto saved = salvage(moved, options_.vfs);
    saved.what = what;
    if (knows) store_.add_what_was_written(saved);
    Resumed empty;
    // Opened twice: what was adopted is read as what any run left is.
    if (store_.open(empty) && store_.adopt(saved, at.time_since_epoch().count()) && store_.open(resumed)) {
        failing_ = false;
        files_.note(options_.path);
        auto const state =
            state_read_ || options_.after.valid() ? "What cooks, is held and is timed goes on; what was "
                                                    "recorded before is in the kept one only."
            : saved.memory_whole
                ? "What was cooking, held and timed was read out of it, perhaps as of earlier: look whether "
                  "that is right."
                : "What was cooking, held and timed before is not known here; begin it again.";
        say("logbook-damaged", "The logbook was damaged and a new one was begun (kept as " + moved +
                                   (saved.cooks.empty() ? "" : ", with the cooks " + saved.cooks) + "; " +
                                   what + "). " + state);
        return;
    }
    auto const failure = store_.take_failure();
    store_.close();
    tell(failure ? in_words(*failure) : store_.refused(), at);
}

void Keeper::look_at_files(Instant at) {
    switch (files_.look()) {
        case SideFiles::Change::none:
            return check_waiting_rows(at);
        case SideFiles::Change::logbook_gone:
            return save_lost_file();
        case SideFiles::Change::logbook_shortened:
            return check_shortened(at);
        case SideFiles::Change::beside_changed:
            check_waiting_rows(at);
            if (store_.is_open()) empty_side_files();
    }
}

// Somebody deleted or replaced the file under the open connection: what it holds is saved beside or in its
// place.
void Keeper::save_lost_file() {
    bool const replaced = exists(options_.path);
    auto const to = replaced ? free_name(options_.path, ".saved-") : options_.path;
    files_.remove_own();  // they must not be taken for the new one's, nor the new one's for them
    Statement(store_.database(), "VACUUM INTO ?").with(to).run();
    auto const failure = store_.take_failure();
    Salvage written;
    if (store_.add_what_was_written(written)) written_before_ = std::move(written);
    store_.close();
    say("logbook-missing",
        "the logbook " + options_.path + " was deleted or replaced while it was written to; " +
            (failure ? "what it held is lost: " + failure->text : "what it held was saved as " + to));
}

// The rows that wait in the write-ahead file go into the logbook; both side files are made anew.
void Keeper::empty_side_files() {
    store_.database().run("PRAGMA wal_checkpoint(TRUNCATE)");
    store_.take_failure();
    store_.close();
    say("logbook-side-files",
        "a file beside the logbook " + options_.path +
            " was deleted, replaced or shortened while it was written to; both are made anew");
}

void Keeper::check_shortened(Instant at) {
    std::string found;
    {
        Database fresh;  // what the open connection has in memory is no proof
        if (fresh.open(options_.path, SQLITE_OPEN_READONLY, options_.vfs)) {
            sqlite3_busy_timeout(fresh.handle(), options_.busy_ms);
            found = fresh.number("SELECT count(*) FROM sqlite_master") == 0
                        ? "it is empty"
                        : fresh.word("PRAGMA quick_check(1)");
        }
        if (auto const failure = fresh.take_failure()) found = failure->text;
    }
    if (found == "ok") return files_.note(options_.path);
    failed(
        {SQLITE_CORRUPT, "the logbook " + options_.path + " was shortened while it was written to: " + found},
        at);
}

// A frame that somebody or a worn card changed is read as it is, and ends the write-ahead file at the next
// start.
void Keeper::check_waiting_rows(Instant at) {
    auto const now = Steady::now();
    if (now < next_check_) return;
    std::uint32_t damaged = 0;
    {
        Transaction reading(store_.database(), false);  // nobody begins the write-ahead file anew meanwhile
        store_.database().number("SELECT 1 FROM meta");
        damaged = first_damaged_frame(options_.path);
    }
    store_.take_failure();  // the write that follows meets it, too
    auto const took = Steady::now() - now;
    next_check_ = Steady::now() + std::max<Steady::duration>(options_.commit_every, 200 * took);
    if (damaged != 0) failed({SQLITE_CORRUPT, waiting_rows_damaged(options_.path, damaged)}, at);
}

void Keeper::tidy(std::int64_t newest, Instant at) {
    if (!checked_) {
        checked_ = true;
        if (!store_.looks_sound()) {
            if (auto const failure = store_.take_failure()) return failed(*failure, at);
        }
    }
    if (store_.seal_due(newest) && Steady::now() >= next_seal_ && !store_.seal())
        if (auto const failure = store_.take_failure()) {
            if (failure->kind() == SQLITE_CORRUPT || failure->kind() == SQLITE_NOTADB)
                return failed(*failure, at);
            // Sealing needs more room than a commit, and can wait: whether the disk still takes readings is
            // for the next commit to find out.
            next_seal_ = Steady::now() + seal_pause;
            log("the readings of the last hour could not be packed yet: " + failure->text);
        }
    if (Steady::now() >= next_look_) look_around();
}

void Keeper::look_around() {
    next_look_ = Steady::now() + options_.look_every;
    auto const wal = size_of(options_.path + "-wal");
    bytes_ = size_of(options_.path) + wal;
    if (wal > options_.large_wal && !large_wal_told_)
        say("logbook-held", "the write-ahead file has grown to " + std::to_string(wal >> 20) +
                                " MB: some program keeps the logbook open for reading; close it");
    large_wal_told_ = wal > options_.large_wal;
    struct statvfs space {};
    if (statvfs(options_.path.c_str(), &space) != 0) return;
    auto const free = static_cast<std::int64_t>(space.f_bavail) * static_cast<std::int64_t>(space.f_frsize);
    if (free < low_space && !low_space_told_)
        say("disk-low",
            "only " + std::to_string(free >> 20) + " MB are free where the logbook is: make room");
    low_space_told_ = free < low_space;
}

void Keeper::finish(Instant at) {
    if (store_.is_open() && store_.end_run(at.time_since_epoch().count())) {
        // So that the file alone is the whole logbook for whoever copies it, whoever else has it open.
        store_.database().run("PRAGMA wal_checkpoint(TRUNCATE)");
        store_.take_failure();
    }
    store_.close();
}

void Keeper::say(std::string const& name, std::string const& text) {
    last_event_ = text;
    if (callbacks_.event) callbacks_.event(name, text);
    if (callbacks_.log) callbacks_.log(text);
}

void Keeper::log(std::string const& line) {
    if (!callbacks_.log) return;
    auto const now = Steady::now();
    if (last_log_ != Steady::time_point{} && now - last_log_ < log_pause) {
        ++unlogged_;
        return;
    }
    callbacks_.log(unlogged_ ? line + " (and " + std::to_string(unlogged_) + " times before)" : line);
    last_log_ = now;
    unlogged_ = 0;
}

}  // namespace ingle::logbook
