// The kitchen among its neighbours: hands every effect to the logbook, the notices and the API, in that order
// of calls, none of which waits. io thread.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "daemon/kitchen/kitchen.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"

namespace ingle {

class Core {
public:
    struct Neighbours {
        std::function<void(Tell const&)> tell;
        std::function<void(Effects const&)> publish;
    };

    Core(Settings settings, Instant start, logbook::Writer& writer, Neighbours neighbours);

    void recall(logbook::Resumed const& resumed);
    void take(int probe, Reading const& reading);
    // What the core answered; *ticket becomes the logbook's number of the last thing that it caused.
    Effects command(Instant at, Command const& command, std::uint64_t* ticket = nullptr);
    void advance(Instant now);
    std::uint64_t remember(Instant now);  // the durable state, whole; its ticket in the logbook

    View view() const { return kitchen_.view(); }
    Settings const& settings() const { return kitchen_.settings(); }
    std::int64_t readings(int probe) const { return counts_[static_cast<std::size_t>(probe)].good; }
    std::int64_t faults(int probe) const { return counts_[static_cast<std::size_t>(probe)].faulty; }
    // Before calibration and judgement: what a calibration is made from.
    std::optional<Reading> const& newest(int probe) const {
        return counts_[static_cast<std::size_t>(probe)].newest;
    }

private:
    struct Counts {
        std::int64_t good = 0, faulty = 0;
        std::optional<Reading> newest;
    };

    std::uint64_t dispatch(Effects const& effects);
    void obey_edited_calibrations(Memory const& memory, Effects& effects);
    Memory state() const;  // what must survive a restart
    void follow_cooks(Instant now);

    Kitchen kitchen_;
    logbook::Writer& writer_;
    Neighbours neighbours_;
    std::vector<Counts> counts_;
    std::vector<std::int64_t> cooks_;  // the running cook of each dish, 0 = none
    Effects effects_;                  // kept for its capacity
};

}  // namespace ingle
