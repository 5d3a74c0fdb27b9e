// The past, read from the logbook for the API. On the archive's own thread: each call may take a while.
#pragma once

#include "daemon/logbook/reader.hpp"
#include "daemon/model/command.hpp"
#include "daemon/web/host.hpp"

namespace ingle {

Answer<History> past_history(logbook::Reader& reader, HistoryQuery const& query);
Answer<std::vector<PastAlarm>> past_alarms(logbook::Reader& reader, TimeSpan span);
Answer<PastNotices> past_notices(logbook::Reader& reader, TimeSpan span);
Answer<std::vector<PastCook>> past_cooks(logbook::Reader& reader, TimeSpan span);
// `cursor`: what the page before said; "" = from the beginning.
Answer<ExportPage> export_page(logbook::Reader& reader, ExportQuery const& query, std::string const& cursor,
                               TemperatureUnit unit, TimeZone const& zone);

struct PastReadings {
    std::vector<PastReading> value;
    std::string error;
};
// Of these probes, by number, the newest hours of `window` coarsely, the oldest first. offset_ms: of the wall
// clock to this boot's.
PastReadings past_readings(logbook::Reader& reader, std::vector<std::string> const& probes,
                           logbook::Window window, std::int64_t offset_ms);

}  // namespace ingle
