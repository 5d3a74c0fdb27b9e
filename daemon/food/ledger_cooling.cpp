// Cooling after cooking: the verdict by the dish's rule, what may have grown, and the word before it is late.
#include <algorithm>
#include <cmath>

#include "daemon/food/ledger_impl.hpp"
#include "daemon/food/ledger_words.hpp"

namespace ingle {
namespace {

constexpr double early_cooling_s = 600;  // evidence since the clock started, before anything is forecast
constexpr double late_share = 1.1;       // a forecast that hovers at the limit would come and go

int badness(CoolingAnswer answer) {
    switch (answer) {
        case CoolingAnswer::missed:
            return 3;
        case CoolingAnswer::unknown:
            return 2;
        case CoolingAnswer::met:
            return 1;
        case CoolingAnswer::not_applicable:
            break;
    }
    return 0;
}

}  // namespace

CoolingAnswer FoodLedger::Impl::cooling_answer(CoreTrack const& core) const {
    auto const answer = core.cooling_answer(now, context());
    return answer == CoolingAnswer::not_applicable && may_not_be_it(core) ? CoolingAnswer::unknown : answer;
}

// It is chilled, and what counted was never warm: the tip may have lain beside food that was.
bool FoodLedger::Impl::may_not_be_it(CoreTrack const& core) const {
    bool const unread = core.blind(now, context()) || not_seen_to_cool(core);
    return phase == FoodPhase::chilling && core.seen() && !core.cooling.cooked() && unread;
}

CoreTrack const* FoodLedger::Impl::slowest_to_cool() const {
    CoreTrack const* found = nullptr;
    for (auto const& core : cores) {
        int const bad = badness(cooling_answer(core)), worst = found ? badness(cooling_answer(*found)) : -1;
        if (bad > worst || (bad == worst && core.last_c() > found->last_c())) found = &core;
    }
    return found;
}

CoolingAnswer FoodLedger::Impl::cooling_answer() const {
    if (!food->perishable) return CoolingAnswer::not_applicable;
    auto const* core = slowest_to_cool();
    return core ? cooling_answer(*core) : CoolingAnswer::unknown;
}

std::optional<CoolingOutlook> FoodLedger::Impl::outlook(CoreTrack const& core, double& to_c,
                                                        double& deadline_s) const {
    auto const& clock = core.cooling;
    auto const next = clock.next_stage();
    if (!core.seen() || !clock.running() || next >= rule->stages.size()) return std::nullopt;
    to_c = rule->stages[next].to_c();
    deadline_s = clock.stage(next, now, false).deadline_s;
    auto const slope = core.recent.slope();
    if (core.blind(now, context()) || !slope) {
        CoolingOutlook none;
        none.why = slope ? "the core is not read at present" : "the core was read for too short a time";
        return none;
    }
    return cooling_outlook(core.last_c(), *slope, core.recent.span_s(), to_c,
                           fresh_medium() ? medium_mean.celsius() : std::nullopt);
}

// The rule's standing: edition, condition, and what came after it.
std::string FoodLedger::Impl::rule_words() const {
    std::string words = "Rule: " + text(rule->summary) + ".";
    if (refused_rule)
        words += " \"" + text(refused_rule->word) + "\" (" + text(refused_rule->source) +
                 ") holds only for food cured with nitrite, which this food is not said to be: judged by " +
                 text(rule->source) + " instead.";
    if (!rule->replaced.empty()) words += " " + text(rule->replaced) + ".";
    return words;
}

Verdict FoodLedger::Impl::cooling() const {
    Verdict v{"cooling", "", "", text(rule->source)};
    v.answer = to_word(cooling_answer());
    auto const* core = slowest_to_cool();
    if (!food->perishable) {
        v.text = text(food->means) + ": keeps without a fridge.";
        return v;
    }
    if (!core || !core->seen()) {
        v.text = core ? not_read_words()
                      : text(
                            "Not known: the dish has no core probe; the warmest place would have to be "
                            "read while it cools.");
        return v;
    }
    auto const& clock = core->cooling;
    v.text = rule_words();
    if (core->bare()) v.text += " " + not_read_words();
    if (clock.missed_before()) v.text += " Missed once already, before the food was heated again.";
    if (!clock.running()) {
        v.text +=
            core->begins_to_fall() ? " It is just falling through " + celsius(clock.start_limit_c()) + "."
            : may_not_be_it(*core) ? " Not known: whether it was the food that was read was not seen."
            : v.answer == "unknown"
                ? " Not known: it may have been hot, or have cooled, while it was not read."
            : clock.fell_before() ? " It fell through " + celsius(clock.start_limit_c()) +
                                        " before and is above that again: its next cooling has not begun."
                                  : " The core has not fallen through " + celsius(clock.start_limit_c()) +
                                        " after cooking, as far as it was read.";
        return v;
    }
    bool const start_seen = std::isfinite(clock.start_earliest_s());
    if (!start_seen) {
        v.text += " It was below " + celsius(clock.start_limit_c()) +
                  " before the first reading: when it left it would have to be known.";
    } else {
        v.text += " It fell through " + celsius(clock.start_limit_c()) + " " + span(clock.start_latest_s()) +
                  " after the dish was begun";
        if (clock.start_latest_s() - clock.start_earliest_s() > 1)
            v.text += ", at the earliest " + span(clock.start_earliest_s());
        v.text += ".";
    }
    for (std::size_t i = 0; i < rule->stages.size(); ++i) v.text += stage_words(*core, i);
    if (clock.carried_most_s() > 0)
        v.text += " Before that it was already below " + celsius(clock.start_limit_c()) + " for " +
                  span(clock.carried_most_s()) + " and was warmed again, without " + celsius(reheat_c) +
                  " within 4 h: that time counts.";
    if (clock.warm_again_s() > 0 || clock.warm_now())
        v.text += " After that it was above " + celsius(rule->stages.back().to_c()) + " again, for " +
                  span(clock.warm_again_s()) + (clock.warm_now() ? " so far." : ".");
    if (clock.unseen()) v.text += " Not known: it may have been hot, or have cooled, while it was not read.";
    if (core->may_have_risen(now, context()))
        v.text += " It has not been read for " + span(now - core->last_t()) +
                  " since, and was not cold for an hour before: it may have been above a limit again.";
    if (!clock.certain())
        v.text += " From " + celsius(rule->certain->from_c()) + " to " + celsius(rule->certain->to_c()) +
                  " took or may have taken more than " + span(rule->certain->most_s) +
                  ", so that by its own source it is not certain.";
    return v;
}

std::string FoodLedger::Impl::stage_words(CoreTrack const& core, std::size_t i) const {
    auto const& clock = core.cooling;
    auto const& asked = rule->stages[i];
    bool const blind = core.blind(now, context()), start_seen = std::isfinite(clock.start_earliest_s());
    auto const state = clock.stage(i, now, blind);
    if (!state.passed && i > clock.next_stage() && !asked.from_start) return "";
    std::string const least = span(state.took_least_s),
                      most = start_seen ? span(state.took_most_s) : "longer";
    std::string const took = least == most ? most : least + " to " + most;
    std::string words = " To " + celsius(asked.to_c()) + ": ";
    words += state.passed ? "took " + took
             : blind      ? "not seen, last read " + celsius(core.last_c())
                          : "not yet after " + took + ", now " + celsius(core.last_c());
    words += std::isfinite(asked.most_s) ? "; allowed " + span(asked.most_s) + ": " : ": ";
    words += state.answer == CoolingAnswer::met      ? "met."
             : state.answer == CoolingAnswer::missed ? "missed."
             : state.passed                          ? "not known."
                                                     : "open.";
    return words;
}

std::optional<Verdict> FoodLedger::Impl::growth() const {
    CoreTrack const* most = nullptr;
    for (auto const& core : cores)
        if (core.seen() && core.cooling.running() && (!most || core.growth.log10() > most->growth.log10()))
            most = &core;
    if (!most || !food->perishable) return std::nullopt;
    auto bound = most->growth;
    if (most->blind(now, context())) bound.add(most->unseen(now, 43.5, 46.4, context()));
    double const log10 = bound.log10();
    Verdict v{"growth", "", "", text(growth_source)};
    v.answer = log10 > 20 ? "unknown" : "at most " + decimal(log10, 1) + " log10";
    v.text =
        "A warning, not a verdict: while it cooled, C. perfringens may have grown by up to " +
        (log10 > 20 ? "any amount" : decimal(log10, 1) + " log10") +
        ". This counts no lag; published predictions with lag are less than half of it, and repeated trials "
        "differ by up to 1 log10. The cooling standard for plants is 1 log10 (9 CFR 318.17).";
    return v;
}

FoodConcern FoodLedger::Impl::cooling_concern() const {
    constexpr std::string_view alarm = "cooling-late";
    if (!food->perishable || cores.empty()) return none(alarm);
    if (phase == FoodPhase::hot_holding) return none(alarm);  // it is not to cool: hot holding tells
    auto const* core = slowest_to_cool();
    if (!core || !core->seen()) return unknown(alarm);
    auto const& clock = core->cooling;
    if (cooling_answer(*core) == CoolingAnswer::missed) return cooling_missed(*core);
    if (!clock.under_way()) return none(alarm);
    double to_c = 0, deadline = 0;
    auto const ahead = outlook(*core, to_c, deadline);
    if (core->blind(now, context())) return unknown(alarm);
    double const left = deadline - now, ran = now - clock.start_latest_s();
    if (ran < early_cooling_s || !ahead || !std::isfinite(left) || core->reheating.active() || discard())
        return none(alarm);
    bool const late =
        ahead->eta_s ? *ahead->eta_s > late_share * left : core->recent.span_s() >= early_cooling_s;
    if (!late) return none(alarm);
    std::string const when = ahead->eta_s ? "at the present rate it gets there in " + span(*ahead->eta_s) +
                                                ", " + span(*ahead->eta_s - left) + " too late"
                                          : ahead->why;
    return orders(yes(alarm, Priority::medium, core->last_c(),
                      "Core " + celsius(core->last_c()) + ", " + span(ran) + " after it fell through " +
                          celsius(clock.start_limit_c()) + "; it has " + limit_words(clock.next_stage()) +
                          ": " + when + "."),
                  Action::chill,
                  "Divide it into shallow pans or smaller pieces, set them in an ice bath and stir.");
}

std::string FoodLedger::Impl::limit_words(std::size_t stage) const {
    return "to be at " + celsius(rule->stages[stage].to_c()) + " within " + span(rule->stages[stage].most_s) +
           " (" + text(rule->source) + ": " + text(rule->summary) + ")";
}

// The limit that was missed, and not the one that comes next.
FoodConcern FoodLedger::Impl::cooling_missed(CoreTrack const& core) const {
    auto const& clock = core.cooling;
    auto const missed = clock.missed_stage(now, core.blind(now, context()));
    std::string what = "A cooling limit was missed: ";
    if (missed < rule->stages.size()) {
        auto const state = clock.stage(missed, now, core.blind(now, context()));
        bool const whole = rule->stages[missed].from_start || missed == 0;
        double const from_c = whole ? clock.start_limit_c() : rule->stages[missed].from_c();
        what += state.passed ? "the core took " + span(state.took_least_s) + " from " + celsius(from_c) +
                                   " to " + celsius(rule->stages[missed].to_c())
                             : "the core is at " + celsius(core.last_c()) + " " + span(state.took_least_s) +
                                   " after it fell through " + celsius(from_c);
        what += "; it had " + limit_words(missed) + ".";
    } else if (clock.missed_before()) {
        what += "before it was heated again it did not come down in time (" + text(rule->source) + ": " +
                text(rule->summary) + ").";
    } else {
        what += "with the times before, it was in the danger zone for " +
                span(clock.carried_most_s() + clock.warm_again_s()) + " more than the last cooling took (" +
                text(rule->source) + ": " + text(rule->summary) + ").";
    }
    return throw_away(yes("cooling-late", Priority::high, core.last_c(), std::move(what)));
}

std::optional<Forecast> FoodLedger::cooling_forecast() const {
    auto const& in = *impl_;
    auto const* core = in.slowest_to_cool();
    double to_c = 0, deadline_s = 0;
    auto const outlook = core ? in.outlook(*core, to_c, deadline_s) : std::nullopt;
    if (!outlook) return std::nullopt;
    Forecast forecast;
    forecast.at = in.begun + from_seconds(in.now);
    forecast.what = "cooling";
    forecast.eta_s = outlook->eta_s;
    forecast.low_s = outlook->low_s;
    forecast.high_s = outlook->high_s;
    forecast.why = "to " + in.celsius(to_c) + ": " + outlook->why;
    return forecast;
}

}  // namespace ingle
