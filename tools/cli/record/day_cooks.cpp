// The cooks of a day: what the cores came to, how they cooled and how they were kept.
#include <algorithm>
#include <cmath>

#include "daemon/food/classes.hpp"
#include "daemon/review/at.hpp"
#include "tools/cli/record/day_parts.hpp"
#include "tools/cli/review/cook_record.hpp"

namespace ingle::cli {
namespace {

constexpr std::string_view target_rule = "core-target";

class CookOfDay {
public:
    CookOfDay(CookRecord record, std::int64_t id, DayRecord& day, DayCooks& use)
        : cook_(std::move(record)),
          id_(id),
          day_(day),
          use_(use),
          judged_(judge_cook(cook_)),
          facts_(food_facts(cook_, judged_)),
          from_s_(seconds(day.day.span.from - cook_.began)),
          to_s_(seconds(day.day.until - cook_.began)) {}

    void add() {
        note_probes();
        auto const heated = times([](FoodPhase phase) { return is_heated(phase); });
        if (!heated.empty()) each_core([&](std::size_t core) { add_cooking(core); });
        each_core([&](std::size_t core) { add_cooling(core); });
        for (bool const hot : {true, false}) {
            auto const held = times(
                [&](FoodPhase phase) { return hot ? phase == FoodPhase::hot_holding : is_held_cold(phase); });
            if (held.empty()) continue;
            each_core([&](std::size_t core) { add_holding(core, hot, held); });
        }
    }

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);

    template <class Does>
    void each_core(Does const& what) const {
        if (facts_.cores.empty()) what(none);
        for (std::size_t i = 0; i < facts_.cores.size(); ++i) what(i);
    }
    WallTime at(double t) const { return wall_at(cook_.began, t); }
    bool by_day_end(double t) const { return t < to_s_; }
    // Nothing of the cook lies behind what is told here.
    bool all_told() const { return to_s_ >= cook_.length_s; }

    double stage_end(std::size_t i) const {
        auto const& stage = cook_.stages[i];
        if (i + 1 < cook_.stages.size()) return cook_.stages[i + 1].began;
        return stage.over && !stage.waits ? stage.ended : cook_.length_s;
    }
    // When it went through this on the day; also, by vessel, what the vessel was used for.
    template <class Wanted>
    Stretches times(Wanted const& wanted) const {
        Stretches all;
        for (std::size_t i = 0; i < cook_.stages.size(); ++i) {
            double const from = std::max(cook_.stages[i].began, from_s_), to = std::min(stage_end(i), to_s_);
            if (to <= from) continue;
            auto const phase = phase_at(cook_, cook_.stages[i].began + 1e-6);
            if (wanted(phase)) add_stretch(all, {at(from), at(to)});
        }
        return all;
    }

    void note_probes() {
        double const from = std::max(0.0, from_s_), to = std::min(cook_.length_s, to_s_);
        if (to <= from) return;
        for (auto const& core : cook_.cores) {
            add_stretch(use_.probes[core.probe], {at(from), at(to)});
            for (auto const& one : core.earlier)
                if (one.until > from)
                    add_stretch(use_.probes[one.probe], {at(from), at(std::min(one.until, to))});
        }
        for (std::size_t i = 0; i < cook_.stages.size(); ++i) {
            if (cook_.stages[i].vessel < 0) continue;
            auto const& vessel = cook_.vessels[static_cast<std::size_t>(cook_.stages[i].vessel)];
            WallSpan const span{at(std::max(cook_.stages[i].began, from_s_)),
                                at(std::min(stage_end(i), to_s_))};
            if (span.to <= span.from) continue;
            if (!vessel.medium.probe.empty()) add_stretch(use_.probes[vessel.medium.probe], span);
            auto const phase = phase_at(cook_, cook_.stages[i].began + 1e-6);
            if (phase == FoodPhase::hot_holding) add_stretch(use_.vessels[vessel.name].hot, span);
            if (is_held_cold(phase)) add_stretch(use_.vessels[vessel.name].cold, span);
        }
    }

    Verdict verdict(std::string_view rule) const {
        auto const found = std::ranges::find(facts_.verdicts, rule, &Verdict::rule);
        return found == facts_.verdicts.end() ? Verdict{} : *found;
    }
    std::string probe_of(std::size_t core) const { return core == none ? "" : facts_.cores[core].probe; }

    bool all_reached_by_day_end() const {
        return !facts_.cores.empty() && std::ranges::all_of(facts_.cores, [&](CoreFacts const& core) {
            double held = 0;
            for (auto const& spell : core.at_target.measured)
                held += std::max(0.0, std::min(spell.end.t, to_s_) - spell.begin.t);
            return core.reached && by_day_end(core.reached->t) &&
                   held + 1e-6 >= facts_.target_hold_s.value_or(0);
        });
    }

