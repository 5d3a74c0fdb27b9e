// The whole core: readings, commands and the passing of time in, effects out. No I/O, no clock, no threads:
// the same calls give the same effects, live or replayed, byte for byte. Owned by daemon/run (io thread), by
// `ingle replay`, and by tests.
#pragma once

#include <memory>

#include "config/settings.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/model/summary.hpp"
#include "daemon/model/view.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

class Kitchen {
public:
    // `settings` must be free of errors; it is copied. `start` is the first moment; the core's whole-second
    // grid counts from it.
    Kitchen(Settings settings, Instant start);
    ~Kitchen();
    Kitchen(Kitchen&&) noexcept;
    Kitchen& operator=(Kitchen&&) noexcept;

    // Each first lets time pass up to the stamp (as `advance` does); a stamp in the past counts as now.
    void take(int probe, Reading const& reading, Effects& out);
    void command(Instant at, Command const& command, Effects& out);
    void advance(Instant now, Effects& out);  // steps the watches once per whole second

    // The same after the program or its machine stood still since the newest call: nothing was asked of any
    // probe meanwhile, which is no probe's fault.
    void stood_still(Instant until, Effects& out);

    View view() const;
    RunSummary summary() const;  // since construction
    // With the serving times that were said since the kitchen file was read.
    Settings const& settings() const;
    Settings as_filed() const;  // without them

    // Durable state. `recall` is called once, before anything else, with a memory already shifted into this
    // boot; `off_since` is when the last run stopped (empty: not known, the clock was not certain).
    Memory remember() const;
    void recall(Memory const& memory, std::optional<Instant> off_since, Effects& out);
    // The same program watches on by another kitchen file, and knows the time that it knew. Before `recall`.
    void goes_on(std::optional<ClockAnchor> const& clock, Effects& out);
    // Alarms and cooks are numbered on from these at least. Before `recall`.
    void number_from(std::int64_t last_alarm, std::int64_t last_cook);
    // This kitchen takes the place of `watching`, which was told the same since the start and knew less of
    // what was before: its alarms go on as they stand, with the times that are right. `watching` is used up.
    void continue_alarms_of(Kitchen& watching);

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace ingle
