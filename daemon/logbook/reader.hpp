// The logbook's reading end: read-only, in the daemon's API or in another process while the daemon writes, on
// the live file or on a copy. Owned by one caller, used from one thread at a time. Every read transaction is
// short.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "drivers/reading/clock.hpp"

namespace ingle::logbook {

// A moment as recorded, and what it is in wall time by what is known of that boot's clock today.
struct Moment {
    std::int64_t boot = 0;
    Instant at{};
    WallTime wall{};
    bool certain = true;  // false: the board never learnt the time in that boot
};

struct Window {  // [from, to) in wall time
    WallTime from{}, to{};
};

struct Point {  // one reading (n == 1, width 0) or a bucket of them; degC
    Moment at;  // of the reading, or the bucket's start
    Span width{0};
    std::uint32_t n = 0;
    double min = 0, max = 0, mean = 0;
    bool doubtful = false;
};
struct FaultSpell {
    Moment from, to;
    std::uint32_t readings = 0;
    std::string kind, reason;
};
struct RejectedReading {
    Moment at;
    std::optional<double> celsius;
    std::string kind, reason;
};
struct History {
    std::vector<Point> points;  // in the order in which they were recorded; a gap is a hole
    std::vector<FaultSpell> faults;
    std::vector<RejectedReading> rejected;
};
struct HistoryQuery {
    std::string probe;
    Window window;
    Span grain{0};     // bucket width; 0 = every reading. Buckets are never narrower than asked for
    bool raw = false;  // before calibration
};
struct BandTime {  // of the readings in a window, each counted until the next one or for `most` at most
    Span in{0}, above{0}, below{0}, without{0};
    std::optional<double> min, max, mean;
};

struct BootRow {
    std::int64_t id = 0;
    std::string boot_id;
    Moment first, last;  // of its rows
    std::int64_t offset_ms = 0;
    bool certain = false;
};
struct CalibrationRow {
    Moment since;
    double gain = 1, offset = 0;  // degC = raw * gain + offset
    std::string points;           // JSON [[reads, is], ...] in degC
};
struct ProbeRow {
    std::int64_t id = 0;
    std::string name, driver, device;
    std::vector<CalibrationRow> calibrations;  // oldest first
};
struct EventRow {
    std::int64_t id = 0;
    Moment at;
    std::string name, subject_kind, subject, text;
    std::vector<std::pair<std::string, double>> numbers;
};
struct AlarmRow {  // one transition
    Moment at;
    std::int64_t alarm = 0;
    std::string name, subject_kind, subject, transition, state, priority, text, by;
    bool active = false;
    double worst = 0;
    int spells = 1;
};
struct CookRow {
    std::int64_t id = 0;
    std::string dish, food, plan, zone;
    Moment began;
    std::optional<Moment> ended;
    bool kept = true;
    bool taken_back = false;  // its begin was: it counts as not begun
};
struct AttemptRow {
    Moment at;
    std::string outcome, reason;  // "delivered", "retry", "gave-up"
};
struct NoticeRow {
    std::string id, channel, kind, body, state, error;
    Moment at;
    std::optional<Moment> done;
    int attempts = 0;
    std::vector<AttemptRow> tries = {};  // oldest first; those before logbook version 4 are counted only
};
struct DamagedCopy {
    std::string file;  // where the damaged logbook was moved
    Moment found;
    std::string what;   // what was wrong with it
    std::string cooks;  // the cooks in it, as far as they could be read
};

class Reader {
public:
    explicit Reader(std::string path);  // opens; `failure` tells if that did not work
    ~Reader();
    Reader(Reader&&) noexcept;
    Reader& operator=(Reader&&) noexcept;

    // "" = the last call worked; else one sentence: what failed, on which file, and the remedy.
    std::string const& failure() const;

    std::vector<ProbeRow> probes();
    History history(HistoryQuery const& query);
    std::vector<History> history(std::vector<HistoryQuery> const& queries);  // of one consistent moment
    // Readings that these windows have, without reading them: never more than there are, and fewer only by
    // the blocks at a window's edges and by what is not packed yet (an hour or so of each probe).
    std::size_t count_at_least(std::vector<HistoryQuery> const& queries);
    std::optional<Point> last(std::string const& probe);  // newest by sequence, not by clock
    BandTime band_time(std::string const& probe, Window window, double low_c, double high_c,
                       Span most = Span(60'000));
    // "": all but the kept forecasts, which are no events of the kitchen.
    std::vector<EventRow> events(Window window, std::string const& name = "");
    std::vector<AlarmRow> alarms(Window window);
    std::vector<CookRow> cooks();  // newest first
    std::optional<CookRow> cook(std::int64_t id);
    Window window_of(CookRow const& cook);                         // an unended cook lasts until the last row
    std::vector<NoticeRow> notices(Window window);                 // and what is still pending, however old
    std::vector<std::pair<std::string, Moment>> last_delivered();  // by channel
    std::vector<BootRow> boots();
    std::vector<DamagedCopy> damaged();
    std::string settings_at(WallTime when);  // the kitchen file's text in force; "" = none
    // Each kitchen file's text that came into force in a window, and when, oldest first.
    std::vector<std::pair<Moment, std::string>> settings_during(Window window);
    std::optional<Window> extent();  // first to last row

    // A consistent copy of the live file (which must not exist yet). False: see `failure`.
    bool backup_to(std::string const& file);

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle::logbook
