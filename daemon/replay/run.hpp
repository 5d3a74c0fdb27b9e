// The core over a recording, as fast as it can. Pure: the same recording gives the same effects.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/summary.hpp"
#include "drivers/reading/recording.hpp"

namespace ingle {

// Each temperature as the logbook keeps it: a recording and the cook that was made of it are then the same
// run.
Recording as_kept(Recording recording);

struct ReplayEnd {
    Instant start{}, end{};
    RunSummary summary;
};

// `dishes`: numbers of those begun at the first row. Columns are matched to probes by name; probes without a
// column are out of service for this run (nobody asked them), columns without a probe are left out.
ReplayEnd run_replay(Settings const& settings, Recording const& recording, std::vector<int> const& dishes,
                     std::function<void(Effect const&)> const& on_effect);

// The same with commands at their times since the first row, in order.
struct TimedCommand {
    Span after{};
    Command command;
};
ReplayEnd run_replay(Settings const& settings, Recording const& recording,
                     std::vector<TimedCommand> const& commands,
                     std::function<void(Effect const&)> const& on_effect);

// How often each probe was read in the recording, which may not be how often the kitchen file reads it: a
// recording on paper has a reading every few minutes, and that is no gap. Within half of it the kitchen
// file's own rhythm stays.
void follow_rhythm(Settings& settings, Recording const& recording);

}  // namespace ingle
