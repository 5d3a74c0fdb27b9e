#include "tests/suppers/evening.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "daemon/kitchen/kitchen.hpp"
#include "daemon/schedule/cooking.hpp"
#include "daemon/schedule/jobs.hpp"
#include "daemon/schedule/planned.hpp"
#include "daemon/schedule/schedule.hpp"

namespace ingle::suppers {
namespace {

constexpr int reading_s = 10, reacts_in = 5 * a_minute, looks_each_s = 30, consults_each_s = 15 * a_minute,
              at_most_s = 30 * an_hour;
constexpr int day_begins = 13 * an_hour, night_begins = 7 * an_hour + 30 * a_minute;  // 5:00 and 23:30

Instant moment(int s) {
    return Instant(from_seconds(s));
}

class Cook {
public:
    Cook(Supper const& supper, Manner const& manner)
        : supper_(supper),
          manner_(manner),
          hall_(supper.seed, supper.heat, supper.bodies),
          chance_(supper.seed * 31 + 5),
          kitchen_(supper.settings, moment(0)) {
        for (std::size_t d = 0; d < dishes; ++d)
            out_.served[d].serve_at =
                static_cast<int>(*supper.settings.dishes[d].serve_at / 1000 - started_at);
        out_.fire_out = hall_.fire_out();
        hall_.put(ham, tub), hall_.put(roll, fridge), hall_.put(terrine, fridge);
    }

    Evening whole() {
        Effects effects;
        kitchen_.command(moment(0), ClockAnchor{started_at * 1000, true, true}, effects);
        for (int s = 0; s < at_most_s && !all_served(); ++s) {
            if (s % reading_s == 0)
                for (int p = 0; p < probes; ++p)
                    kitchen_.take(p, Reading::good(moment(s), hall_.shown(static_cast<Probe>(p))), effects);
            listen(s, effects);
            if (s == breakfast) ask(s, &Served::at_breakfast);
            if (s == breakfast + 5 * an_hour) ask(s, &Served::at_one);
            if (s % looks_each_s == 0) look(s);
            if (s == turns_up_at_ || s == manner_.top_from) hall_.keep_at_top();
            hall_.step();
        }
        return std::move(out_);
    }

private:
    bool all_served() const {
        return std::ranges::all_of(out_.served, [](Served const& one) { return one.ready.has_value(); });
    }
    // Promptly, but one time in ten there is something else to do.
    int delay() {
        double const other = chance_.happens(0.1) ? chance_.uniform(2 * a_minute, 10 * a_minute) : 0;
        return static_cast<int>(chance_.uniform(0, 75) + other);
    }
    static bool awake(int s) { return s >= day_begins || s < night_begins + 15 * a_minute; }

