// The dishes of a kitchen as jobs of the solver. Pure.
#pragma once

#include "daemon/schedule/schedule.hpp"

namespace ingle::schedule {

struct DishJob {
    int dish = 0;
    Job job;                           // without any margin
    std::vector<StageLength> lengths;  // parallel to its tasks
    std::vector<Seconds>
        margins;  // what the uncertain stages before may take longer: room for it is made where it waits
    std::size_t first = 0;            // stage of the plan that the first task is
    std::optional<Seconds> began;     // of the first stage, where it runs
    std::optional<Seconds> serve_at;  // as it was said; the job of a dish that cooks may end before it
    std::vector<std::string> notes;   // what was left undone in stages before
    std::string not_done;  // of a dish that cooks: why the end of its plan does not make it done; "": it does
    bool left_early = false;  // that is because a stage was left before its end
    int held_for = -1,
        held_in = -1;        // or because that dish has the band of that vessel, where this one is too
    std::string impossible;  // why no schedule can help; "": it is possible
};
struct Jobs {
    std::vector<DishJob> dishes;
    std::vector<LeftOut> left_out;
};
Jobs jobs_of(Wanted const& wanted);
// What is known already of a dish before it was changed: the lengths of its plan's first stages.
struct KnownLengths {
    DishJob const* job = nullptr;
    std::size_t stages = 0;  // of the plan, that are as they were
};
// Of this dish alone; empty: it has no plan, no serve-at, or nothing left to do.
std::optional<DishJob> job_of(Wanted const& wanted, int dish, KnownLengths known = {});

// What the plan of a dish says, with the vessel of each stage.
struct StageOfDish {
    StageSettings const* settings = nullptr;
    int vessel = -1;
};
std::vector<StageOfDish> stages_of(Settings const& settings, DishSettings const& dish);

// Of these, as the solver takes them; `share` of the margins is kept.
Problem problem_of(Wanted const& wanted, std::vector<DishJob> const& dishes, double share);

}  // namespace ingle::schedule
