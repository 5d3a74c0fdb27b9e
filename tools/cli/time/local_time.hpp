// How the CLI writes ages, durations and local times. Pure but for the zone tables of the C library.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "drivers/reading/clock.hpp"

namespace ingle::cli {

// "1 s old", "75 s old", "4 min old", "3 h old", "2 days old".
std::string age_text(double seconds);
// "3 min", "1 h 05 min": how long something has lasted or will.
std::string length_text(double seconds);
// "in about 12 min (8 to 20 min)".
std::string ahead_text(double eta_s, std::optional<double> low_s, std::optional<double> high_s);

// Minutes that local time is ahead of UTC at that moment.
std::chrono::minutes local_offset(WallTime at);
// "Thu 2026-11-26 14:05:12"; an hour that happens twice says which: "... 01:30:00 (UTC-05:00)".
std::string time_text(WallTime at, bool with_date = true, bool with_seconds = true);
std::optional<WallTime> wall_from_json(std::string_view iso);

}  // namespace ingle::cli
