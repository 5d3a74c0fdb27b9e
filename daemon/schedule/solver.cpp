#include "daemon/schedule/solver.hpp"

#include <algorithm>
#include <limits>

#include "daemon/schedule/clashes.hpp"

namespace ingle::schedule {
namespace {

constexpr std::size_t small_size = 40;  // tasks; up to here as many steps as a proof takes
constexpr std::size_t steps_when_small = 200'000;
constexpr std::size_t steps_when_large = 20'000;  // times tasks
constexpr std::size_t steps_of_part = 100;        // of one round of improvement
constexpr std::size_t rounds_of_improvement = 60;
constexpr std::size_t part_size = 3;  // dishes that one round moves

std::size_t size_of(Problem const& problem) {
    std::size_t tasks = 0;
    for (auto const& job : problem.jobs) tasks += job.tasks.size();
    return tasks;
}

// Depth first through the orders of what clashes. Of the orders that are decided, the bounds give the best
// times that there can be; where those clash no more, they are the answer.
class Branching {
public:
    Branching(Problem const& problem, Serving serving, Seconds horizon, std::size_t steps)
        : problem_(problem),
          serving_(serving),
          bounds_(problem, serving, horizon),
          left_(steps),
          weight_(std::max<std::size_t>(1, size_of(problem))) {}

    Answer run(std::optional<Seconds> better_than = {}) {
        if (better_than) best_cost_ = *better_than;
        if (auto const range = bounds_.range()) {
            // No cost is below that of the bounds alone.
            if (!best_cost_ || cost(*range) < *best_cost_) descend(*range);
        }
        Answer answer;
        answer.proven = left_ > 0;
        if (best_.empty()) return answer;
        answer.best = Solution{bounds_.times(best_), 0, 0, answer.proven};
        return answer;
    }

private:
    std::vector<Seconds> const& newest(Bounds::Range const& range) const {
        return serving_ == Serving::on_time ? range.high : range.low;
    }
    Seconds cost(Bounds::Range const& range) const {
        Seconds sum = 0;
        for (std::size_t j = 0; j < problem_.jobs.size(); ++j) {
            auto const& job = problem_.jobs[j];
            auto const begin = bounds_.number_of({static_cast<int>(j), 0});
            sum += serving_ == Serving::on_time ? job.serve_at - range.high[begin]
                                                : range.low[begin + job.tasks.size()] - job.serve_at;
        }
        return sum;
    }
    struct Child {
        Order order;
        Seconds cost;
    };
    std::vector<Child> children(Bounds::Range const& range, Clash const& clash) {
        std::vector<Child> out;
        for (auto const& order : ways_out(problem_, clash)) {
            auto tried = range;
            bounds_.add(order);
            if (bounds_.tighten(tried)) out.push_back({order, cost(tried)});
            bounds_.drop();
        }
        std::ranges::stable_sort(out, {}, &Child::cost);
        return out;
    }
    bool hopeless(Seconds cost) const { return best_cost_ && cost >= *best_cost_; }

    void descend(Bounds::Range const& range) {
        if (left_ == 0) return;
        --left_;
        if (auto* effort = problem_.effort) {
            effort->take(weight_);
            if (effort->spent()) left_ = 0;
        }
        auto const clash = find_clash(problem_, bounds_, newest(range),
                                      serving_ == Serving::on_time ? Seek::latest : Seek::earliest);
        if (!clash) {
            best_ = newest(range), best_cost_ = cost(range);
            return;
        }
        for (auto const& child : children(range, *clash)) {
            if (left_ == 0 || hopeless(child.cost)) return;
            auto tightened = range;
            bounds_.add(child.order);
            if (bounds_.tighten(tightened)) descend(tightened);
            bounds_.drop();
        }
    }