    schedule::Wanted wanted(int s) {
        auto const view = kitchen_.view();
        schedule::Wanted wanted{supper_.settings, TimeZone(), started_at + s,
                                schedule::running_dishes(schedule::cooking_in(view.dishes, moment(s)),
                                                         supper_.settings, started_at + s)};
        wanted.times = &times_;
        return wanted;
    }
    void ask(int s, std::optional<Said> Served::*into) {
        auto const before = std::chrono::steady_clock::now();
        auto const made = schedule::make_schedule(wanted(s));
        if (into == &Served::at_breakfast)
            out_.schedule_ms =
                std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - before).count();
        for (auto const& plan : made.dishes) {
            auto& of = out_.served[static_cast<std::size_t>(plan.dish)].*into;
            if (!plan.ready_at || !plan.ready_late) continue;
            auto const since = [](schedule::Seconds t) { return static_cast<int>(t - started_at); };
            of = Said{since(*plan.ready_early), since(*plan.ready_at), since(*plan.ready_late),
                      plan.chance.value_or(-1)};
        }
    }
    // Of each dish the planned begins of its stages yet to come, by the schedule of now.
    void consult(int s) {
        auto const now = wanted(s);
        auto jobs = schedule::jobs_of(now).dishes;
        std::erase_if(jobs, [](schedule::DishJob const& job) { return !job.impossible.empty(); });
        auto const planned = schedule::plan_together(now, jobs);
        if (!planned) return;
        planned_ = {};
        for (std::size_t j = 0; j < jobs.size(); ++j) {
            auto const& times = planned->times[j];
            auto& of = planned_[static_cast<std::size_t>(jobs[j].dish)];
            of.first = static_cast<int>(times[0] - started_at);
            of.next = static_cast<int>(times[1] - started_at);
        }
    }
    void listen(int s, Effects& effects) {
        for (auto const& effect : effects) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->alarm.type->name != std::string_view("late-for-serving")) continue;
            bool const loud =
                change->transition == Transition::raised || change->transition == Transition::worsened;
            if (!loud) continue;
            auto& of = out_.served[static_cast<std::size_t>(change->alarm.subject.number)];
            of.warnings.push_back({s, change->alarm.text});
            consulted_ = -consults_each_s;
            bool const heat =
                says(change->alarm.text, "What helps: keep ") || says(change->alarm.text, "may go up to");
            if (manner_.heeds && heat && !turns_up_at_) turns_up_at_ = s + reacts_in;
        }
        effects.clear();
    }

    static bool says(std::string const& text, char const* words) {
        return text.find(words) != std::string::npos;
    }

    struct Planned {
        int first = 1 << 30, next = 1 << 30;
    };
    struct Pending {
        std::string what;
        int at = 0;
    };

    void look(int s) {
        auto const view = kitchen_.view();
        if (s - consulted_ >= consults_each_s) consult(s), consulted_ = s;
        for (std::size_t d = 0; d < dishes; ++d) see_to(s, static_cast<Dish>(d), view.dishes[d]);
    }
    // What is to be done now with this dish; "": nothing.
    std::string due(int s, Dish dish, DishView const& view) {
        auto const& of = out_.served[static_cast<std::size_t>(dish)];
        auto const& plan = planned_[static_cast<std::size_t>(dish)];
        if (of.ready) return "";
        bool const told = manner_.heeds && !of.warnings.empty() && s - of.warnings.back().at < an_hour &&
                          says(of.warnings.back().text, "egun");
        if (!view.begun) return s >= plan.first || told ? "begin" : "";
        auto const& settings = supper_.settings.plans[static_cast<std::size_t>(dish)];
        auto const at = std::ranges::find(settings.stages, view.stage, &StageSettings::name);
        if (at == settings.stages.end()) return "serve";
        auto const does = at->does.value_or(Does::cook);
        bool const may_wait = does == Does::hot_hold || does == Does::chill || does == Does::cold_hold;
        bool const last = at + 1 == settings.stages.end(), over = view.clock.state.starts_with("over;");
        if (last && does == Does::hot_hold) return s >= of.serve_at ? "serve" : "";
        if (over && !may_wait) return "next of " + view.stage;
        bool const waits = may_wait && !last && (over || at->until.none());
        return waits && s >= plan.next ? "next of " + view.stage : "";
    }
    void see_to(int s, Dish dish, DishView const& view) {
        auto& pending = pending_[static_cast<std::size_t>(dish)];
        auto what = due(s, dish, view);
        if (what.empty() && pending.what == "begin" && !view.begun) what = "begin";  // as it was said to be
        if (what.empty()) return void(pending = {});
        bool const by_itself = what == "serve" && view.stage == "done";  // it is ready, whoever looks
        if (pending.what != what) pending = {what, s + (by_itself ? 0 : delay())};
        if (s < pending.at || (!by_itself && (s < busy_until_ || !awake(s)))) return;
        act(s, dish, view, what);
        pending = {};
    }
    void act(int s, Dish dish, DishView const& view, std::string const& what) {
        Effects effects;
        auto& of = out_.served[static_cast<std::size_t>(dish)];
        int const number = static_cast<int>(dish);
        if (what == "serve") {
            of.ready = std::max(s, of.serve_at);
            kitchen_.command(moment(s), End{number}, effects);
            hall_.put(dish, {});
        } else {
            if (what == "begin") {
                of.begun = s;
                kitchen_.command(moment(s), Begin{number}, effects);
            } else {
                if (dish <= terrine && view.core_reached && view.target_c && !of.short_of_target_k)
                    of.short_of_target_k = *view.target_c - hall_.core(dish);
                kitchen_.command(moment(s), Next{number}, effects);
            }
            move(s, dish);
        }
        listen(s, effects);
        consulted_ = -consults_each_s;
    }
    void move(int s, Dish dish) {
        auto const after = kitchen_.view().dishes[static_cast<std::size_t>(dish)];
        hall_.put(dish, after.vessel < 0 ? std::nullopt : std::optional(static_cast<Vessel>(after.vessel)));
        auto const& stages = supper_.settings.plans[static_cast<std::size_t>(dish)].stages;
        auto const at = std::ranges::find(stages, after.stage, &StageSettings::name);
        if (at != stages.end() && at->hands) busy_until_ = s + static_cast<int>(at->hands->seconds);
    }

    Supper const& supper_;
    Manner manner_;
    std::optional<int> turns_up_at_;
    Hall hall_;
    scenarios::Chance chance_;
    Kitchen kitchen_;
    PlannedTimes times_;
    Evening out_;
    std::array<Planned, dishes> planned_{};
    std::array<Pending, dishes> pending_{};
    int consulted_ = -consults_each_s, busy_until_ = 0;
};

}  // namespace

Evening run(Supper const& supper, Manner const& manner) {
    return Cook(supper, manner).whole();
}

}  // namespace ingle::suppers
