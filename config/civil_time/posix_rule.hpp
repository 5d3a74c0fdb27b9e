// A zone as POSIX writes it (IEEE Std 1003.1, section 8.3, with the extension of RFC 8536, section 3.3.1):
// what a small machine has in TZ, and what the last line of every zone file says of the years to come.
// Values; any thread.
#pragma once

#include <chrono>
#include <optional>
#include <string_view>

namespace ingle {

// A stretch without a change of the clocks: begin <= t < end, and local time is UTC + offset.
struct ZonePeriod {
    std::chrono::sys_seconds begin, end;
    std::chrono::seconds offset;
};
// Beyond these no period reaches; the years -1 to 10000.
inline constexpr std::chrono::sys_seconds zone_begin{std::chrono::seconds(-62'198'755'200)};
inline constexpr std::chrono::sys_seconds zone_end{std::chrono::seconds(253'433'923'200)};

class PosixRule {
public:
    // "UTC0", "CET-1CEST,M3.5.0,M10.5.0/3", "<-03>3"; without rules the clocks change as in the United
    // States, as C libraries take it. Empty: it is none.
    static std::optional<PosixRule> from(std::string_view text);
    ZonePeriod at(std::chrono::sys_seconds t) const;

private:
    struct Change {
        enum class Kind { weekday_of_month, day_without_leap, day_of_year } kind = Kind::weekday_of_month;
        int month = 1, week = 1, day = 0;
        std::chrono::seconds time = std::chrono::hours(2);  // since local midnight; RFC 8536: -167 h to 167 h

        std::chrono::local_seconds in(std::chrono::year y) const;
    };
    class Text;

    std::chrono::seconds standard_{0}, summer_{0};
    std::optional<Change> to_summer_, to_standard_;  // both or none
};

}  // namespace ingle
