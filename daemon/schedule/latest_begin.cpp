#include "daemon/schedule/latest_begin.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/schedule/chance.hpp"
#include "daemon/schedule/planned.hpp"
#include "daemon/schedule/remedies.hpp"
#include "daemon/schedule/solver.hpp"

namespace ingle::schedule {
namespace {

// It is asked in between two readings: a few ms at most of one search, and of all of them together a tenth of
// a second on a slow board.
constexpr std::size_t steps = 2000;
constexpr std::size_t effort_to_help = 100'000;
constexpr Seconds a_minute = 60;
constexpr std::size_t most_others = 4;  // of those that share something with it, the first to be served

// What cooks is as long as it is, late or not.
DishJob as_it_cooks(DishJob job, Seconds at) {
    Seconds least = 0;
    for (auto const& task : job.job.tasks) least += task.least;
    job.job.serve_at = std::max(job.job.serve_at, at + least);
    return job;
}

// In nine of ten its stages together take no longer than this more than is likely.
Seconds spread(DishJob const& job) {
    double square = 0;
    for (std::size_t i = 0; i < job.lengths.size(); ++i) {
        auto const& length = job.lengths[i];
        auto const heat = static_cast<double>(heat_back(job.job.tasks[i], length));
        square += (length.high - length.likely) * (length.high - length.likely) + heat * heat;
        if (heat > 0) square += static_cast<double>(hands_late_s) * hands_late_s;
    }
    return static_cast<Seconds>(std::ceil(std::sqrt(square) / a_minute)) * a_minute;
}

bool share(Job const& a, Job const& b) {
    return std::ranges::any_of(a.tasks, [&](Task const& one) {
        return std::ranges::any_of(b.tasks, [&](Task const& other) {
            return (one.vessel >= 0 && one.vessel == other.vessel) || (one.hands > 0 && other.hands > 0);
        });
    });
}

// What this dish finds in its way: all that cooks, and what is served before it and is to be begun, too.
std::vector<DishJob> before(Wanted const& wanted, DishJob const& job, bool& in_full) {
    std::vector<DishJob> out;
    for (auto const& running : wanted.running)
        if (auto other = job_of(wanted, running.dish); other && other->impossible.empty())
            out.push_back(as_it_cooks(std::move(*other), wanted.at));
    std::vector<DishJob> first;
    for (int dish = 0; dish < static_cast<int>(wanted.settings.dishes.size()); ++dish) {
        auto other = dish == job.dish ? std::nullopt : job_of(wanted, dish);
        if (!other || other->job.fixed || !other->impossible.empty() || !share(other->job, job.job)) continue;
        if (std::pair(*other->serve_at, dish) < std::pair(*job.serve_at, job.dish))
            first.push_back(std::move(*other));
    }
    std::ranges::stable_sort(first, {}, [](DishJob const& one) { return *one.serve_at; });
    if (first.size() > most_others) first.resize(most_others);
    for (auto& other : first) {  // one that is late by itself is told of itself
        out.push_back(std::move(other));
        auto const answer = on_time(problem_of(wanted, out, 0), steps);
        in_full = in_full && (answer.best || answer.proven);
        if (!answer.best) out.pop_back();
    }
    return out;
}

std::optional<Seconds> begin_of(Problem const& problem) {
    auto const found = on_time(problem, steps).best;
    return found ? std::optional(found->times.back().front()) : std::nullopt;
}

// When it is to begin for as much of `room` at its end as its plan and what is in its way leave, were it
// asked early enough: what could have been begun a while ago is late already, what could at no time is not.
void find_sure(Problem problem, Seconds room, LatestBegin& out) {
    constexpr std::array shares{1.0, 0.5};
    auto& job = problem.jobs.back();
    auto const plan = job;
    for (double const share : shares) {
        job = plan;
        auto& last = job.tasks.back();
        auto const more =
            static_cast<Seconds>(std::ceil(share * static_cast<double>(room) / a_minute)) * a_minute;
        last.least += more, last.most = std::max(last.most, last.least);
        auto begin = begin_of(problem);
        job.earliest -= room;
        if (!begin) begin = begin_of(problem);
        if (!begin) continue;
        out.sure = std::min(*begin, *out.likely), out.nine_of_ten = share == 1;
        return;
    }
    out.sure = *out.likely, out.nine_of_ten = room == 0;
}

// Beside nothing else: by that it is begun no later, and late for sure where it is late by itself.
void find_by_itself(Wanted const& wanted, DishJob const& job, LatestBegin& out) {
    out.in_full = false;
    auto const alone = problem_of(wanted, {job}, 0);
    out.likely = begin_of(alone);
    if (out.likely) return find_sure(alone, spread(job), out);
    auto const soonest = least_late(alone, horizon_of(wanted, alone), steps).best;
    if (soonest) out.ready = soonest->times.back().back();
    if (soonest && out.ready >= *job.serve_at + worth_telling) return;
    out.likely = out.sure = soonest ? soonest->times.back().front() : *job.serve_at;
}

}  // namespace

std::vector<std::string> what_helps(Wanted const& asked, int dish) {
    Effort effort{effort_to_help};
    auto wanted = asked;
    wanted.effort = &effort;
    auto const job = job_of(wanted, dish);
    if (!job || !job->serve_at || !std::ranges::all_of(job->lengths, &StageLength::known)) return {};
    if (!job->impossible.empty()) return made_possible(wanted, Trial(wanted, steps), *job);
    Conflict const late{About::rule, -1, {dish}, {wanted.at, *job->serve_at}, {}, {}};
    return remedies(wanted, Trial(wanted, steps), {*job}, late);
}

std::optional<LatestBegin> latest_begin(Wanted const& asked, int dish, std::size_t most) {
    Effort effort{most};
    auto wanted = asked;
    wanted.effort = &effort;
    auto const job = job_of(wanted, dish);
    if (!job || job->job.fixed || !job->serve_at || !job->impossible.empty()) return std::nullopt;
    LatestBegin out;
    auto jobs = before(wanted, *job, out.in_full);
    jobs.push_back(*job);
    auto const stages = stages_of(wanted.settings, wanted.settings.dishes[static_cast<std::size_t>(dish)]);
    out.stage = stages[0].settings->name, out.vessel = stages[0].vessel;
    for (std::size_t i = 0; i < job->lengths.size(); ++i)
        if (!job->lengths[i].known && out.unknown.empty()) out.unknown = stages[i].settings->name;
    auto const by_itself = [&] {
        effort.left = effort_to_help;
        find_by_itself(wanted, *job, out);
        return out;
    };
    auto problem = problem_of(wanted, jobs, 0);
    out.likely = begin_of(problem);
    if (out.likely) {
        find_sure(problem, spread(*job), out);
        out.in_full = out.in_full && !effort.spent();
        return out;
    }
    // Only where what cooks makes way for it: by that no begin is sure, and the sooner the surer.
    for (auto const& tried : ending_sooner(problem, jobs)) {
        out.likely = begin_of(tried);
        if (!out.likely) continue;
        out.sure = std::min(wanted.at, *out.likely), out.nine_of_ten = false;
        return out;
    }
    if (effort.spent()) return by_itself();
    auto const alone = problem_of(wanted, {*job}, 0);
    out.taken = begin_of(alone).has_value();
    auto const soonest = least_late(problem, horizon_of(wanted, problem), steps);
    if (!soonest.best) return by_itself();
    out.ready = soonest.best->times.back().back();
    if (out.ready < *job->serve_at + worth_telling) {
        out.likely = out.sure = soonest.best->times.back().front();
        out.nine_of_ten = spread(*job) == 0;
        return out;
    }
    // Among the others nobody has shown that it is late.
    if (out.taken && !soonest.proven) return by_itself();
    Conflict const late{About::rule, -1, {dish}, {wanted.at, *job->serve_at}, {}, {}};
    effort.left = effort_to_help;
    out.remedies = remedies(wanted, Trial(wanted, steps), {*job}, late);
    return out;
}

}  // namespace ingle::schedule
