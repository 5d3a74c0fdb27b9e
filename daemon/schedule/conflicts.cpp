#include "daemon/schedule/conflicts.hpp"

#include <algorithm>

#include "daemon/schedule/remedies.hpp"
#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr std::size_t most_steps = 3000;
constexpr int plenty = 1000;

using Dishes = std::vector<std::size_t>;

Problem only(Problem const& whole, Dishes const& dishes) {
    Problem part{{}, whole.rooms, whole.nights, {}};
    for (auto const j : dishes) part.jobs.push_back(whole.jobs[j]);
    return part;
}

bool fits(Problem problem) {
    problem.effort = nullptr;
    return on_time(problem, most_steps).best.has_value();
}

// None can be taken away without the rest being on time.
Dishes smallest(Problem const& whole, Dishes dishes) {
    for (std::size_t k = 0; k < dishes.size();) {
        auto fewer = dishes;
        fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(k));
        if (!fewer.empty() && !fits(only(whole, fewer)))
            dishes = std::move(fewer);
        else
            ++k;
    }
    return dishes;
}

Problem without_hands(Problem problem) {
    for (auto& job : problem.jobs)
        for (auto& task : job.tasks) task.hands = 0, task.attended = false;
    return problem;
}

Problem without_vessel(Problem problem, int vessel) {
    problem.rooms[static_cast<std::size_t>(vessel)] = plenty;
    for (auto& job : problem.jobs)
        for (auto& task : job.tasks)
            if (task.vessel == vessel) task.band.reset();
    return problem;
}

// When two of them would be there at a time, each on its own way.
Interval when_both(Problem const& problem, int vessel) {
    std::vector<Interval> stays;
    for (auto const& job : problem.jobs) {
        auto const alone = on_time({{job}, problem.rooms, problem.nights, {}}, most_steps);
        if (!alone.best) continue;
        auto const& times = alone.best->times[0];
        for (std::size_t i = 0; i < job.tasks.size(); ++i) {
            bool const here = vessel >= 0 ? job.tasks[i].vessel == vessel : job.tasks[i].hands > 0;
            if (here) stays.push_back({times[i], vessel >= 0 ? times[i + 1] : times[i] + job.tasks[i].hands});
        }
    }
    std::optional<Interval> found;
    for (std::size_t a = 0; a < stays.size(); ++a)
        for (std::size_t b = 0; b < a; ++b) {
            Interval const both{std::max(stays[a].from, stays[b].from), std::min(stays[a].to, stays[b].to)};
            if (both.from < both.to && (!found || both.from < found->from)) found = both;
        }
    return found.value_or(stays.empty() ? Interval{} : stays[0]);
}

std::string name_of(Wanted const& wanted, int dish) {
    return wanted.settings.dishes[static_cast<std::size_t>(dish)].name;
}

std::string names(Wanted const& wanted, std::vector<int> const& dishes) {
    std::string text;
    for (std::size_t k = 0; k < dishes.size(); ++k)
        text += (k == 0 ? "" : k + 1 == dishes.size() ? " and " : ", ") + name_of(wanted, dishes[k]);
    return text;
}

Conflict alone(Wanted const& wanted, DishJob const& dish, Problem const& problem) {
    Conflict conflict;
    conflict.dishes = {dish.dish};
    conflict.when = {wanted.at, std::max(wanted.at, dish.job.serve_at)};
    auto const name = name_of(wanted, dish.dish);
    if (fits(without_hands(problem))) {
        conflict.about = About::hands;
        conflict.text = "nobody is there when " + name + " would need somebody";
        return conflict;
    }
    conflict.about = About::rule;
    Seconds least = 0;
    for (auto const& task : dish.job.tasks) least += task.least;
    auto const left = dish.job.serve_at - wanted.at;
    auto const span = [](Seconds s) { return show(Duration{static_cast<double>(s)}); };
    auto const needs = (dish.began ? " still needs " : " needs ") + span(least);
    if (left <= 0)
        conflict.text = name + " was to be served " + (left < 0 ? span(-left) + " ago" : "now") +
                        (dish.began ? "" : " and is not begun") + "; it" + needs;
    else if (least > left)
        conflict.text =
            name + needs + ", and it is to be served in " + span(left) +
            (dish.began ? "" : ": it was to be begun " + span(least - left) + " ago at the latest");
    else
        conflict.text = name + " would have to wait longer than its plan allows";
    return conflict;
}

// -1: the hands. Where both are in the way, the vessel is told.
int vessel_in_the_way(Problem const& problem) {
    auto const freed_by = [](Problem const& one) {
        for (int vessel = 0; vessel < static_cast<int>(one.rooms.size()); ++vessel)
            if (fits(without_vessel(one, vessel))) return vessel;
        return -1;
    };
    auto const free_hands = without_hands(problem);
    if (int const vessel = freed_by(problem); vessel >= 0) return vessel;
    return fits(free_hands) ? -1 : freed_by(free_hands);
}

Conflict together(Wanted const& wanted, std::vector<DishJob> const& dishes, Dishes const& core,
                  Problem const& problem) {
    Conflict conflict;
    for (auto const j : core) conflict.dishes.push_back(dishes[j].dish);
    auto const who = names(wanted, conflict.dishes);
    int const vessel = vessel_in_the_way(problem);
    conflict.when = when_both(problem, vessel);
    conflict.vessel = vessel;
    conflict.about = vessel < 0 ? About::hands : About::vessel;
    conflict.text = vessel < 0 ? who + " need the cook's hands at the same time"
                               : wanted.settings.vessels[static_cast<std::size_t>(vessel)].name +
                                     " cannot hold " + who + " at the same time";
    return conflict;
}

}  // namespace

void find_conflicts(Wanted const& wanted, Trial const& trial, std::vector<DishJob> const& dishes,
                    Schedule& out) {
    auto const whole = problem_of(wanted, dishes, 0);
    Dishes rest;
    for (std::size_t j = 0; j < dishes.size(); ++j)
        if (dishes[j].not_done.empty()) rest.push_back(j);
    while (!rest.empty() && !fits(only(whole, rest))) {
        auto const core = smallest(whole, rest);
        auto const problem = only(whole, core);
        auto conflict = core.size() == 1 ? alone(wanted, dishes[core[0]], problem)
                                         : together(wanted, dishes, core, problem);
        std::vector<DishJob> involved;
        for (auto const j : core) involved.push_back(dishes[j]);
        conflict.remedies = remedies(wanted, trial, involved, conflict);
        out.conflicts.push_back(std::move(conflict));
        // The one that is late gives way, and the others are looked at without it.
        auto const late = [&](std::size_t j) {
            auto const plan = std::ranges::find(out.dishes, dishes[j].dish, &DishPlan::dish);
            return plan != out.dishes.end() && plan->state == State::late;
        };
        auto const gives_way = std::ranges::find_if(core, late);
        std::erase(rest, gives_way != core.end() ? *gives_way : core.back());
    }
    for (auto& plan : out.dishes) {
        auto const job = std::ranges::find(dishes, plan.dish, &DishJob::dish);
        if (plan.state == State::tight && job != dishes.end()) plan.advice = surer(wanted, trial, *job);
    }
}

}  // namespace ingle::schedule
