// What `ingle replay` runs over: a CSV file, or a cook out of the logbook with what people did meanwhile.
#pragma once

#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/replay/run.hpp"
#include "drivers/reading/recording.hpp"
#include "tools/cli/program/command.hpp"

namespace ingle::cli {

struct ReplaySource {
    Recording recording;
    std::vector<TimedCommand> commands;
};

// `what`: an existing file, else a cook ("goose-roll", "cook 12"; `logbook`: "" = the state folder's). A
// cook's readings are those before calibration; `settings` get the calibrations that were in force in its
// stead. `begin`: names of dishes begun at the first row as well. Throws Failure in a sentence.
ReplaySource replay_source(Context const& context, std::string const& what, std::string const& logbook,
                           std::vector<std::string> const& begin, Settings& settings);

}  // namespace ingle::cli
