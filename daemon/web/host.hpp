// What the web server asks of the rest of the daemon. Declared here, implemented in daemon/run. Everything is
// called on the io_context thread; a reply may be called at once or later, on that thread, exactly once.
// Wall times are milliseconds since 1970 UTC.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/civil_time/time_zone.hpp"
#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/view.hpp"

namespace ingle {

using WallMs = std::int64_t;

struct Outcome {
    bool done = false;
    std::string text;  // what was done, or why not: one sentence
};

template <class T>
struct Answer {  // of the logbook; `error` set: it cannot be read, and why
    T value{};
    std::string error;
};
template <class T>
using Reply = std::function<void(T)>;

// While the time is not known (no offset in the view), wall time counts from the boot.
struct TimeSpan {
    WallMs from = 0, to = 0;  // from <= at < to
};

struct HistoryQuery {
    TimeSpan span;
    std::vector<std::string> probes;  // empty: all that have readings in the span
    Span grain{0};                    // width of a point; 0 = each reading
    std::size_t most = 20'000;        // points of all probes together; more is an error that names the grain
};

struct HistoryPoint {
    WallMs at = 0;                         // its begin
    std::optional<double> min, mean, max;  // degC; empty = no value in it
    std::int64_t count = 0, faults = 0;    // readings with and without a value
};
struct HistorySeries {
    std::string probe;
    std::vector<HistoryPoint> points;
};
struct HistoryGap {
    std::string probe;  // "" = the daemon was off
    WallMs from = 0, to = 0;
    std::string reason;
};
struct PastEvent {
    WallMs at = 0;
    std::string name, subject, text;
    std::vector<std::pair<std::string, double>> numbers;
};
struct History {
    std::vector<HistorySeries> series;
    std::vector<HistoryGap> gaps;
    std::vector<PastEvent> events;  // notes, doors, stages
};

struct PastAlarm {
    std::int64_t id = 0;
    std::string alarm, subject, text, acknowledged_by;
    Priority priority = Priority::medium;
    WallMs raised = 0;
    std::optional<WallMs> acknowledged, cleared;
    std::optional<double> worst;
};

struct PastPlace {
    std::string vessel;  // that a dish was in; "" = the probe was in its core
    std::string probe;   // of the vessel's medium; "" = it had none
    WallMs from = 0;
    std::optional<WallMs> to;  // empty: so still
};
struct PastReadWith {
    std::vector<PastPlace> cores, vessels;  // oldest first
};
struct PastCook {
    std::int64_t number = 0;
    std::string dish, food, plan;
    WallMs began = 0;
    std::optional<WallMs> ended;                 // empty: still running
    bool taken_back = false;                     // it counts as not begun
    std::optional<PastReadWith> read_with = {};  // empty: not known
};

struct ExportQuery {
    TimeSpan span;
    std::vector<std::string> probes;  // empty: all
    bool elapsed = false;             // time in seconds from the start instead of ISO 8601
};
struct ExportPage {      // a piece of a recording (CSV); the first one begins with the header
    std::string text;    // at most about 256 KiB
    std::string cursor;  // ask for the next piece with it; "" = that was the last
};

struct ChannelStatus {
    std::string name, kind;
    std::string trouble;  // "" = delivers
    std::int64_t pending = 0, delivered = 0, given_up = 0;
    std::optional<Instant> last_beat;            // of one that gives signs of life and carries no notices
    std::optional<Instant> last_delivered = {};  // by this run, recorded or not; tests included
};
struct PendingNotice {
    std::string id, channel, kind, text;
    Instant since{};
    int attempts = 0;
    std::optional<Instant> next_try;
    std::string last_error;
    std::string held;  // why it is held back; "" = it is not
};
struct DeliveryAttempt {
    WallMs at = 0;
    std::string outcome, reason;  // "delivered", "retry", "gave-up"
};
struct PastNotice {  // one message for one channel
    std::string id, channel, kind, alarm, subject, priority, text;
    std::string state;  // "pending", "delivered", "failed"
    WallMs since = 0;   // when it was to be told
    std::vector<DeliveryAttempt> attempts;
};
struct PastNotices {
    std::vector<PastNotice> notices;                             // newest first
    std::vector<std::pair<std::string, WallMs>> last_delivered;  // by channel; tests included
};
struct ProbeCounts {
    std::int64_t readings = 0, faults = 0;  // since the start of the daemon
    std::string trouble;                    // why its driver does not run; "" = it runs
    std::optional<Reading> newest{};        // the last reading as the driver gave it, however bad
};
struct Status {
    std::string version;
    std::string kitchen_file;  // from the root
    std::string zone;          // as the kitchen file has it
    Instant started{};
    bool recording = false;
    std::string recording_trouble;                 // why not
    bool past_known = true;                        // what the logbook held is taken up
    bool clock_proven = false;                     // a time service or a battery clock vouches for it
    std::optional<Instant> unrecorded_since = {};  // while it does not
    std::int64_t waiting = 0, lost = 0;            // readings queued for the logbook, and lost
    std::optional<Instant> committed;              // the last commit
    std::int64_t logbook_bytes = 0;
    std::vector<ChannelStatus> channels;
    std::vector<ProbeCounts> probes;  // by number
};

// What a link of a notice is for, and what became of it.
struct NoticeLink {
    int status = 200;  // of HTTP; 200: it can be used, or was now
    std::string text;  // why it cannot, or what was done: sentences
    bool shelves = false;
    std::vector<std::string> alarms{};  // what each that it acts on says now
};

class WebHost {
public:
    virtual View view() = 0;
    virtual Settings const& settings() = 0;
    virtual TimeZone const& zone() = 0;  // in which an answer says what time it was
    virtual Status status() = 0;
    virtual std::vector<PendingNotice> pending_notices() = 0;
    virtual Instant now() = 0;

    // The reply comes when the command is durable; Outcome says what it did.
    virtual void submit(Command command, Reply<Outcome> reply) = 0;
    virtual void test_channel(std::string name, Reply<Outcome> reply) = 0;
    // `token`: what a notice's link has after /link/. Looked at only, and used.
    virtual NoticeLink notice_link(std::string const& token) = 0;
    virtual void use_notice_link(std::string const& token, Reply<NoticeLink> reply) = 0;
    // What a guest shows to look until then, and until when it is good. `token`: of the page, with which all
    // passes change. "", empty: there is none, or it is none of this kitchen's.
    virtual std::string guest_pass(std::string const& token, WallMs until) = 0;
    virtual std::optional<WallMs> guest_until(std::string const& token, std::string_view pass) = 0;
    // Everything so far to disk, for a program that is about to read the logbook file itself.
    virtual void commit(Reply<Outcome> reply) = 0;

    virtual void history(HistoryQuery query, Reply<Answer<History>> reply) = 0;
    virtual void past_alarms(TimeSpan span, Reply<Answer<std::vector<PastAlarm>>> reply) = 0;
    virtual void past_notices(TimeSpan span, Reply<Answer<PastNotices>> reply) = 0;
    virtual void past_cooks(TimeSpan span, Reply<Answer<std::vector<PastCook>>> reply) = 0;
    // As JSON: what must begin when from now on, so that every dish is ready at its serving time.
    virtual void schedule(Reply<Answer<std::string>> reply) = 0;
    virtual void export_page(ExportQuery query, std::string cursor, Reply<Answer<ExportPage>> reply) = 0;

protected:
    ~WebHost() = default;
};

}  // namespace ingle
