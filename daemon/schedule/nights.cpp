#include "daemon/schedule/nights.hpp"

#include <chrono>

namespace ingle::schedule {

std::vector<Interval> nights(std::optional<AwakeHours> awake, TimeZone const& zone, Interval span) {
    std::vector<Interval> out;
    if (!awake) return out;
    using namespace std::chrono;
    auto const wall = [](Seconds t) { return WallTime(seconds(t)); };
    auto day = floor<days>(zone.local(wall(span.from))) - days(2);
    auto const instant = [&](auto on, int minutes_of_day) {
        return duration_cast<seconds>(
                   zone.instants(LocalTime(on.time_since_epoch()) + minutes(minutes_of_day))
                       .first.time_since_epoch())
            .count();
    };
    for (;; day += days(1)) {
        auto const from = instant(day, awake->to);
        auto const to = instant(awake->to < awake->from ? day : day + days(1), awake->from);
        if (from >= span.to) return out;
        if (to > span.from && to > from) out.push_back({from, to});
    }
}

}  // namespace ingle::schedule
