// What a person asked to be reminded of: at a time, again and again, when something has come to a
// temperature, at the end of a stage. They survive restarts through Memory. Owned by daemon/kitchen; pure.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/model/command.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/model/view.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

std::span<AlarmType const> reminder_alarms();  // reminder-due

struct GoodReading {
    double celsius = 0;
    Instant at{};  // stamp of the newest sample in it
};
struct CookPlace {
    std::int64_t cook = 0;  // number of the run; 0: not begun
    std::size_t stage = 0;  // from 0
    std::string name{};     // of it
    bool over = false;      // that stage is, and the next one waits for the cook
};
// What the kitchen knows of the things that reminders wait for.
struct ReminderFacts {
    std::function<std::optional<GoodReading>(Subject)> reading;  // empty: none that can be judged by
    std::function<CookPlace(int dish)> place;
    std::function<std::string(Subject)> name;
    std::optional<std::int64_t> wall_offset_ms = {};  // wall = boot + offset; empty: the time is not known
};

struct Reminder {
    std::int64_t number = 0;
    Remind asked;
    std::string waits_for;                // in words
    std::optional<Instant> next;          // of one that waits for a time
    std::optional<std::int64_t> wall_ms;  // and that is one of the day: which, by the clock, since 1970
    std::optional<bool> rising;           // to its temperature; empty: no good reading has told yet
    CookPlace until;                      // the stage at whose end it is
    std::optional<Instant> due;           // since when; until it is acknowledged
    // While the temperature is there: since when, and the stamp of the first such reading.
    std::optional<Instant> there_since, there_at;
};

class Reminders {
public:
    static constexpr std::size_t most = 50, longest_text = 200;  // bytes
    static constexpr Span shortest_every = std::chrono::minutes(1);

    explicit Reminders(TemperatureUnit unit) : unit_(unit) {}

    // Answers with a sentence where it is refused, else "".
    std::string add(Instant at, Remind asked, ReminderFacts const& facts, std::string& told);
    std::string stop(std::int64_t number);
    Finding step(Instant now, ReminderFacts const& facts);  // once per second
    void acknowledged();                                    // what was due goes, or waits for its next time
    // An order to this cook of the dish was taken back: what came due by it waits again. Answers with the
    // numbers of those that waited for the end of a stage which has not begun any more; they are dropped.
    // Reminders of the dish's other cooks stay as they are.
    std::vector<std::int64_t> order_taken_back(int dish, std::int64_t cook, ReminderFacts const& facts);

    std::vector<ReminderView> view() const;
    bool changed();  // since it was asked last

    void remember(Memory& memory, std::string const& prefix, ReminderFacts const& facts) const;
    // `find`: a subject by its kind and name. `off_known`: how long the program was off is known; else what
    // waits for a time counts as due. Those whose subject is not there are kept for when it is again; answers
    // with the texts of those that were not told so before.
    std::vector<std::string> recall(Memory const& memory, std::string const& prefix, Instant now,
                                    bool off_known,
                                    std::function<std::optional<Subject>(std::string const&)> const& find);

    // The clock says another time: what waits for a time of the day waits for it by this clock.
    void follow_clock(std::int64_t wall_offset_ms);
    // After a recall: where each stage of a cook's plan as it was remembered stands now; empty: in it no
    // more.
    void stages_moved(
        std::function<std::optional<std::size_t>(int dish, std::int64_t cook, std::size_t stage)> const& now);

    // These take the place of `before`, which did not know how long the program was off. Answers with what
    // was due there and is not, as a sentence; "" = nothing.
    std::string correct(Reminders const& before, Instant now);

private:
    bool has_come(Reminder& one, Instant now, ReminderFacts const& facts);
    bool is_there(Reminder& one, Instant now, ReminderFacts const& facts);
    void set_next(Reminder& one, Instant now);

    TemperatureUnit unit_;
    std::vector<Reminder> all_;  // by number
    std::int64_t last_ = 0;
    int rang_ = 0;  // how many have come due so far: the grade of reminder-due
    bool changed_ = false;
    std::vector<std::int64_t> unsure_;  // numbers of those that count as due because nobody knows
    Memory gone_;                       // as they were remembered; their subject is not there
    std::string not_due_;               // of `correct`, as long as others are due
};

}  // namespace ingle
