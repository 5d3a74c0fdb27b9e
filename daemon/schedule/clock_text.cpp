#include "daemon/schedule/clock_text.hpp"

#include <chrono>
#include <cstdlib>

namespace ingle::schedule {
namespace {

WallTime wall(Seconds t) {
    return WallTime(std::chrono::seconds(t));
}

}  // namespace

std::string day_text(TimeZone const& zone, Seconds t) {
    constexpr char const* days[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    std::chrono::weekday const day(std::chrono::floor<std::chrono::days>(zone.local(wall(t))));
    return days[day.c_encoding()];
}

std::string clock_text(TimeZone const& zone, Seconds t, Seconds day) {
    auto const iso = zone.iso(wall(t), "+00:00");
    auto text = iso.substr(11, 5);
    if (zone.comes_twice(wall(t))) text += " (UTC" + iso.substr(19) + ")";
    auto const date = [&](Seconds one) {
        return std::chrono::floor<std::chrono::days>(zone.local(wall(one)).time_since_epoch()).count();
    };
    auto const apart = date(t) - date(day);
    if (apart == 0) return text;
    if (std::abs(apart) < 6) return day_text(zone, t) + " " + text;
    return day_text(zone, t) + " " + iso.substr(5, 5) + " " + text;
}

}  // namespace ingle::schedule
