#include "tools/cli/review/outlooks.hpp"

#include <algorithm>
#include <map>

#include "daemon/replay/run.hpp"

namespace ingle::cli {
namespace {

constexpr double longest_s = 3 * 86400;  // about half a minute of work

PlanSettings plan_of(CookRecord const& record, Settings const& settings) {
    PlanSettings plan;
    plan.name = "as-recorded";
    for (auto const& recorded : record.stages) {
        StageSettings stage;
        stage.name = recorded.name;
        stage.does = recorded.does;
        if (recorded.vessel >= 0) {
            auto const& name = record.vessels[static_cast<std::size_t>(recorded.vessel)].name;
            auto const found = std::ranges::find(settings.vessels, name, &VesselSettings::name);
            if (found != settings.vessels.end())
                stage.vessel = static_cast<int>(found - settings.vessels.begin());
        }
        stage.band = recorded.band;
        if (recorded.until_core_c) stage.until.core = Temperature{*recorded.until_core_c};
        stage.at_least = Duration{1e9};  // it ends when it was recorded to end
        plan.stages.push_back(std::move(stage));
    }
    plan.stage_vessels.resize(plan.stages.size());
    return plan;
}

Recording recording_of(CookRecord const& record) {
    Recording recording;
    std::vector<CookSeries const*> series;
    for (auto const& core : record.cores) series.push_back(&core);
    for (auto const& vessel : record.vessels)
        if (!vessel.medium.probe.empty()) series.push_back(&vessel.medium);
    std::map<std::int64_t, std::vector<Cell>> rows;
    for (std::size_t column = 0; column < series.size(); ++column) {
        recording.columns.push_back({series[column]->probe, {}});
        for (auto const& sample : series[column]->samples) {
            if (sample.t < 0 || sample.t > record.length_s) continue;
            auto& row = rows[from_seconds(sample.t).count()];
            row.resize(series.size());
            row[column] = sample.celsius;
        }
    }
    for (auto& [at, cells] : rows) {
        recording.times.push_back(Span(at));
        recording.cells.insert(recording.cells.end(), cells.begin(), cells.end());
    }
    return recording;
}

}  // namespace

void recompute_outlooks(Settings settings, CookRecord& record) {
    auto const dish = std::ranges::find(settings.dishes, record.dish.name, &DishSettings::name);
    if (dish == settings.dishes.end() || record.cores.empty()) return;
    if (record.length_s > longest_s) {
        record.outlooks_from = "not recomputed: the cook lasted more than three days";
        return;
    }
    int const number = static_cast<int>(dish - settings.dishes.begin());
    settings.plans = {plan_of(record, settings)};
    settings.channels.clear();
    for (auto& probe : settings.probes) probe.calibration.clear();  // the readings are calibrated already
    for (auto& one : settings.dishes) one.plan.clear();
    settings.dishes[static_cast<std::size_t>(number)].plan = settings.plans.front().name;
    auto const recording = recording_of(record);
    if (recording.rows() == 0) return;
    std::vector<TimedCommand> commands{{Span(0), Begin{number}}};
    for (std::size_t i = 1; i < record.stages.size(); ++i)
        commands.push_back({from_seconds(record.stages[i].began), Next{number}});
    if (!record.stages.empty() && record.stages.back().over && !record.stages.back().waits)
        commands.push_back({from_seconds(record.stages.back().ended), Next{number}});
    Instant const start{};
    run_replay(settings, recording, commands, [&](Effect const& effect) {
        auto const* forecast = std::get_if<Forecast>(&effect);
        if (!forecast || forecast->what != "core-target") return;
        record.outlooks.push_back({seconds(forecast->at - start), forecast->eta_s, forecast->low_s,
                                   forecast->high_s, forecast->low_half_s, forecast->high_half_s,
                                   forecast->confidence});
    });
    record.outlooks_from = "recomputed from the recorded readings";
}

}  // namespace ingle::cli
