#include "daemon/review/food_facts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/food/classes.hpp"
#include "daemon/food/core_track.hpp"
#include "daemon/food/ledger.hpp"
#include "daemon/review/at.hpp"

namespace ingle {
namespace {

constexpr double far = std::numeric_limits<double>::infinity();
constexpr double come_up_low_c = from_fahrenheit(50), come_up_high_c = from_fahrenheit(130);

CookSample begin_of(Step const& step) {
    return {step.t0, step.c0, false};
}
CookSample end_of(Step const& step) {
    return {step.t1, step.c1, false};
}
Crossing crossing_at(Step const& step, double level_c) {
    return {step.crossing(level_c), level_c, true, begin_of(step), end_of(step)};
}
Crossing moment(double t) {
    return {t, 0, false, {}, {}};
}

// The part of a measured step at or between the levels, as its two ends; empty if there is none.
std::optional<std::pair<Crossing, Crossing>> inside(Step const& step, double low_c, double high_c) {
    double const lower = std::min(step.c0, step.c1), upper = std::max(step.c0, step.c1);
    if (lower == upper) {
        if (lower < low_c || lower > high_c) return std::nullopt;
        return std::pair{moment(step.t0), moment(step.t1)};
    }
    if (upper <= low_c || lower >= high_c) return std::nullopt;
    auto const end = [&](double c, double t) {
        if (c <= low_c) return crossing_at(step, low_c);
        if (c >= high_c) return crossing_at(step, high_c);
        return moment(t);
    };
    return std::pair{end(step.c0, step.t0), end(step.c1, step.t1)};
}

double beyond(double c, double low_c, double high_c) {
    return low_c == -far ? -c : high_c == far ? c : 0;
}

void add_measured(FoodSpells& all, Step const& step, double low_c, double high_c, std::string const& stage) {
    auto const part = inside(step, low_c, high_c);
    if (!part || part->second.t <= part->first.t) return;
    // A reading that touches a limit and turns back ends nothing.
    bool const goes_on = !all.measured.empty() &&
                         std::abs(all.measured.back().end.t - part->first.t) < 1e-6 &&
                         all.measured.back().stage == stage;
    if (!goes_on) all.measured.push_back({part->first, part->second, stage, step.c0});
    auto& spell = all.measured.back();
    spell.end = part->second;
    for (double const c : {step.c0, step.c1})
        if (beyond(c, low_c, high_c) > beyond(spell.worst_c, low_c, high_c)) spell.worst_c = c;
}

// Until the log10 asked for is reached, as the source counts it.
std::vector<Step> until_lethal(std::vector<Step> const& steps, FoodClass const& food) {
    Lethality sum(food);
    std::vector<Step> part;
    for (auto const& step : steps) {
        part.push_back(step);
        sum.add(step);
        if (auto const log10 = sum.credited_log10(); log10 && *log10 >= food.target_log10) break;
    }
    return part;
}

std::vector<TableRow> table_rows(Lethality const& sum, FoodClass const& food) {
    std::vector<TableRow> rows;
    double slowest = 0;
    for (int f = 130; f <= 165; ++f) {
        auto const asked = sum.asked_at(f);
        if (!asked) continue;
        if (asked->printed > 0) slowest = asked->seconds();
        double const here = sum.seconds_at_or_above(f) - sum.seconds_at_or_above(f + 1);
        if (here <= 1e-6) continue;
        rows.push_back({f, here, *asked, slowest, slowest > 0 ? food.target_log10 * here / slowest : 0});
    }
    return rows;
}

void cooling_rows(CoreFacts& facts, CookRecord const& record, std::vector<Step> const& steps,
                  FoodClass const& food, CoolingRule const& rule) {
    if (steps.empty()) return;
    CoolingClock clock(rule);
    Lethality sum(food);
    bool const begun_unread = steps.front().from_unknown;
    if (begun_unread)
        clock.first(steps.front().t1, steps.front().c1, steps.front());
    else
        clock.first(steps.front().t0, steps.front().c0);
    for (auto const& step : steps) {
        auto const credited = sum.credited_log10();
        sum.add(step);
        if (step.from_unknown) continue;
        bool const cold = is_cold_phase(phase_at(record, step.t1));
        clock.add(step, credited && food.target_log10 > 0 && *credited >= food.target_log10,
                  cold ? Warming::none : Warming::heated);
    }
    if (!clock.running()) return;
    auto const around = [&](double t, double level) {
        for (auto const& step : steps) {
            if (t < step.t0 || t > step.t1 || (step.c0 - level) * (step.c1 - level) > 0) continue;
            if (!step.gap) return crossing_at(step, level);
            return Crossing{t, level, false, begin_of(step), end_of(step)};
        }
        auto none = moment(t);
        none.level_c = level;
        return none;
    };
    bool const start_seen = std::isfinite(clock.start_earliest_s());
    facts.cooling_from = around(clock.start_latest_s(), clock.start_limit_c());
    double const now = record.length_s;
    bool const blind = now - steps.back().t1 > facts.longest_step_s;
    double passed_at = clock.start_latest_s();
    for (std::size_t i = 0; i < rule.stages.size(); ++i) {
        auto const& asked = rule.stages[i];
        auto const state = clock.stage(i, now, blind);
        CoolingRow row;
        row.what = show(Temperature{asked.to_c()}, record.units);
        row.passed = state.passed;
        row.allowed_s = asked.most_s;
        row.took_least_s = state.took_least_s;
        row.took_most_s = start_seen ? state.took_most_s : far;
        row.answer = to_word(state.answer);
        double const from = i == 0 || asked.from_start ? clock.start_latest_s() : passed_at;
        row.at = state.passed ? around(from + state.took_least_s, asked.to_c()) : moment(now);
        if (state.passed) passed_at = from + state.took_least_s;
        facts.cooling.push_back(std::move(row));
    }
}

FoodSpells held_wrong(CookRecord const& record, std::vector<Step> const& steps) {
    FoodSpells all;
    auto const hot = hot_hold_limits().front().celsius(), cold = cold_hold_limits().front().celsius();
    for (auto const& step : steps) {
        auto const phase = phase_at(record, step.t1);
        FoodSpells part;
        if (phase == FoodPhase::hot_holding)
            part = spells_between({step}, -far, hot - rounding_k, record.stages);
        else if (is_held_cold(phase))
            part = spells_between({step}, cold + rounding_k, far, record.stages);
        for (auto& one : part.measured) {
            auto* last = all.measured.empty() ? nullptr : &all.measured.back();
            if (last && !last->end.seen && !one.begin.seen && std::abs(last->end.t - one.begin.t) < 1e-6) {
                last->end = one.end;
                bool const worse = phase == FoodPhase::hot_holding ? one.worst_c < last->worst_c
                                                                   : one.worst_c > last->worst_c;
                if (worse) last->worst_c = one.worst_c;
            } else {
                all.measured.push_back(one);
            }
        }
        for (auto const& one : part.unseen) all.unseen.push_back(one);
    }
    return all;
}

CoreFacts core_facts(CookRecord const& record, CookSeries const& series, FoodClass const& food,
                     CoolingRule const& rule) {
    CoreFacts facts;
    facts.probe = series.probe;
    facts.longest_step_s = series.longest_step_s();
    facts.seen = !series.samples.empty();
    if (!facts.seen) return facts;
    auto const all = core_steps(record, series);
    auto const& samples = series.samples;
    auto const moved =
        std::find_if(samples.rbegin(), samples.rend(), [](auto const& s) { return s.new_place; });
    double const since = moved == samples.rend() ? -far : moved->t;
    facts.peak =
        *std::max_element(moved == samples.rend() ? samples.begin() : moved.base() - 1, samples.end(),
                          [](auto const& a, auto const& b) { return a.celsius < b.celsius; });
    std::vector<Step> steps;  // since the tip is where it is
    std::ranges::copy_if(all, std::back_inserter(steps), [&](Step const& step) { return step.t1 > since; });
    auto const& stages = record.stages;
    auto const& zone = danger_zones().front();
    facts.danger = spells_between(all, zone.low_c(), zone.high_c(), stages);
    if (food.model != LethalityModel::none)
        facts.come_up = spells_between(until_lethal(steps, food), come_up_low_c, come_up_high_c, stages);
    if (!food.targets.empty()) {
        double const target = food.targets.front().celsius() - rounding_k;
        facts.at_target = spells_between(steps, target, far, stages);
        facts.at_target.unseen.clear();  // what nobody saw is no credit
        if (!facts.at_target.measured.empty()) {
            auto const& first = facts.at_target.measured.front();
            facts.reached = first.begin;
        }
    }
    facts.held_wrong = held_wrong(record, all);
    Lethality sum(food);
    for (auto const& step : steps) {
        sum.add(step);
        if (food.model == LethalityModel::fsis_meat || food.model == LethalityModel::log_linear)
            facts.lethal_s += lethal_seconds(food.log_linear, step);
    }
    facts.log10 = sum.computed_log10();
    if (food.model == LethalityModel::fsis_poultry || food.model == LethalityModel::fsis_meat)
        facts.table = table_rows(sum, food);
    if (food.model == LethalityModel::fsis_meat || food.model == LethalityModel::log_linear) {
        facts.pieces = straight_pieces(steps, food.log_linear);
        for (auto const& piece : facts.pieces) facts.pieces_s += piece.worth_s;
    }
    if (food.perishable) cooling_rows(facts, record, steps, food, rule);
    return facts;
}

}  // namespace

double FoodSpells::measured_s() const {
    double sum = 0;
    for (auto const& spell : measured) sum += spell.seconds();
    return sum;
}

double FoodSpells::possible_s() const {
    double sum = measured_s();
    for (auto const& spell : unseen) sum += spell.possible_s;
    return sum;
}

std::vector<Step> core_steps(CookRecord const& record, CookSeries const& series) {
    std::vector<Step> steps;
    CookSample const* before = nullptr;
    for (auto const& sample : series.samples) {
        if (!before && sample.t > series.longest_step_s()) {
            // Begun, and not read yet.
            Step step{0, sample.celsius, sample.t, sample.celsius, true};
            auto const phase = phase_at(record, sample.t);
            step.fastest = fastest_core(record.dish.thickness, phase);
            step.from_unknown = true;
            steps.push_back(step);
        }
        if (before && sample.t > before->t) {
            Step step{before->t, before->celsius, sample.t, sample.celsius,
                      sample.after_move || sample.t - before->t > series.longest_step_s()};
            auto const phase = phase_at(record, sample.t);
            step.fastest = fastest_core(record.dish.thickness, phase);
            // Where nothing heats the food it cannot have been hotter than a hot day.
            if (step.gap && is_cold_phase(phase)) step.high_cap = std::max({45.0, step.c0, step.c1});
            steps.push_back(step);
        }
        before = &sample;
    }
    return steps;
}

FoodSpells spells_between(std::vector<Step> const& steps, double low_c, double high_c,
                          std::vector<CookStage> const& stages) {
    FoodSpells all;
    for (auto const& step : steps) {
        if (step.gap) {
            double const possible = possible_seconds_between(step, low_c, high_c);
            if (possible > 0) all.unseen.push_back({step.t0, step.t1, possible, step.c0, step.c1});
            continue;
        }
        add_measured(all, step, low_c, high_c, stage_name_at(stages, step.t1));
    }
    return all;
}

FoodFacts food_facts(CookRecord const& record, JudgedCook const& judged) {
    FoodFacts facts;
    facts.verdicts = judged.verdicts;
    facts.food = record.dish.food;
    facts.hot_limit_c = hot_hold_limits().front().celsius();
    facts.cold_limit_c = cold_hold_limits().front().celsius();
    facts.caution = food_safety_caution;
    static constexpr FoodClass not_said{.name = "", .means = "a food whose class was not said"};
    auto const* known = food_class(record.dish.food);
    auto const as_prepared = known ? prepared(*known, record.dish.preparation) : not_said;
    auto const* food = &as_prepared;
    facts.means = food->means;
    facts.model = food->model;
    facts.log_linear = food->log_linear;
    facts.target_log10 = food->target_log10;
    if (!food->targets.empty()) {
        facts.target_c = food->targets.front().celsius();
        facts.target_hold_s = food->targets.front().hold_s;
    }
    auto const* rule =
        cooling_rule(record.dish.cooling_rule.empty() ? record.cooling_rule : record.dish.cooling_rule);
    if (!rule || (rule->needs_cure && !food->cured)) rule = &cooling_rules().front();
    facts.cooling_rule = rule->summary;
    for (std::size_t i = 0; i < judged.cores.size(); ++i) {
        auto core = core_facts(record, judged.cores[i], *food, *rule);
        core.not_its_own = static_cast<int>(record.cores[i].samples.size() - judged.cores[i].samples.size());
        core.withdrawn_at = judged.withdrawn_at[i];
        facts.cores.push_back(std::move(core));
    }
    return facts;
}

}  // namespace ingle
