// Kitchen timers: a length and what is to be done then. They survive restarts through Memory. Owned by
// daemon/kitchen; pure.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/model/memory.hpp"
#include "daemon/model/view.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

std::span<AlarmType const> timer_alarms();  // timer-over

class Timers {
public:
    static constexpr std::size_t most = 50;
    static constexpr std::size_t longest_text = 200;  // bytes

    // Answers with a sentence where it is refused, else "". `number` becomes the new timer's.
    std::string start(Instant at, Span length, std::string text, std::int64_t& number);
    std::string stop(std::int64_t number);  // running or over
    // Once per second: what has run out is over until it is acknowledged.
    Finding step(Instant now);
    void acknowledged();  // what is over goes

    std::vector<TimerView> const& all() const { return timers_; }  // the next one to end first
    bool changed();                                                // since it was asked last

    void remember(Memory& memory) const;  // keys "timer..."
    // `off_known`: how long the program was off is known. Else nobody knows what is left of a timer, and it
    // counts as over.
    void recall(Memory const& memory, bool off_known);
    // These take the place of `before`, which did not know how long the program was off. Answers with what
    // rang there and is not over, as a sentence; "" = nothing.
    std::string correct(Timers const& before, Instant now);

private:
    std::vector<TimerView> timers_;
    std::int64_t last_ = 0;  // number of the newest timer
    int rang_ = 0;           // how many have run out so far: the grade of timer-over
    bool changed_ = false;
    std::vector<std::int64_t> unsure_;  // numbers of those that count as over because nobody knows
    std::string not_over_;              // of `correct`, until the next one rings
    Instant corrected_at_{};
};

}  // namespace ingle
