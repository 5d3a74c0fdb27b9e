// Where log lines go: the standard error stream, without ever waiting for whoever reads it. A line that it
// does not take is left out and counted. Any thread.
#pragma once

#include <memory>
#include <string>

#include "config/civil_time/time_zone.hpp"
#include "daemon/model/effects.hpp"
#include "drivers/api/driver.hpp"

namespace spdlog {
class logger;
}

namespace ingle {

// One line at most so long that a pipe which has room takes it whole.
std::shared_ptr<spdlog::logger> make_log(int descriptor);
// From now on the lines of the default log begin with the time in this zone.
void write_log_times(TimeZone const& zone);
// A driver's line, in the default log.
void log_line(Severity severity, std::string const& text);
void log_what_is_not_restored(Effects const& effects);

}  // namespace ingle
