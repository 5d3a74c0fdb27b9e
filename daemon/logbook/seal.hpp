// Once an hour the tail becomes chunks and roll-ups, inside the caller's transaction. Writer's thread.
#pragma once

#include <array>
#include <cstdint>

#include "daemon/logbook/db.hpp"

namespace ingle::logbook {

// Bucket widths of the roll-ups in ms, by level. Level 0 is the table `minutes`, the others are in `roll`.
constexpr std::array<std::int64_t, 4> roll_widths{60'000, 900'000, 14'400'000, 172'800'000};

void seal_tail(Database& db);

// Raw readings older than `keep_days` (0: none) that no kept cook refers to; some thousand chunks at a time.
void thin_readings(Database& db, int keep_days);

}  // namespace ingle::logbook
