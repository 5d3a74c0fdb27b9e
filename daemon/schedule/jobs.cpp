#include "daemon/schedule/jobs.hpp"

#include <algorithm>
#include <cmath>
#include <variant>

#include "config/no_vessel.hpp"
#include "daemon/schedule/nights.hpp"

namespace ingle::schedule {
namespace {

constexpr Seconds a_minute = 60, a_day = 86'400;
constexpr Seconds longest_wait = 30 * a_day;  // where the plan says no at-most
constexpr Seconds horizon_days = 21;

Seconds whole_minutes(double seconds) {
    return static_cast<Seconds>(std::ceil(seconds / a_minute - 1e-6)) * a_minute;
}

class Builder {
public:
    Builder(Wanted const& wanted, int dish, KnownLengths known)
        : wanted_(wanted), dish_(wanted.settings.dishes[static_cast<std::size_t>(dish)]), known_(known) {
        made_.dish = dish;
    }

    DishJob build(std::vector<StageOfDish> const& stages, Running const* running) {
        made_.first = running ? running->stage : 0;
        made_.job.earliest = wanted_.at;
        double core = first_core(phase_of(*stages[0].settings, vessel(stages[0].vessel)));
        for (std::size_t i = 0; i < stages.size(); ++i) {
            auto const past = past_of(i);
            StageFacts const facts{dish_, *stages[i].settings, vessel(stages[i].vessel), core,
                                   past,  wanted_.times};
            if (i == made_.first) last_heat_ = is_last_heat(stages, i);
            if (i >= made_.first) add(facts, stages[i].vessel, i, i == made_.first ? running : nullptr);
            core = core_after(facts);
        }
        if (running) look_at_undone(stages, *running), look_around(stages, *running);
        set_margins();
        set_serving(running != nullptr);
        return std::move(made_);
    }

private:
    VesselSettings const* vessel(int number) const {
        return number < 0 ? nullptr : &wanted_.settings.vessels[static_cast<std::size_t>(number)];
    }
    std::vector<double> past_of(std::size_t stage) const {
        std::vector<double> lengths;
        for (auto const& one : wanted_.past)
            if (one.dish == made_.dish && one.stage == stage) lengths.push_back(one.length_s);
        return lengths;
    }
    void add(StageFacts const& facts, int number, std::size_t stage, Running const* running) {
        auto length = length_in(facts, stage, running);
        Task task;
        task.vessel = number;
        task.band = facts.stage.band ? facts.stage.band : facts.vessel ? facts.vessel->band : std::nullopt;
        task.least = task.most = whole_minutes(length.likely);
        auto const at_most = most_of(facts, running);
        if (may_wait(phase_of(facts.stage, facts.vessel)))
            task.most = std::max(task.least, at_most.value_or(longest_wait));
        if (at_most && task.least > *at_most && length.known) too_long(facts, length, running);
        if (length.impossible)
            made_.impossible = dish_.name + ": at the heat of stage " + facts.stage.name +
                               " its core does not come to the target within 36 h";
        task.most = std::max(task.most, task.least);
        if (running) {
            made_.job.fixed = true, made_.began = running->began;
            task.under_way = true;
        } else {
            if (facts.stage.hands)
                task.hands = std::min(whole_minutes(facts.stage.hands->seconds), task.most);
            task.least = std::max(task.least, task.hands);
            // What is put somewhere is put there by somebody.
            bool const moved =
                stage == 0 || made_.job.tasks.empty() || made_.job.tasks.back().vessel != number;
            task.attended = moved || task.hands > 0;
        }
        made_.job.tasks.push_back(task);
        made_.lengths.push_back(std::move(length));
    }
    StageLength length_in(StageFacts const& facts, std::size_t stage, Running const* running) const {
        bool const known = known_.job && stage < known_.stages && stage >= known_.job->first &&
                           stage - known_.job->first < known_.job->lengths.size();
        if (known) return known_.job->lengths[stage - known_.job->first];
        auto const whole = length_of(facts);
        return running ? left_of(facts, whole, as_it_is(*running)) : whole;
    }
    std::optional<Seconds> most_of(StageFacts const& facts, Running const* running) const {
        if (!facts.stage.at_most) return std::nullopt;
        auto const most = static_cast<Seconds>(facts.stage.at_most->seconds);
        return running ? std::max<Seconds>(0, most - (wanted_.at - running->began)) : most;
    }
    void too_long(StageFacts const& facts, StageLength const& length, Running const* running) {
        auto const span = [](double s) { return show(Duration{std::round(s / a_minute) * a_minute}); };
        auto text = "stage " + facts.stage.name;
        if (running)
            text += " has run for " + span(static_cast<double>(wanted_.at - running->began)) + " and still";
        text += " takes about " + span(length.likely) + ", and its plan allows at most " +
                show(*facts.stage.at_most) + (running ? " in all" : "");
        (running ? made_.not_done : made_.impossible) = dish_.name + ": " + text;
    }
    bool is_last_heat(std::vector<StageOfDish> const& stages, std::size_t first) const {
        auto const heats = [&](StageOfDish const& stage) {
            return is_heated(phase_of(*stage.settings, vessel(stage.vessel)));
        };
        return heats(stages[first]) &&
               std::none_of(stages.begin() + static_cast<std::ptrdiff_t>(first) + 1, stages.end(), heats);
    }
    StageSoFar as_it_is(Running const& running) const {
        return {static_cast<double>(wanted_.at - running.began),
                running.over,
                running.core_there,
                running.unread,
                running.clock_left_s,
                running.core_c,
                running.left_s,
                running.left_low_s,
                running.left_high_s,
                last_heat_};
    }
    // What was left undone is not done: only a stage that is yet to come can still bring a core there.
    void look_at_undone(std::vector<StageOfDish> const& stages, Running const& running) {
        for (auto const& one : running.undone) {
            made_.notes.push_back(one.text);
            if (!one.core_c) continue;
            auto const makes_good = [&](StageOfDish const& stage) {
                return stage.settings->until.core && stage.settings->until.core->celsius >= *one.core_c &&
                       is_heated(phase_of(*stage.settings, vessel(stage.vessel)));
            };
            auto const from =
                stages.begin() + static_cast<std::ptrdiff_t>(running.stage) + (running.over ? 1 : 0);
            if (std::any_of(from, stages.end(), makes_good)) continue;
            made_.not_done = dish_.name + " is not done by the end of its plan: " + one.text;
            made_.left_early = true;
        }
    }
    // What came into its vessel first has the band that it asks for there, and time of another band does not
    // count.
    void look_around(std::vector<StageOfDish> const& stages, Running const& running) {
        auto const& own = stages[running.stage];
        if (own.vessel < 0 || !own.settings->band || running.over) return;
        for (auto const& other : wanted_.running) {
            bool const first = std::pair(other.began, other.dish) < std::pair(running.began, running.dish);
            auto const& dish = wanted_.settings.dishes[static_cast<std::size_t>(other.dish)];
            auto const theirs = stages_of(wanted_.settings, dish);
            if (!first || other.cooked || other.stage >= theirs.size()) continue;
            auto const& stage = theirs[other.stage];
            auto const& band = stage.settings->band;
            if (stage.vessel != own.vessel || !band || overlap(*band, *own.settings->band)) continue;
            made_.held_for = other.dish, made_.held_in = own.vessel;
            made_.not_done = vessel(own.vessel)->name + " is held at " + words(*band) + " for " + dish.name +
                             " (" + stage.settings->name + "), and " + own.settings->name + " of " +
                             dish_.name + " asks for " + words(*own.settings->band);
        }
    }
    std::string words(Band const& band) const {
        return show(band.low, wanted_.settings.units) + " to " + show(band.high, wanted_.settings.units);
    }
    // What cooks already may be ready before its time, and is then told so.
    void set_serving(bool runs) {
        Seconds least = 0, most = 0;
        for (auto const& task : made_.job.tasks) least += task.least, most += task.most;
        if (dish_.serve_at) made_.serve_at = *dish_.serve_at / 1000;
        made_.job.serve_at = made_.serve_at.value_or(wanted_.at + least);
        if (runs) made_.job.serve_at = std::min(made_.job.serve_at, wanted_.at + most);
    }
    // Since the last place where it could wait.
    void set_margins() {
        double square = 0;
        for (std::size_t i = 0; i < made_.lengths.size(); ++i) {
            auto const& task = made_.job.tasks[i];
            auto const& length = made_.lengths[i];
            auto& margin = made_.margins.emplace_back(0);
            square += (length.high - length.likely) * (length.high - length.likely);
            if (task.most > task.least) {
                margin = std::min(whole_minutes(std::sqrt(square)), task.most - task.least);
                square = 0;
            }
        }
    }

