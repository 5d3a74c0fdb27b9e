// How the CLI writes ages, durations and local times.
#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "config/civil_time/time_zone.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle::cli {

// "1 s old", "75 s old", "4 min old", "3 h old", "2 days old".
std::string age_text(double seconds);
// "3 min", "1 h 05 min": how long something has lasted or will.
std::string length_text(double seconds);
// "in about 12 min (8 to 20 min)".
std::string ahead_text(double eta_s, std::optional<double> low_s, std::optional<double> high_s);

// From here on times are read and told in the zone of this kitchen (an IANA name; "": this machine's): it
// becomes the TZ of this process, so it comes before the first time is read or told. What is not known here
// is told on the standard error stream.
void tell_times_in(std::string const& zone);

// TZ, else /etc/localtime, looked up once; UTC where there is none that is known, and the standard error
// stream says so.
TimeZone const& local_zone();
std::string local_iso(WallTime at);  // ISO 8601 with its offset
// "Thu 2026-11-26 14:05:12"; an hour that happens twice says which: "... 01:30:00 (UTC-05:00)".
std::string time_text(WallTime at, bool with_date = true, bool with_seconds = true);

}  // namespace ingle::cli
