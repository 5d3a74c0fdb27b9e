// A kitchen with one thing changed as a cook would change its file or a plan of it. Pure.
#pragma once

#include <string>
#include <vector>

#include "daemon/schedule/jobs.hpp"

namespace ingle::schedule {

// Owns what it changed; `wanted` is of it, for as long as it lives.
class Changed {
public:
    explicit Changed(Wanted const& from)
        : settings_(from.settings),
          running_(from.running),
          past_(from.past),
          zone_(from.zone),
          at_(from.at),
          zone_known_(from.zone_known),
          times_(from.times),
          effort_(from.effort) {}

    Wanted wanted() const { return {settings_, zone_, at_, running_, past_, zone_known_, times_, effort_}; }
    DishSettings const& dish(int number) const { return settings_.dishes[static_cast<std::size_t>(number)]; }
    // Of `dish`, how many stages of its plan are as they were: a change elsewhere leaves its lengths.
    std::size_t stages_kept(int dish) const;

    void serve_at(int dish, Seconds t);
    void put_into(int dish, std::size_t stage, int vessel);
    void set_band(int dish, std::size_t stage, Band band);
    void no_hands(int dish, std::size_t stage);
    void add_stage(int dish, StageSettings stage, std::string_view vessel);
    // The cook is there for so much longer in the morning, or in the evening.
    void longer_day(bool evening, Seconds by);
    Running* running(int dish);

private:
    // From now on the plan is this dish's own, changed from `stage` on.
    PlanSettings& own_plan(int dish, std::size_t stage);

    Settings settings_;
    std::vector<Running> running_;
    std::vector<Past> past_;
    TimeZone zone_;
    Seconds at_;
    bool zone_known_;
    PlannedTimes* times_;
    Effort* effort_;
    int changed_dish_ = -1;
    std::size_t kept_ = 0;
};

}  // namespace ingle::schedule
