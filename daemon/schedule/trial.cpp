#include "daemon/schedule/trial.hpp"

#include <algorithm>

namespace ingle::schedule {

Trial::Trial(Wanted const& wanted, std::size_t steps) : steps_(steps), jobs_(jobs_of(wanted).dishes) {
    if (auto before = standings(wanted, jobs_, false)) before_ = std::move(*before);
}

std::optional<std::vector<Standing>> Trial::standings(Wanted const& wanted, std::vector<DishJob> jobs,
                                                      bool chances) const {
    std::vector<Standing> out(wanted.settings.dishes.size());
    for (auto& job : jobs) {
        out[static_cast<std::size_t>(job.dish)].planned = true;
        if (job.impossible.empty()) find_impossible(wanted, job);
    }
    std::erase_if(jobs, [](DishJob const& job) { return !job.impossible.empty(); });
    auto const planned = plan_together(wanted, jobs, steps_);
    if (!planned) return std::nullopt;
    auto const sure = chances ? chances_of(*planned, jobs) : std::vector<Chance>(jobs.size());
    for (std::size_t j = 0; j < jobs.size(); ++j) {
        auto const& job = jobs[j];
        auto const& times = planned->times[j];
        auto& one = out[static_cast<std::size_t>(job.dish)];
        one.possible = job.not_done.empty();
        one.begin = times.front(), one.ready = times.back();
        one.late = job.serve_at ? std::max<Seconds>(0, one.ready - *job.serve_at) : 0;
        one.last_stage = times.back() - times[times.size() - 2];
        one.in_time = sure[j].in_time;
    }
    return out;
}

std::optional<std::vector<Standing>> Trial::with(Changed const& change, std::vector<int> const& dishes,
                                                 bool chances) const {
    auto const wanted = change.wanted();
    std::vector<DishJob> jobs;
    for (int dish = 0; dish < static_cast<int>(wanted.settings.dishes.size()); ++dish) {
        auto const known = std::ranges::find(jobs_, dish, &DishJob::dish);
        KnownLengths const lengths{known == jobs_.end() ? nullptr : &*known, change.stages_kept(dish)};
        if (auto job = job_of(wanted, dish, lengths)) jobs.push_back(std::move(*job));
    }
    auto after = standings(wanted, std::move(jobs), chances);
    if (!after) return after;
    for (std::size_t d = 0; d < after->size(); ++d) {
        auto const& one = (*after)[d];
        if (!one.planned || std::ranges::count(dishes, static_cast<int>(d))) continue;
        auto const was = before_.empty() ? Standing{true, true} : before_[d];
        if (was.possible && (!one.possible || one.late > was.late)) return std::nullopt;
    }
    return after;
}

bool Trial::resolves(Changed const& change, std::vector<int> const& dishes) const {
    auto const after = with(change, dishes);
    return after && std::ranges::all_of(dishes, [&](int dish) {
               auto const& one = (*after)[static_cast<std::size_t>(dish)];
               return one.planned && one.possible && one.late == 0;
           });
}

}  // namespace ingle::schedule
