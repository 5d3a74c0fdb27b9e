#include "daemon/schedule/schedule.hpp"

#include <algorithm>
#include <array>

#include "daemon/schedule/conflicts.hpp"
#include "daemon/schedule/planned.hpp"
#include "daemon/schedule/remedies.hpp"
#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr double sure_enough = 0.8;  // below: tight
constexpr std::size_t steps_of_one = 2000;
// Of steps times tasks: some seconds on a slow board, whatever is in the kitchen file.
constexpr std::size_t effort_to_plan = 2'000'000, effort_to_help = 2'000'000;

// When each stage of this dish begins at the latest, while the others stay where they are.
std::vector<Seconds> latest(Planned const& planned, DishJob const& dish, std::size_t j, Seconds may_stay) {
    auto part = planned.problem;
    part.effort = nullptr;
    for (std::size_t k = 0; k < part.jobs.size(); ++k) {
        auto const& times = planned.times[k];
        part.jobs[k].serve_at = times.back();
        if (k == j) continue;
        part.jobs[k].earliest = times.front(), part.jobs[k].fixed = true;
        for (std::size_t i = 0; i < part.jobs[k].tasks.size(); ++i)
            part.jobs[k].tasks[i].least = part.jobs[k].tasks[i].most = times[i + 1] - times[i];
    }
    // What cooks and is ready before its time can stay where it is, as long as nothing else needs the place.
    auto const early = dish.began && dish.serve_at ? *dish.serve_at - planned.times[j].back() : 0;
    for (auto stays = std::min(early, may_stay); stays >= 60; stays /= 2) {
        auto later = part;
        auto& first = later.jobs[j].tasks.front();
        first.least += stays, first.most = std::max(first.most, first.least);
        later.jobs[j].serve_at += stays;
        if (auto const found = on_time(later, steps_of_one).best) return found->times[j];
    }
    auto const found = on_time(part, steps_of_one);
    return found.best ? found.best->times[j] : planned.times[j];
}

bool all_known(DishJob const& dish) {
    return std::ranges::all_of(dish.lengths, &StageLength::known);
}

DishPlan told(Wanted const& wanted, DishJob const& dish, Planned const& planned, Chance const& chance,
              std::size_t j) {
    DishPlan out;
    out.dish = dish.dish;
    auto const& times = planned.times[j];
    out.serve_at = dish.serve_at;
    out.ready_at = times.back();
    if (all_known(dish)) {
        out.ready_early = std::min(chance.ready_early, times.back());
        out.ready_late = std::max(chance.ready_late, times.back());
        if (dish.serve_at) out.chance = chance.in_time;
    }
    out.notes = dish.notes;
    bool const late = dish.serve_at && times.back() > *dish.serve_at;
    bool const sure = !dish.serve_at || (out.chance && *out.chance >= sure_enough);
    out.state = late ? State::late : sure ? State::fits : State::tight;
    auto const stages =
        stages_of(wanted.settings, wanted.settings.dishes[static_cast<std::size_t>(dish.dish)]);
    auto may_stay = std::numeric_limits<Seconds>::max();
    if (auto const& most = stages[dish.first].settings->at_most; most && dish.began)
        may_stay = *dish.began + static_cast<Seconds>(most->seconds) - times[1];
    auto const last_begins = latest(planned, dish, j, may_stay);
    for (std::size_t i = 0; i < dish.job.tasks.size(); ++i) {
        auto const& stage = stages[dish.first + i];
        auto const& task = dish.job.tasks[i];
        auto const* vessel =
            stage.vessel < 0 ? nullptr : &wanted.settings.vessels[static_cast<std::size_t>(stage.vessel)];
        bool const began = i == 0 && dish.began;
        out.stages.push_back({stage.settings->name, stage.vessel, phase_of(*stage.settings, vessel),
                              began ? *dish.began : times[i], times[i + 1],
                              began ? *dish.began : last_begins[i], dish.lengths[i], task.hands, began,
                              task.attended});
    }
    if (!dish.not_done.empty())
        out.state = State::impossible, out.ready_at = out.ready_early = out.ready_late = std::nullopt,
        out.chance.reset();
    return out;
}

// It goes on through its plan, and is not done by that.
Conflict not_done(Wanted const& wanted, DishJob const& dish) {
    auto const& name = wanted.settings.dishes[static_cast<std::size_t>(dish.dish)].name;
    Conflict conflict{About::rule, -1, {dish.dish}, {wanted.at, dish.job.serve_at}, dish.not_done, {}};
    conflict.tried = false;
    if (dish.held_for >= 0) {
        auto const& first = wanted.settings.dishes[static_cast<std::size_t>(dish.held_for)].name;
        conflict.about = About::vessel, conflict.vessel = dish.held_in;
        conflict.dishes = {dish.held_for, dish.dish};
        conflict.remedies = {"take " + name + " out until " + first + " is: `ingle back " + name +
                                 "` takes the word back for 2 h, and it is planned anew",
                             "take " + first + " out: then the band is that of " + name};
    }
    if (dish.left_early)
        conflict.remedies = {"`ingle back " + name + "` takes the word back for 2 h, and the stage goes on",
                             "end it, and begin it anew with what is missing"};
    return conflict;
}

}  // namespace

std::string_view to_word(State state) {
    constexpr std::array<std::string_view, 4> words{"fits", "tight", "late", "impossible"};
    return words[static_cast<std::size_t>(state)];
}

Schedule make_schedule(Wanted const& asked) {
    Schedule out;
    Effort to_plan{effort_to_plan}, to_help{effort_to_help};
    auto wanted = asked, helped = asked;
    wanted.effort = &to_plan, helped.effort = &to_help;
    out.at = wanted.at;
    auto jobs = jobs_of(wanted);
    out.left_out = std::move(jobs.left_out);
    auto& dishes = jobs.dishes;
    for (auto& dish : dishes)
        if (dish.impossible.empty()) find_impossible(wanted, dish);
    Trial const trial(helped, any_steps);
    for (auto const& dish : dishes) {
        if (dish.impossible.empty()) continue;
        DishPlan none;
        none.dish = dish.dish, none.state = State::impossible;
        none.serve_at = dish.serve_at;
        out.dishes.push_back(std::move(none));
        out.conflicts.push_back({About::rule,
                                 -1,
                                 {dish.dish},
                                 {wanted.at, dish.job.serve_at},
                                 dish.impossible,
                                 made_possible(helped, trial, dish)});
    }
    std::erase_if(dishes, [](DishJob const& dish) { return !dish.impossible.empty(); });
    for (auto const& dish : dishes)
        if (!dish.not_done.empty()) out.conflicts.push_back(not_done(wanted, dish));
    auto const planned = plan_together(wanted, dishes);
    if (planned) {
        out.nights = planned->problem.nights;
        auto const chances = chances_of(*planned, dishes);
        for (std::size_t j = 0; j < dishes.size(); ++j)
            out.dishes.push_back(told(wanted, dishes[j], *planned, chances[j], j));
    }
    find_conflicts(helped, trial, dishes, out);
    std::ranges::stable_sort(out.dishes, {}, &DishPlan::dish);
    out.fits = std::ranges::all_of(out.dishes, [](DishPlan const& dish) {
        return dish.state == State::fits || dish.state == State::tight;
    });
    return out;
}

}  // namespace ingle::schedule
