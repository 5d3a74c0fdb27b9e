#include "daemon/review/at.hpp"

#include <algorithm>

namespace ingle {
namespace {

// A stage that is over lasts until the next one begins: the dish is where it was until it is moved.
CookStage const* stage_at(std::vector<CookStage> const& stages, double t) {
    auto const next = std::ranges::upper_bound(stages, t, {}, &CookStage::began);
    if (next == stages.begin()) return nullptr;
    auto const& stage = *(next - 1);
    bool const last = next == stages.end() && stage.over && !stage.waits;
    return last && t > stage.ended ? nullptr : &stage;
}

}  // namespace

std::string stage_name_at(std::vector<CookStage> const& stages, double t) {
    if (auto const* stage = stage_at(stages, t)) return stage->name;
    return stages.empty() || t < stages.front().began ? "" : "after";
}

FoodPhase phase_at(CookRecord const& record, double t) {
    auto const kind = [&](int vessel) {
        return vessel < 0 ? std::optional<VesselKind>()
                          : record.vessels[static_cast<std::size_t>(vessel)].kind;
    };
    if (auto const* stage = stage_at(record.stages, t)) {
        auto const until_core =
            stage->until_core_c ? std::optional(Temperature{*stage->until_core_c}) : std::nullopt;
        return food_phase(stage->does, kind(stage->vessel), until_core);
    }
    if (record.stages.empty() || t < record.stages.front().began) return FoodPhase::waiting;
    return food_phase({}, kind(record.stages.back().vessel));
}

std::vector<Step> plain_steps(CookSeries const& series) {
    std::vector<Step> steps;
    CookSample const* before = nullptr;
    for (auto const& sample : series.samples) {
        if (before && sample.t > before->t)
            steps.push_back({before->t, before->celsius, sample.t, sample.celsius,
                             sample.t - before->t > series.longest_step_s()});
        before = &sample;
    }
    return steps;
}

std::optional<double> value_at(CookSeries const& series, double t) {
    auto const after = std::ranges::lower_bound(series.samples, t, {}, &CookSample::t);
    if (after == series.samples.end()) return std::nullopt;
    if (after->t == t) return after->celsius;
    if (after == series.samples.begin()) return std::nullopt;
    auto const& before = *(after - 1);
    if (after->t - before.t > series.longest_step_s()) return std::nullopt;
    return before.celsius + (after->celsius - before.celsius) * (t - before.t) / (after->t - before.t);
}

}  // namespace ingle