    Problem const& problem_;
    Serving serving_;
    Bounds bounds_;
    std::size_t left_;
    std::size_t weight_;
    std::vector<Seconds> best_;
    std::optional<Seconds> best_cost_;
};

Seconds lateness(Problem const& problem, Times const& times) {
    Seconds sum = 0;
    for (std::size_t j = 0; j < times.size(); ++j)
        sum += std::max<Seconds>(0, times[j].back() - problem.jobs[j].serve_at);
    return sum;
}

Seconds waiting_of(Job const& job, std::vector<Seconds> const& times) {
    Seconds sum = times.back() - times.front();
    for (auto const& task : job.tasks) sum -= task.least;
    return sum;
}

void count(Problem const& problem, Solution& solution) {
    solution.late = lateness(problem, solution.times);
    solution.waiting = waiting(problem, solution.times);
}

bool better(Solution const& a, Solution const& b) {
    return a.late != b.late ? a.late < b.late : a.waiting < b.waiting;
}

void hold(Job& job, std::vector<Seconds> const& times) {
    job.earliest = times.front(), job.fixed = true;
    for (std::size_t i = 0; i < job.tasks.size(); ++i)
        job.tasks[i].least = job.tasks[i].most = times[i + 1] - times[i];
}

// Every dish but these stays where it is.
std::optional<Solution> moved(Problem const& problem, Solution const& from,
                              std::vector<std::size_t> const& moving, Seconds horizon) {
    auto part = problem;
    for (std::size_t j = 0; j < part.jobs.size(); ++j)
        if (!std::ranges::count(moving, j)) hold(part.jobs[j], from.times[j]);
    auto answer = from.late == 0 ? on_time(part, steps_of_part) : least_late(part, horizon, steps_of_part);
    if (!answer.best) return std::nullopt;
    answer.best->proven = false;
    count(problem, *answer.best);
    return answer.best;
}

// Dish by dish, in this order: each where it is best among those before it.
std::optional<Solution> one_by_one(Problem const& problem, std::vector<std::size_t> const& order,
                                   Seconds horizon) {
    Problem part{{}, problem.rooms, problem.nights, problem.effort};
    Times placed;
    for (auto const j : order) {
        part.jobs.push_back(problem.jobs[j]);
        auto answer = on_time(part, steps_of_part);
        if (!answer.best) answer = least_late(part, horizon, steps_of_part);
        if (!answer.best) return std::nullopt;
        placed.push_back(answer.best->times.back());
        hold(part.jobs.back(), placed.back());
        part.jobs.back().serve_at = placed.back().back();
    }
    Solution solution;
    solution.times.resize(order.size());
    for (std::size_t k = 0; k < order.size(); ++k) solution.times[order[k]] = std::move(placed[k]);
    count(problem, solution);
    return solution;
}

Seconds work_of(Job const& job) {
    Seconds sum = 0;
    for (auto const& task : job.tasks) sum += task.least;
    return sum;
}

// By when it must begin, by when it is served, and the longest first; what is fixed always comes first.
std::vector<std::vector<std::size_t>> orders(Problem const& problem) {
    std::vector<std::vector<std::size_t>> out;
    auto const by = [&](auto const& key) {
        auto& order = out.emplace_back(problem.jobs.size());
        for (std::size_t j = 0; j < order.size(); ++j) order[j] = j;
        std::ranges::stable_sort(order, {}, [&](std::size_t j) {
            return std::pair(!problem.jobs[j].fixed, key(problem.jobs[j]));
        });
    };
    by([](Job const& job) { return job.serve_at - work_of(job); });
    by([](Job const& job) { return job.serve_at; });
    by([](Job const& job) { return -job.serve_at; });
    by([](Job const& job) { return -work_of(job); });
    return out;
}

// The dish that costs most and some beside it, then the next ones: a few dishes at a time are put where they
// are best among the others.
void improve(Problem const& problem, Solution& solution, Seconds horizon) {
    auto const jobs = problem.jobs.size();
    std::size_t without = 0;
    for (std::size_t round = 0; round < rounds_of_improvement && without < jobs; ++round) {
        if (solution.late == 0 && solution.waiting == 0) return;
        std::vector<std::size_t> order(jobs);
        for (std::size_t j = 0; j < jobs; ++j) order[j] = j;
        std::ranges::stable_sort(order, std::greater<>(), [&](std::size_t j) {
            auto const& job = problem.jobs[j];
            auto const& times = solution.times[j];
            return std::pair(times.back() - job.serve_at, waiting_of(job, times));
        });
        std::vector<std::size_t> moving{order[without]};
        for (std::size_t k = 1; k < part_size && k < jobs; ++k)
            moving.push_back(order[(without + k * (1 + round / jobs)) % jobs]);
        auto const found = moved(problem, solution, moving, horizon);
        bool const gained = found && better(*found, solution);
        if (gained) solution = *found;
        without = gained ? 0 : without + 1;
    }
}

}  // namespace

std::size_t usual_steps(Problem const& problem) {
    auto const size = std::max<std::size_t>(1, size_of(problem));
    return size <= small_size ? steps_when_small : std::max<std::size_t>(50, steps_when_large / size);
}

Seconds waiting(Problem const& problem, Times const& times) {
    Seconds sum = 0;
    for (std::size_t j = 0; j < times.size(); ++j) sum += waiting_of(problem.jobs[j], times[j]);
    return sum;
}

Answer on_time(Problem const& problem, std::size_t steps) {
    Seconds horizon = 0;
    for (auto const& job : problem.jobs) horizon = std::max(horizon, job.serve_at);
    auto answer = Branching(problem, Serving::on_time, horizon, steps).run();
    if (answer.best) count(problem, *answer.best);
    return answer;
}

Answer least_late(Problem const& problem, Seconds horizon, std::size_t steps) {
    auto answer = Branching(problem, Serving::not_before, horizon, steps).run();
    if (!answer.best) return answer;
    auto& best = *answer.best;
    // The same serving times, and now as little waiting as can be.
    auto served = problem;
    for (std::size_t j = 0; j < served.jobs.size(); ++j) served.jobs[j].serve_at = best.times[j].back();
    auto const calm = on_time(served, steps);
    if (calm.best) best.times = calm.best->times;
    best.proven = best.proven && calm.best && calm.best->proven;
    count(problem, best);
    return answer;
}

Answer solve(Problem const& problem, Seconds horizon) {
    auto const steps = usual_steps(problem);
    auto answer = on_time(problem, steps);
    if (answer.proven && answer.best) return answer;
    auto late = answer.best ? Answer{} : least_late(problem, horizon, steps);
    if (late.proven) return late;
    auto best = answer.best ? std::move(answer.best) : std::move(late.best);
    Effort own{std::numeric_limits<std::size_t>::max()};  // some answer there must be
    auto bounded = problem;
    bounded.effort = &own;
    for (auto const& order : orders(bounded)) {
        auto made = one_by_one(bounded, order, horizon);
        if (made && (!best || better(*made, *best))) best = std::move(made);
    }
    if (best) improve(bounded, *best, horizon);
    if (problem.effort) problem.effort->take(std::numeric_limits<std::size_t>::max() - own.left);
    if (!best) return {};
    best->proven = false;
    return {std::move(best), false};
}

std::optional<Solution> solve_within(Problem const& problem, Seconds horizon, std::size_t steps) {
    if (steps >= usual_steps(problem)) return solve(problem, horizon).best;
    auto answer = on_time(problem, steps);
    if (answer.best) return answer.best;
    if (!answer.proven) return std::nullopt;
    auto late = least_late(problem, horizon, steps);
    return late.proven ? late.best : std::nullopt;
}

}  // namespace ingle::schedule
