// The logbook's writing end: everything that happened, kept in one SQLite file. Owned by daemon/run; its
// functions are called from the io thread and never wait for the disk, a thread of its own writes. Nothing is
// keyed on wall time.
#pragma once

#include <cstdint>
#include <functional>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"

namespace ingle::logbook {

// A probe as the kitchen file has it. Another driver or device under an old name is a replaced probe: the old
// readings stay with the old one.
struct ProbeIdentity {
    std::string name, driver, device;  // device: the driver's keys as one text, e.g. "port=... channel=T1"
    std::vector<CalibrationPoint> calibration;
};

struct WriterOptions {
    std::string path;                   // of the SQLite file
    std::vector<ProbeIdentity> probes;  // by number, as are the names below
    std::vector<std::string> vessels, dishes;
    std::string settings;                 // the kitchen file's text, kept once per change
    std::string zone;                     // IANA name, for showing a cook in its own zone
    std::string boot_id;                  // "" = the kernel's, see kernel_boot_id()
    Instant started{};                    // now
    ClockAnchor clock;                    // as known now
    Span commit_every{10'000};            // ordinary readings are on disk at most this late
    Span seal_every{3'600'000};           // how often the open tail is packed
    Span retry_every{5'000};              // after a failure
    std::size_t most_readings = 500'000;  // waiting at most (24 bytes each); then the oldest are given up
    std::size_t most_others = 20'000;     // alarms, events, notices waiting at most
    int busy_ms = 5000;                   // how long another program's lock is waited for
    Span look_every{60'000};              // size and free space
    std::int64_t large_wal = 50LL << 20;  // bytes; a longer write-ahead file is told
    int keep_days = 0;                    // raw readings outside kept cooks; 0 = for ever. Roll-ups stay
    std::string vfs;                      // SQLite VFS, for tests; "" = the system's
    std::shared_future<void> after;  // the file is opened when this is ready: another writer has closed it
};

// With this the ids of the daily signs of life begin; the local date follows.
inline constexpr char const* sign_of_life_prefix = "life-";

// A message for one channel, kept until it is delivered. `id` is the sender's own and unique.
struct OutboxRow {
    std::string id, channel, kind, body;
    Instant at{};
    int attempts = 0;
    std::string state = "pending";  // "pending", "sent", "failed"
    std::string error;              // of the last attempt
    std::optional<Instant> done;    // when it left "pending"
};

// One attempt to deliver the message `notice`, or that it was given up.
struct DeliveryAttempt {
    std::string notice;
    Instant at{};
    std::string outcome;  // "delivered", "retry", "gave-up"
    std::string reason;   // "" if delivered
};

struct CookBegun {
    std::int64_t id = 0;  // the core's number of this run
    std::string dish, food, plan;
    Instant at{};
};

struct Trouble {
    std::string text;  // one sentence: what fails, on which file, and what to do
    Instant since{};
};
struct Recovered {
    Instant since{}, until{};
    std::size_t lost = 0;                             // readings that could not be kept
    std::size_t lost_others = 0;                      // alarms, events, notices: only after `most_others`
    std::optional<std::pair<Instant, Instant>> span;  // first and last reading lost
    std::string text;
};

// How the clock of the boot that something was written in lies to this one's.
struct PastBoot {
    std::int64_t id = 0;
    bool this_one = false;
    std::int64_t offset_ms = 0;  // wall = its time + offset
    bool proven = false;         // that offset is right
};

// What the last run left behind, for Kitchen::recall and for the notices.
struct Resumed {
    bool recording = false;  // the file is open; otherwise `text` says why not, and it is tried again
    bool known = false;      // what the file held is in here
    Memory memory;           // its instants are of `memory_boot`
    PastBoot memory_boot, off_boot;
    std::optional<Instant> off_at;  // the last sign of life, in the time of `off_boot`; empty = none
    Instant started;                // of this run
    std::int64_t offset_ms = 0;     // of this boot as the logbook takes it: never before the rows it has
    std::vector<OutboxRow> pending;
    std::vector<std::pair<std::string, Instant>>
        sent;                                    // the channel and when, of the last hour; oldest first
    std::vector<std::string> signs;              // the ids of the newest signs of life
    std::int64_t last_alarm = 0, last_cook = 0;  // highest numbers ever used
    std::string text;                            // trouble, or what was moved aside
};

// That an outage before this boot, or before the one that the memory is of, has no length yet. It stands in
// the memory itself, so that it can be measured after the next power cut, too: with that one, as one sum.
struct Unmeasured {
    std::int64_t offset_ms = 0;  // wall = this boot's time + offset, if no time had passed in the outages
    std::int64_t memory_ms = 0;  // the same of what is older than `from`: its time as it stands in the memory
    Instant from;                // where this boot was taken up: what is older is from before them
};
// As it is at the start of this run. Empty: nothing is unmeasured, or it never can be.
std::optional<Unmeasured> unmeasured(Resumed const& resumed, ClockAnchor const& clock);
void put(Memory& memory, Unmeasured const& outage);

// Seen from this boot, whose clock is `clock`. As long as nothing vouches for it, instants of another boot
// are the latest that they can be, and how long nothing was watched is not known.
Memory memory_in_this_boot(Resumed const& resumed, ClockAnchor const& clock);
std::optional<Instant> off_since(Resumed const& resumed, ClockAnchor const& clock);
// That is the sum of several outages, which end with the newest one.
bool is_a_sum(Resumed const& resumed, ClockAnchor const& clock);
// It will be known as soon as something vouches for this boot's clock.
bool off_since_can_be_learnt(Resumed const& resumed, ClockAnchor const& clock);

// Called on the writer's thread: post them on. `durable`: everything up to that ticket is on disk.
struct Callbacks {
    std::function<void(Trouble const&)> trouble;
    std::function<void(Recovered const&)> recovered;
    std::function<void(std::string const& name, std::string const& text)>
        event;                                         // damage moved aside, low space
    std::function<void(std::string const& line)> log;  // at most one line a minute
    std::function<void(std::uint64_t ticket)> durable;
    std::function<void(Resumed)>
        opened;  // the file is open at last, after resume() had to say that it is not
};

struct Counts {
    std::size_t waiting = 0, lost = 0;  // readings: in the queue; given up since the start
    std::optional<Instant> last_commit;
    std::int64_t bytes = 0;  // of the file and its side files, as of the last minute
};

constexpr std::uint64_t never_durable = UINT64_MAX;  // the ticket of what was not taken

class Writer {
public:
    Writer(WriterOptions options, Callbacks callbacks);  // starts the thread; opens the file there
    ~Writer();                                           // stop(5 s)
    Writer(Writer const&) = delete;
    Writer& operator=(Writer const&) = delete;

    // Waits for the file to be open, or for the reason why not. Once, before the core starts. If it is not
    // open, `opened` is called when it is, and whoever took that up says so with taken_up(). Until then
    // nothing is remembered, for it would take the place of what the last run left.
    Resumed resume(Span limit = Span(2'000));
    void taken_up();

    // Each returns a ticket. Readings are written with the next commit; a fault that begins, and all the
    // others, cause one at once.
    std::uint64_t record(Recorded const& reading);
    std::uint64_t record(AlarmChanged const& change);
    std::uint64_t record(
        Event const& event);  // "note" with a time in the past is placed in the boot of that time
    // The whole of it; what did not change is not written, and what is not written yet it replaces.
    std::uint64_t remember(Memory memory);
    std::uint64_t anchor(Instant at, ClockAnchor clock);
    std::uint64_t calibrated(Instant at, int probe, std::vector<CalibrationPoint> points);
    std::uint64_t cook_begun(CookBegun cook);
    std::uint64_t cook_ended(std::int64_t id, Instant at);
    std::uint64_t keep_cook(std::int64_t id, bool keep);  // a kept cook (the default) is never thinned
    std::uint64_t put(OutboxRow row);                     // new, or changed by `id`
    std::uint64_t record(DeliveryAttempt attempt);
    void commit_now();

    std::uint64_t durable() const;  // the newest ticket of which all before it is on disk, too
    bool flush(Span limit);         // waits until everything so far is on disk; false: not in time
    // Flushes, marks a clean end; idempotent. One that stopped before its turn came (`after`) leaves the file
    // alone.
    void stop(Span limit = Span(5'000));
    std::optional<Trouble> trouble() const;
    Counts counts() const;

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle::logbook
