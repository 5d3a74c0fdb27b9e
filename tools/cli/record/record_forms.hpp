// A day's record in its forms: a sheet (text or HTML), CSV and JSON. Pure; times in the zone that is told
// (local_time.hpp).
#pragma once

#include <string>

#include "tools/cli/output/doc.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/record/day_record.hpp"

namespace ingle::cli {

Doc record_doc(DayRecord const& record);
// RFC 4180: a line of names, then a line for each thing that was measured or noted; temperatures in the
// kitchen's unit, lengths in minutes. A cell that a spreadsheet would take for a formula has a ' before it.
std::string record_csv(DayRecord const& record);
Json record_json(DayRecord const& record);  // degC and s

// What stands on every form.
std::string record_caution();

}  // namespace ingle::cli
