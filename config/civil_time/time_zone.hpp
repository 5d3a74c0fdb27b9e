// Local time: what the clock on the wall shows at an instant, and at which instants it shows a time. A value
// that its owner hands on; nothing of the process (TZ of the C library) is read or set but where it says so.
// Any thread.
#pragma once

#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "config/civil_time/iso_time.hpp"
#include "config/civil_time/posix_rule.hpp"

namespace ingle {

using LocalTime = std::chrono::local_time<std::chrono::milliseconds>;

// The instants that show a local time: two where the clocks were put back, else one. Where they were put
// forward over it there is none: `missing`, and both are the instant at which the clocks were changed.
struct LocalInstants {
    WallTime first, last;
    bool missing = false;
};

class TimeZone {
public:
    TimeZone() = default;  // UTC
    // "Europe/Vienna"; empty: this machine does not know it (Debian's package tzdata).
    static std::optional<TimeZone> named(std::string const& name);
    // As the C library reads the variable TZ: "Europe/Vienna", ":Europe/Vienna", ":/etc/localtime", "UTC0",
    // "CET-1CEST,M3.5.0,M10.5.0/3", "" (UTC). Empty: it means nothing here.
    static std::optional<TimeZone> from_tz(std::string_view text);
    // A file that is, or points to, one of the machine's zone files; of a copy the rule for the years to
    // come.
    static std::optional<TimeZone> of_file(std::string const& file);

    std::chrono::minutes offset(WallTime at) const;  // that local time is ahead of UTC
    LocalTime local(WallTime at) const;
    LocalInstants instants(LocalTime at) const;
    bool comes_twice(WallTime at) const;                              // what the clock shows then
    std::string iso(WallTime at, std::string_view zero = "Z") const;  // iso_time() with the offset

private:
    class Rule;
    class LibraryRule;
    class FixedRule;
    explicit TimeZone(std::shared_ptr<Rule const> rule) : rule_(std::move(rule)) {}
    ZonePeriod period(WallTime at) const;

    std::shared_ptr<Rule const> rule_;  // empty: UTC
};

struct FoundZone {
    TimeZone zone;          // UTC where what was wanted is not known
    std::string complaint;  // a sentence for the user, where it is so
};
// The machine's own: of the variable TZ, else of /etc/localtime.
FoundZone machine_zone();
// Does this machine have zone files at all?
bool has_zone_files();

}  // namespace ingle
