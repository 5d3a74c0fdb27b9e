#include "daemon/schedule/planned.hpp"

#include <algorithm>
#include <array>

#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr std::array margins{1.0, 0.5};  // shares of the room for what is uncertain, as far as it fits
constexpr Seconds a_minute = 60;
constexpr std::size_t steps_of_sooner = 2000;  // of one search for a dish that makes way
constexpr Seconds most_days = 20 * 86'400;
// What is begun at the last moment before the night waits for the morning when it is begun a minute late.
constexpr Seconds before_night = 600;

// Is everything on time with it?
std::optional<Solution> in_time(Wanted const& wanted, Problem const& problem, std::size_t steps) {
    auto found = solve_within(problem, horizon_of(wanted, problem), steps);
    return found && found->late == 0 ? std::move(found) : std::nullopt;
}

// As much room before the night, and then of each dish by itself, as leaves everything on time.
void make_room(Wanted const& wanted, std::vector<DishJob> const& dishes, std::size_t steps, Problem problem,
               Solution& best) {
    auto const keep = [&](Problem const& tried) {
        auto found = in_time(wanted, tried, steps);
        if (found) problem = tried, best = std::move(*found);
        return found.has_value();
    };
    auto early = problem;
    for (auto& night : early.nights) night.from -= before_night;
    keep(early);
    std::vector<Problem> roomy;
    for (double const share : margins) roomy.push_back(problem_of(wanted, dishes, share));
    for (std::size_t j = 0; j < dishes.size(); ++j)
        for (auto const& from : roomy) {
            if (problem.effort && problem.effort->spent()) return;
            if (std::ranges::none_of(dishes[j].margins, [](Seconds margin) { return margin > 0; })) break;
            auto tried = problem;
            tried.jobs[j] = from.jobs[j];
            if (keep(tried)) break;
        }
}

}  // namespace

std::vector<Problem> ending_sooner(Problem const& problem, std::vector<DishJob> const& dishes) {
    constexpr std::array sooner{a_minute * 5, a_minute * 10, a_minute * 20, a_minute * 40};
    std::vector<Problem> out{problem};
    for (std::size_t j = 0; j < dishes.size(); ++j) {
        auto const& job = problem.jobs[j];
        bool const early = job.fixed && dishes[j].serve_at && job.serve_at < *dishes[j].serve_at;
        auto soonest = job.earliest;
        for (auto const& task : job.tasks) soonest += task.least;
        for (auto const by : sooner) {
            if (!early || job.serve_at - by < soonest) break;
            out.push_back(problem);
            out.back().jobs[j].serve_at -= by;
        }
    }
    return out;
}

std::optional<Planned> plan_together(Wanted const& wanted, std::vector<DishJob> const& dishes,
                                     std::size_t steps) {
    auto bare = problem_of(wanted, dishes, 0);
    auto roomy = problem_of(wanted, dishes, margins.front());
    for (auto& night : roomy.nights) night.from -= before_night;
    auto best = in_time(wanted, roomy, steps);
    if (!best) {
        best = solve_within(bare, horizon_of(wanted, bare), steps);
        for (auto const& tried : ending_sooner(bare, dishes)) {
            if (best && best->late == 0) break;
            if (auto found = on_time(tried, std::min(steps, steps_of_sooner)).best)
                bare = tried, best = std::move(found);
        }
        if (best && best->late == 0) make_room(wanted, dishes, steps, bare, *best);
    }
    if (!best) return std::nullopt;
    return Planned{std::move(bare), std::move(best->times)};
}

std::vector<Chance> chances_of(Planned const& planned, std::vector<DishJob> const& dishes) {
    std::vector<std::vector<StageLength>> lengths;
    for (auto const& dish : dishes) lengths.push_back(dish.lengths);
    auto asked = planned.problem;
    for (std::size_t j = 0; j < dishes.size(); ++j)
        if (dishes[j].serve_at) asked.jobs[j].serve_at = *dishes[j].serve_at;
    return chances(asked, planned.times, lengths);
}

Seconds horizon_of(Wanted const& wanted, Problem const& problem) {
    auto last = wanted.at;
    for (auto const& job : problem.jobs) last = std::max(last, job.serve_at);
    return last + most_days;
}

void find_impossible(Wanted const& wanted, DishJob& dish) {
    auto problem = problem_of(wanted, {dish}, 0);
    problem.effort = nullptr;  // no dish is impossible because others took long
    auto const steps = usual_steps(problem);
    if (on_time(problem, steps).best || least_late(problem, horizon_of(wanted, problem), steps).best) return;
    dish.impossible =
        "between the cook's hours and what its plan allows at most, there is no time at which " +
        wanted.settings.dishes[static_cast<std::size_t>(dish.dish)].name + " can be done";
}

}  // namespace ingle::schedule
