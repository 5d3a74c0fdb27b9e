#include "daemon/schedule/planned.hpp"

#include <algorithm>
#include <array>

#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

constexpr std::array margins{1.0, 0.5, 0.0};  // shares of the room for what is uncertain, as far as it fits
constexpr Seconds most_days = 20 * 86'400;
// What is begun at the last moment before the night waits for the morning when it is begun a minute late.
constexpr double before_night_s = 600;

Problem with_room(Wanted const& wanted, std::vector<DishJob> const& dishes, double share) {
    auto problem = problem_of(wanted, dishes, share);
    for (auto& night : problem.nights) night.from -= static_cast<Seconds>(share * before_night_s);
    return problem;
}

}  // namespace

std::optional<Planned> plan_together(Wanted const& wanted, std::vector<DishJob> const& dishes,
                                     std::size_t steps) {
    auto bare = problem_of(wanted, dishes, 0);
    std::optional<Solution> best;
    bool unknown = false;
    for (double const share : margins) {
        auto const problem = share > 0 ? with_room(wanted, dishes, share) : bare;
        auto found = solve_within(problem, horizon_of(wanted, problem), steps);
        unknown = unknown || (!found && steps < any_steps);
        if (found && (!best || found->late < best->late)) best = std::move(found);
        if (best && best->late == 0) break;
    }
    if (!best || (unknown && best->late > 0)) return std::nullopt;
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
    auto const problem = problem_of(wanted, {dish}, 0);
    auto const steps = usual_steps(problem);
    if (on_time(problem, steps).best || least_late(problem, horizon_of(wanted, problem), steps).best) return;
    dish.impossible =
        "between the cook's hours and what its plan allows at most, there is no time at which " +
        wanted.settings.dishes[static_cast<std::size_t>(dish.dish)].name + " can be done";
}

}  // namespace ingle::schedule
