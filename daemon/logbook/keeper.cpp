#include "daemon/logbook/keeper.hpp"

#include <sys/stat.h>
#include <sys/statvfs.h>

#include <algorithm>
#include <cstdio>

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
std::uint64_t inode_of(std::string const& path) {
    struct stat s {};
    return stat(path.c_str(), &s) == 0 ? static_cast<std::uint64_t>(s.st_ino) : 0;
}

std::string remedy(int kind) {
    switch (kind) {
        case SQLITE_FULL:
            return ". Free some space on that disk; readings wait in memory until then";
        case SQLITE_READONLY:
            return ". The disk or the file cannot be written: a worn card turns read-only";
        case SQLITE_CANTOPEN:
        case SQLITE_PERM:
            return ". Check that the directory exists and belongs to the daemon's user";
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return ". Another program holds the file: close it";
        default:
            return ". Readings wait in memory and it is tried again";
    }
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
    state_read_ = resumed.recording;
    if (!store_.is_open())
        resumed.text = trouble_ ? trouble_->text : last_failure_;
    else if (!last_event_.empty())
        resumed.text = last_event_;
    return resumed;
}

bool Keeper::open(Resumed& resumed, Instant at) {
    if (store_.open(resumed)) {
        inode_ = inode_of(options_.path);
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
    if (store_.is_open() && file_replaced(at)) store_.close();
    if (!store_.is_open()) {
        Resumed resumed;
        if (!open(resumed, at)) return false;
        if (!std::exchange(state_read_, true)) late_ = std::move(resumed);
        store_.has_stored_it() ? batch.drop_tried() : batch.none_tried();
    }
    if (batch.empty() && !trouble_) return failing_ = false, true;
    if (batch.empty() ? store_.try_to_write() : store_.write(batch)) {
        failing_ = false;
        busy_since_.reset();
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
    last_failure_ = failure.text + remedy(failure.kind());
    next_try_ = Steady::now() + options_.retry_every;
    if (failure.kind() == SQLITE_CORRUPT || failure.kind() == SQLITE_NOTADB) {
        Resumed older;  // than what the running kitchen knows
        rescue(failure.text, at, older);
        return;
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
                  ? ", nothing was lost"
                  : ", " + std::to_string(r.lost) + " readings over " +
                        std::to_string((r.span->second - r.span->first).count() / 1000) + " s were lost";
    trouble_.reset();
    busy_since_.reset();
    last_log_ = {};
    log(r.text);
    if (callbacks_.recovered) callbacks_.recovered(r);
}

void Keeper::rescue(std::string const& what, Instant at, Resumed& resumed) {
    store_.close();
    auto const moved = move_aside(options_.path);
    if (moved.empty())
        return tell(what + ", and it cannot be moved aside: check the directory's permissions", at);
    auto saved = salvage(moved, options_.vfs);
    saved.what = what;
    Resumed empty;
    // Opened twice: what was adopted is read as what any run left is.
    if (store_.open(empty) && store_.adopt(saved, at.time_since_epoch().count()) && store_.open(resumed)) {
        failing_ = false;
        inode_ = inode_of(options_.path);
        say("logbook-damaged", "the logbook was damaged (" + what + "). It is kept as " + moved +
                                   (saved.cooks.empty() ? "" : ", with the cooks " + saved.cooks) +
                                   "; a new one was begun");
        return;
    }
    auto const failure = store_.take_failure();
    store_.close();
    tell(failure ? failure->text + remedy(failure->kind()) : store_.refused(), at);
}

// Somebody deleted or replaced the file under the open connection: what it holds is saved beside or in its
// place.
bool Keeper::file_replaced(Instant) {
    auto const now = inode_of(options_.path);
    if (now == inode_ || inode_ == 0) return false;
    auto const to = now == 0 ? options_.path : free_name(options_.path, ".saved-");
    // The side files of the lost file must not be taken for the new one's.
    std::remove((options_.path + "-wal").c_str());
    std::remove((options_.path + "-shm").c_str());
    Statement copy(store_.database(), "VACUUM INTO ?");
    copy.with(to).run();
    auto const failure = store_.take_failure();
    say("logbook-missing",
        "the logbook " + options_.path + " was deleted or replaced while it was written to; " +
            (failure ? "what it held is lost: " + failure->text : "what it held was saved as " + to));
    return true;
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
