// The kitchen among its neighbours: hands every effect to the logbook, the notices and the API, in that order
// of calls, none of which waits. What is not known of the past when it starts (the logbook does not open, or
// nothing vouches for the clock) is taken up when it is. io thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include "daemon/kitchen/kitchen.hpp"
#include "daemon/logbook/logbook.hpp"
#include "daemon/model/command.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/run/catch_up.hpp"
#include "daemon/run/used_links.hpp"

namespace ingle {

class Core {
public:
    struct Neighbours {
        std::function<void(Tell const&)> tell;
        std::function<void(Effects const&)> publish;
    };

    Core(Settings settings, Instant start, logbook::Writer& writer, Neighbours neighbours);

    // First, and again with what the logbook held if it opened late. Until it was open nothing durable is
    // written; commands are obeyed, and written once it is.
    void recall(logbook::Resumed resumed, ClockAnchor const& clock);
    // In place of it where the same program goes on with another kitchen file.
    void go_on(logbook::Resumed handed, std::optional<ClockAnchor> const& clock);
    // What the core of before kept to judge an outage by once its length is known. Not where another kitchen
    // file gives its numbers to others.
    void inherit(Core& earlier);
    void record_running_cooks();  // in a logbook that has not heard of them
    // Goes on with a second kitchen, for about `budget`. False: there is none, or no more.
    bool catch_up(Span budget);

    void take(int probe, Reading const& reading);
    // What the core answered; *ticket becomes the logbook's number of the last thing that it caused.
    Effects command(Instant at, Command const& command, std::uint64_t* ticket = nullptr);
    void advance(Instant now);
    std::uint64_t remember(Instant now);  // the durable state, whole; its ticket in the logbook

    // What a core with other settings goes on from; takes nothing from this one.
    Memory state() const;
    bool knows_the_past() const { return past_known_; }
    bool clock_proven() const { return clock_.proven; }
    View view() const { return kitchen_.view(); }
    Settings const& settings() const { return kitchen_.settings(); }
    UsedLinks& used_links() { return used_links_; }
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

    void notice_standstill(Instant now);
    std::uint64_t dispatch(Effects const& effects);
    std::uint64_t write(Effects const& effects);
    void recall_into(Kitchen& kitchen, ClockAnchor const& clock, Effects& effects);
    void obey_edited_calibrations(Kitchen& kitchen, Memory const& memory, Effects& effects);
    void begin_catching_up(ClockAnchor const& clock);
    void take_up_past();    // the second kitchen knows what the logbook held
    void take_up_outage();  // the second kitchen knows how long the outage was
    void begin_calibrations(std::vector<std::vector<CalibrationPoint>> const& before);
    void watch_journal();
    void follow_cooks(Kitchen const& kitchen, Instant now);

    Kitchen kitchen_;
    logbook::Writer& writer_;
    Neighbours neighbours_;
    std::vector<Counts> counts_;
    std::vector<std::int64_t> cooks_;  // the running cook of each dish, 0 = none
    Effects effects_;                  // kept for its capacity
    std::optional<Instant> went_on_;   // the newest moment that came through here

    UsedLinks used_links_;
    ClockAnchor clock_;
    bool past_known_ = false;                        // what the logbook held is in the kitchen
    bool late_ = false;                              // it did not open in time
    std::optional<logbook::Resumed> resumed_;        // while the length of the outage can still be learnt
    std::optional<logbook::Unmeasured> unmeasured_;  // an outage before this boot, as long as that is so
    std::optional<Journal> journal_;                 // while something of the past is unknown
    Seen seen_;  // of the effects since the start, as long as there is a journal
    std::unique_ptr<CatchUp> second_;
};

}  // namespace ingle
