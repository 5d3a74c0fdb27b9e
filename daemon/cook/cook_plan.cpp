// The plan of a cook: taken from the kitchen's settings, and found again after a restart or a reload.
#include <algorithm>

#include "config/load.hpp"
#include "config/no_vessel.hpp"
#include "daemon/cook/cook.hpp"
#include "daemon/cook/plan_choice.hpp"

namespace ingle {

void Cook::use(PlanSettings const& plan) {
    plan_ = plan;
    stages_ = plan.stages;
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        auto const name = i < plan.stage_vessels.size() ? plan.stage_vessels[i] : std::string();
        auto const found = std::ranges::find(vessel_names_, name);
        if (!name.empty() && found != vessel_names_.end())
            stages_[i].vessel = static_cast<int>(found - vessel_names_.begin());
    }
    plan_has_target_ =
        std::any_of(stages_.begin(), stages_.end(), [](auto const& s) { return s.until.core.has_value(); });
    if (stages_.empty()) {
        stages_.emplace_back();
        stages_.back().name = "cook";
    }
    for (auto& stage : stages_) {
        if (stage.vessel < 0) stage.vessel = dish_.vessel;
    }
    for (std::size_t i = 0; i < plan.stage_vessels.size() && i < stages_.size(); ++i)
        if (plan.stage_vessels[i] == no_vessel) stages_[i].vessel = -1;
}

std::optional<std::size_t> Cook::place_now(std::size_t remembered) const {
    return remembered < moved_.size() ? moved_[remembered] : remembered;
}

// The plan file may have been edited meanwhile.
std::string Cook::find_stage(Memory const& memory, std::string const& prefix) {
    auto const place =
        static_cast<std::size_t>(std::max<std::int64_t>(0, memory.integer(prefix + "stage").value_or(0)));
    auto const name = memory.text(prefix + "stage-name").value_or("");
    auto const text = memory.text(prefix + "plan");
    std::vector<ConfigError> unreadable;
    PlanSettings before;  // as the cook began with it; of a memory that does not have it, its running stage
    if (text && !text->empty()) before = read_plan(*text, plan_.file, unreadable);
    bool const has_plan = text && unreadable.empty();
    if (!has_plan) {
        before.stages = stages_;
        if (place < stages_.size()) before.stages[place].name = name;
    } else if (before.stages.empty()) {
        before.stages.emplace_back().name = "cook";
    }
    // Memories from before that was in them have the name alone, and a stage may bear it.
    auto const is_done = memory.integer(prefix + "done");
    if (is_done ? *is_done != 0 : name == "done" && (!has_plan || place >= before.stages.size())) {
        stage_ = std::max(place, before.stages.size());
        if (has_plan) use(before), stage_ = stages_.size();
        return {};
    }
    auto const now_plan = has_plan && before.name != plan_.name ? NowPlan::another : NowPlan::same;
    auto const choice = choose_plan(before.stages, stages_, place, now_plan);
    stage_ = choice.edited || !has_plan ? std::min(choice.stage, stages_.size() - 1) : choice.stage;
    if (choice.edited) {
        for (std::size_t i = 0; i < before.stages.size(); ++i) {
            auto const one = choose_plan(before.stages, stages_, i, now_plan);
            moved_.push_back(one.edited ? std::optional(one.stage) : std::nullopt);
        }
        if (!has_plan || *text == plan_.text) return {};
        return "The plan of " + dish_.name +
               " was changed. Its cook goes on by the changed plan, in the stage " + stages_[stage_].name +
               '.';
    }
    if (!has_plan) {
        moved_.resize(place + 1);
        moved_[place] = stage_;
        plan_note_ = "The plan of " + dish_.name + " was changed, and the stage " + name +
                     " is not in it. The cook goes on in the stage " + stages_[stage_].name +
                     ": check that this is the right one.";
        return plan_note_;
    }
    if (before.stages.size() == 1 && before.name.empty()) before.stages.clear();
    use(before);
    plan_note_ = "The plan of " + dish_.name + " was changed, and it is not clear which of its stages " +
                 name + " is now. The cook goes on by the plan it began with.";
    return plan_note_;
}

}  // namespace ingle
