// A second kitchen that is brought to the present: what the core was told since the start is kept for as long
// as something about the past is still unknown (the logbook does not open yet; how long the outage was). Once
// it is known, a new kitchen begins with it, lives through the same readings and commands, and takes the
// place of the first. io thread.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <variant>
#include <vector>

#include "daemon/kitchen/kitchen.hpp"

namespace ingle {

// What a kitchen was told since its start, in order.
class Journal {
public:
    explicit Journal(Instant start) : start_(start) {}

    void took(int probe, Reading const& reading);
    // `view`: as whoever gave it saw it.
    void was_commanded(Instant at, Command const& command, View const& view);
    void was_refused();  // the newest command: whoever gave it was told so
    void passed(Instant now);
    // Whether there is more of it than is kept: some 20 MB, or 7 h of 8 probes.
    bool too_long() const { return readings_ > most_readings; }
    void forget_oldest_readings();  // down to what is kept: the start moves on, commands stay

    Instant start() const { return start_; }
    std::size_t size() const { return inputs_.size(); }

private:
    friend class CatchUp;
    static constexpr std::size_t most_readings = 200'000;
    struct Taken {
        int probe = 0;
        Reading reading;
    };
    struct Given {
        Instant at{};
        Command command;
        // What it names: its number may be another one in the second kitchen.
        AlarmType const* type = nullptr;
        Subject subject;
        std::optional<TimerView> timer;
        std::optional<ReminderView> reminder;
        std::size_t stage_number = 0;  // of the dish that goes on: the stage that it was to leave
        bool nothing_held = false;     // it ends a hold, and the vessel was seen to have no band
    };
    using Input = std::variant<Taken, Given, Instant>;

    Instant start_;
    std::deque<Input> inputs_;
    std::size_t readings_ = 0;
};

// The effects that somebody has seen, so that a second kitchen does not repeat them.
class Seen {
public:
    void note(Effects const& effects);
    bool knows(Effect const& effect) const { return keys_.contains(key(effect)); }
    void clear() { keys_.clear(); }

private:
    static std::string key(Effect const& effect);  // "" for what does not last
    std::set<std::string> keys_;
};

class CatchUp {
public:
    // `past_known`: both kitchens had the same memory, so that the numbers of timers and reminders are the
    // same in both.
    CatchUp(Settings const& settings, Journal& journal, bool past_known)
        : kitchen_(settings, journal.start()), journal_(journal), past_known_(past_known) {}

    Kitchen& kitchen() { return kitchen_; }
    void add(Effects const& effects);  // of what was done to the kitchen before the first step
    // Lives through more of the journal, for about `budget`. True: it is in the present. `after_command` is
    // called after each.
    bool step(Span budget, std::function<void(Instant)> const& after_command = {});
    Effects const& effects() const { return effects_; }                   // what lasts of them, in order
    std::vector<std::string> const& refused() const { return refused_; }  // commands that it could not obey

private:
    void live(Journal::Input const& input);
    void refuse(int dish);
    // By the numbers of this kitchen. False: what it names is not there.
    bool renumber(Journal::Given const& given, Command& command);
    bool has_gone_on(Journal::Given const& given);

    Kitchen kitchen_;
    Journal& journal_;
    bool past_known_;
    std::size_t next_ = 0;
    Effects effects_, fresh_;
    std::vector<std::string> refused_;
    std::set<int> not_begun_;  // dishes whose begin it could not obey, since they cook
    // Of a dish, for each order that a `back` would take back, the newest last: it left a stage that was over
    // already, and was not needed.
    std::map<int, std::vector<bool>> not_needed_;
};

}  // namespace ingle