    Wanted const& wanted_;
    DishSettings const& dish_;
    KnownLengths known_;
    bool last_heat_ = false;  // of the stage that runs
    DishJob made_;
};

std::variant<DishJob, LeftOut> job_or_why_not(Wanted const& wanted, int number, KnownLengths known = {}) {
    auto const& dish = wanted.settings.dishes[static_cast<std::size_t>(number)];
    auto const running = std::ranges::find(wanted.running, number, &Running::dish);
    bool const runs = running != wanted.running.end();
    auto const stages = stages_of(wanted.settings, dish);
    if (stages.empty()) return LeftOut{number, "it has no plan"};
    if (runs && running->cooked) return LeftOut{number, "it was cooked for that time, and its cook is ended"};
    if (runs && running->by_another_plan)
        return LeftOut{number, "it cooks by the plan that it began with, and has another one now"};
    if (runs && running->stage >= stages.size()) {
        if (running->undone.empty()) return LeftOut{number, "all its stages are done"};
        std::string left;
        for (auto const& one : running->undone) left += (left.empty() ? "" : "; ") + one.text;
        return LeftOut{number, "its plan is at its end, but not done: " + left};
    }
    if (!dish.serve_at && !runs) return LeftOut{number, "no serve-at says when it is wanted"};
    return Builder(wanted, number, known).build(stages, runs ? &*running : nullptr);
}

}  // namespace

std::vector<StageOfDish> stages_of(Settings const& settings, DishSettings const& dish) {
    std::vector<StageOfDish> out;
    auto const plan = std::ranges::find(settings.plans, dish.plan, &PlanSettings::name);
    if (plan == settings.plans.end()) return out;
    for (std::size_t i = 0; i < plan->stages.size(); ++i) {
        bool const none = i < plan->stage_vessels.size() && plan->stage_vessels[i] == no_vessel;
        int const own = plan->stages[i].vessel;
        out.push_back({&plan->stages[i], none ? -1 : own >= 0 ? own : dish.vessel});
    }
    return out;
}

std::optional<DishJob> job_of(Wanted const& wanted, int dish, KnownLengths known) {
    auto made = job_or_why_not(wanted, dish, known);
    auto* job = std::get_if<DishJob>(&made);
    return job ? std::optional(std::move(*job)) : std::nullopt;
}

Jobs jobs_of(Wanted const& wanted) {
    Jobs jobs;
    for (int d = 0; d < static_cast<int>(wanted.settings.dishes.size()); ++d) {
        auto made = job_or_why_not(wanted, d);
        if (auto* why = std::get_if<LeftOut>(&made))
            jobs.left_out.push_back(std::move(*why));
        else
            jobs.dishes.push_back(std::move(std::get<DishJob>(made)));
    }
    return jobs;
}

Problem problem_of(Wanted const& wanted, std::vector<DishJob> const& dishes, double share) {
    Problem problem;
    problem.effort = wanted.effort;
    auto last = wanted.at;
    for (auto const& dish : dishes) {
        auto& job = problem.jobs.emplace_back(dish.job);
        last = std::max(last, job.serve_at);
        for (std::size_t i = 0; i < job.tasks.size(); ++i)
            job.tasks[i].least += whole_minutes(share * static_cast<double>(dish.margins[i]));
    }
    for (auto const& vessel : wanted.settings.vessels) problem.rooms.push_back(vessel.room_for);
    if (wanted.zone_known)
        problem.nights = nights(wanted.settings.awake, wanted.zone, {wanted.at, last + horizon_days * a_day});
    return problem;
}

}  // namespace ingle::schedule
