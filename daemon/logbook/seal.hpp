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
// Of the tables that a failing probe, a loose switch or a dead channel can fill without end, the newest rows:
// some hundred MB at most in all. Not bounded are those that grow only with what people do or with starts of
// the daemon (cook, probe, calibration, setting, run, boot, damaged; a start is 100 bytes), notes, and the
// minutes and rolls, which are the long memory of the kitchen (5 MB a year and probe).
void bound_tables(Database& db);

}  // namespace ingle::logbook
