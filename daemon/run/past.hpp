// The past, read from the logbook for the API. On the archive's own thread: each call may take a while.
#pragma once

#include "daemon/logbook/reader.hpp"
#include "daemon/web/host.hpp"

namespace ingle {

Answer<History> past_history(logbook::Reader& reader, HistoryQuery const& query);
Answer<std::vector<PastAlarm>> past_alarms(logbook::Reader& reader, TimeSpan span);
Answer<PastNotices> past_notices(logbook::Reader& reader, TimeSpan span);
Answer<std::vector<PastCook>> past_cooks(logbook::Reader& reader, TimeSpan span);
// `cursor`: what the page before said; "" = from the beginning.
Answer<ExportPage> export_page(logbook::Reader& reader, ExportQuery const& query, std::string const& cursor,
                               TemperatureUnit unit, TimeZone const& zone);

}  // namespace ingle