    void add_cooking(std::size_t core) const {
        CookingEntry row;
        row.dish = cook_.dish.name;
        row.food = facts_.food;
        row.cook = id_;
        row.began = cook_.began;
        row.clock_certain = cook_.clock_certain;
        if (cook_.over && by_day_end(cook_.length_s)) row.ended = at(cook_.length_s);
        row.probe = probe_of(core);
        row.asked_c = facts_.target_c;
        row.asked_hold_s = facts_.target_hold_s;
        auto const told = verdict(target_rule);
        row.rule = told.source;
        if (told.answer == "met" ? all_reached_by_day_end() || all_told() : all_told() || !cook_.over)
            row.answer = told.answer;
        if (core != none) {
            for (auto const& sample : judged_.cores[core].samples)
                if (sample.t >= from_s_ && sample.t < to_s_ &&
                    (!row.highest || sample.celsius > row.highest->celsius))
                    row.highest = Measured{at(sample.t), sample.celsius};
            auto const& reached = facts_.cores[core].reached;
            if (reached && by_day_end(reached->t)) {
                row.reached = at(reached->t);
                row.reached_seen = reached->seen;
            }
        }
        day_.cooking.push_back(std::move(row));
    }

    void add_cooling(std::size_t core) const {
        auto const chilled = times([](FoodPhase phase) { return phase == FoodPhase::chilling; });
        auto const* facts = core == none ? nullptr : &facts_.cores[core];
        bool const known = facts && facts->cooling_from && by_day_end(facts->cooling_from->t);
        if (!known && chilled.empty()) return;
        // It was cold before this day began.
        if (known && chilled.empty() && std::ranges::all_of(facts->cooling, [&](CoolingRow const& step) {
                return step.passed && step.at.t < from_s_;
            }))
            return;
        CoolingEntry row;
        row.dish = cook_.dish.name;
        row.cook = id_;
        row.probe = probe_of(core);
        row.rule = facts_.cooling_rule;
        if (known) {
            row.from_c = facts->cooling_from->level_c;
            if (facts->cooling_from->seen) row.from = at(facts->cooling_from->t);
            for (auto const& step : facts->cooling) row.steps.push_back(step_of(*facts, step));
        }
        day_.cooling.push_back(std::move(row));
    }

    CoolingStep step_of(CoreFacts const& facts, CoolingRow const& step) const {
        CoolingStep out;
        out.limit_c = limit_of(static_cast<std::size_t>(&step - facts.cooling.data()));
        if (std::isfinite(step.allowed_s)) out.allowed_s = step.allowed_s;
        if (step.passed && by_day_end(step.at.t)) {
            out.at = at(step.at.t);
            out.took_least_s = step.took_least_s;
            if (std::isfinite(step.took_most_s)) out.took_most_s = step.took_most_s;
            out.answer = step.answer;
        } else if (all_told() ||
                   (step.answer == "missed" && by_day_end(facts.cooling_from->t + step.allowed_s))) {
            out.answer = step.answer;
        }
        return out;
    }

    // degC, of a step of the rule that the cook was judged by
    double limit_of(std::size_t step) const {
        for (auto const& rule : cooling_rules())
            if (rule.summary == facts_.cooling_rule && step < rule.stages.size())
                return rule.stages[step].to_c();
        return 0;
    }

    void add_holding(std::size_t core, bool hot, Stretches const& held) const {
        HoldingEntry row;
        row.hot = hot;
        row.dish = true;
        row.name = cook_.dish.name;
        row.cook = id_;
        row.probe = probe_of(core);
        row.limit_c = hot ? facts_.hot_limit_c : facts_.cold_limit_c;
        row.held_s = length_of(held);
        if (core != none) {
            auto const& series = judged_.cores[core];
            take_extremes(row, series, cook_.began, held);
            if (row.lowest) {
                row.beyond_s = 0;
                for (auto const& spell : facts_.cores[core].held_wrong.measured)
                    *row.beyond_s += common_s(held, {at(spell.begin.t), at(spell.end.t)});
                row.unread_s = unread_in(series, cook_.began, held);
            }
        }
        day_.holding.push_back(std::move(row));
    }

    CookRecord cook_;
    std::int64_t id_;
    DayRecord& day_;
    DayCooks& use_;
    JudgedCook judged_;
    FoodFacts facts_;
    double from_s_, to_s_;  // the day, s since the cook began
};

}  // namespace

void read_cooks(Book& book, DayRecord& record, DayCooks& use) {
    auto cooks = book.reader().cooks();
    book.check();
    std::ranges::reverse(cooks);
    auto const& day = record.day;
    for (auto const& cook : cooks) {
        if (cook.taken_back || cook.began.wall >= day.until) continue;
        if (cook.ended && cook.ended->wall <= day.span.from) continue;
        CookOfDay(food_record_of(book, cook), cook.id, record, use).add();
    }
}

}  // namespace ingle::cli
