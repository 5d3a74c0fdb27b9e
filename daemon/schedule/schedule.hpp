// What must begin when, so that every dish is ready at its serving time: from the kitchen file, from past
// cooks and from what is cooking now. Pure; the same each time.
#pragma once

#include <string>
#include <vector>

#include "config/civil_time/time_zone.hpp"
#include "daemon/model/view.hpp"
#include "daemon/schedule/lengths.hpp"
#include "daemon/schedule/problem.hpp"

namespace ingle::schedule {

struct Running {  // a dish that was begun
    int dish = 0;
    std::size_t stage = 0;  // of its plan, from 0; the number of stages: all are done
    Seconds began = 0;      // the stage
    std::optional<double> left_s, left_low_s, left_high_s;  // until its core is there, as it is forecast now
    std::optional<double> clock_left_s;                     // of the time that it waits for
    std::optional<double> core_c, medium_c;                 // as they are read now, degC
    bool core_there = false;
    bool over = false;             // the stage is, and waits for the cook to go on
    bool unread = false;           // nothing is read, and its time stands still
    bool cooked = false;           // it is not begun: its cook for this serving time is over
    bool by_another_plan = false;  // it goes on by the one that it began with, which it has no more
    std::vector<LeftUndone> undone{};
};
struct Past {  // how long a stage of a dish took in an earlier cook, in the vessel that it is planned for
    int dish = 0;
    std::size_t stage = 0;
    double length_s = 0;
};
struct Wanted {
    Settings const& settings;
    TimeZone zone;  // of the cook's hours
    Seconds at = 0;
    std::vector<Running> running{};
    std::vector<Past> past{};
    bool zone_known = true;         // false: no hours of the cook, and no time of day in a sentence
    PlannedTimes* times = nullptr;  // outlives it; empty: each length is computed anew
    Effort* effort = nullptr;       // outlives it; of all searches that go by it
};

enum class State { fits, tight, late, impossible };
std::string_view to_word(State state);

struct StagePlan {
    std::string stage;
    int vessel = -1;
    FoodPhase phase{};
    Seconds begin = 0, end = 0, latest_begin = 0;
    StageLength length;
    Seconds hands = 0;
    bool began = false;
    bool attended = false;  // somebody must be there when it begins
};
struct DishPlan {
    int dish = 0;
    std::optional<Seconds> serve_at;                 // empty: not said, and it cooks
    std::optional<Seconds> ready_at;                 // empty: it cannot be done
    std::optional<Seconds> ready_early, ready_late;  // in one of ten sooner, in one of ten later; empty where
                                                     // a length is not known
    std::optional<double> chance;                    // of being ready in time; empty: a length is not known
    State state{};
    std::vector<StagePlan> stages;    // empty where it cannot be done
    std::vector<std::string> advice;  // what makes it surer, each tried
    std::vector<std::string> notes;   // what was left undone
};
enum class About { vessel, hands, rule };
struct Conflict {
    About about{};
    int vessel = -1;
    std::vector<int> dishes;
    Interval when;
    std::string text;                   // a sentence: what is wrong
    std::vector<std::string> remedies;  // each tried, the least change first
    bool tried = true;                  // false: orders to take back, which nobody can try
};
struct LeftOut {
    int dish = 0;
    std::string why;
};
struct Schedule {
    Seconds at = 0;
    bool fits = false;
    std::vector<DishPlan> dishes;
    std::vector<Conflict> conflicts;
    std::vector<LeftOut> left_out;
    std::vector<Interval> nights;
};

Schedule make_schedule(Wanted const& wanted);

}  // namespace ingle::schedule
