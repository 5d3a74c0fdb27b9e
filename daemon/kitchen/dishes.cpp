// Dishes on their way: the cook's stages, the food's ledger, and the bands that stages ask for.
#include <algorithm>
#include <utility>

#include "daemon/food/boiling.hpp"
#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr Span tell_every = std::chrono::minutes(1);
constexpr double usual_deadband_k = 1;
constexpr std::string_view core_target = "core-target";

constexpr std::string_view unread_causes[] = {"probe-displaced", "probe-implausible", "probe-reversed"};

// The delays keep a reading that dances on a limit from being two alarms; the rules themselves are hours
// long.
constexpr AlarmType food_types[] = {{.name = "danger-zone",
                                     .priority = Priority::high,
                                     .off_delay = std::chrono::minutes(1),
                                     .judges_food = true,
                                     // What was too long stays so: no word on the food itself.
                                     .over = "has no warning any more of its time between cold and hot"},
                                    {.name = "cooling-late",
                                     .priority = Priority::high,
                                     .off_delay = std::chrono::minutes(10),
                                     .judges_food = true,
                                     .over = "has no warning any more of a late cooling"},
                                    {.name = "hot-hold",
                                     .priority = Priority::high,
                                     .on_delay = std::chrono::minutes(1),
                                     .off_delay = std::chrono::minutes(10),
                                     .judges_food = true,
                                     .over = "is no longer too cool where it is kept hot"},
                                    {.name = "cold-hold",
                                     .priority = Priority::high,
                                     .on_delay = std::chrono::minutes(1),
                                     .off_delay = std::chrono::minutes(10),
                                     .judges_food = true,
                                     .over = "is no longer too warm where it is kept cold"},
                                    {.name = "reheat-late",
                                     .priority = Priority::high,
                                     .off_delay = std::chrono::minutes(1),
                                     .judges_food = true,
                                     .over = "has no warning any more of a late reheating"},
                                    {.name = "core-unread",
                                     .priority = Priority::medium,
                                     .off_delay = std::chrono::minutes(1),
                                     .suppressed_by = unread_causes,
                                     .over = "has its core read again"},
                                    {.name = "discard",
                                     .priority = Priority::high,
                                     .judges_food = true,
                                     .over = "is no longer said to be food to throw away"},
                                    {.name = "overshoot-risk",
                                     .priority = Priority::medium,
                                     .on_delay = std::chrono::seconds(30),
                                     .off_delay = std::chrono::minutes(1),
                                     .over = "is no longer about to pass its target"}};

}  // namespace

std::span<AlarmType const> food_alarms() {
    return food_types;
}

LedgerSettings Kitchen::Impl::ledger_settings(int number) const {
    auto const& dish = dishes[static_cast<std::size_t>(number)];
    LedgerSettings ledger;
    ledger.dish = settings.dishes[static_cast<std::size_t>(number)];
    ledger.cooling_rule = settings.cooling_rule;
    ledger.units = settings.units;
    ledger.boiling_c = boiling_point_here(settings.pressure, settings.altitude).celsius;
    double slowest = 20;
    for (int const p : dish.probes)
        slowest = std::max(slowest, settings.probes[static_cast<std::size_t>(p)].every.seconds);
    ledger.longest_step = from_seconds(3 * slowest);
    return ledger;
}

void Kitchen::Impl::begin_ledger(int number, Instant at) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    dish.ledger.emplace(ledger_settings(number), at);
    dish.fed = at;
}

// The stage's band goes to the stage's vessel, and what it asked of another one before is over.
void Kitchen::Impl::lay_bands(int number) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    for (int v = 0; v < static_cast<int>(vessels.size()); ++v) {
        auto& vessel = vessels[static_cast<std::size_t>(v)];
        auto const own = std::ranges::find(vessel.stages, number, &StageBand::dish);
        auto const* stage = dish.cook.stage();
        if (stage && stage->band && stage->vessel == v) {
            if (own != vessel.stages.end())
                own->band = *stage->band;
            else
                vessel.stages.push_back({number, *stage->band});
            // Between two dishes that exclude each other a person's word stays.
            if (!asks_for_another(vessel.stages, number)) vessel.person_is_newer = false;
        } else if (own != vessel.stages.end()) {
            vessel.stages.erase(own);
        } else {
            continue;
        }
        settle_band(v);
    }
    dish.forecast.reset();
    memory_dirty = true;
}

void Kitchen::Impl::tell_ledger(DishState& dish) {
    if (!dish.ledger || !dish.cook.begun()) return;
    auto const* stage = dish.cook.stage();
    auto const phase = dish.cook.phase();
    std::optional<double> target, limit;
    if (stage && stage->until.core && is_heated(phase)) target = stage->until.core->celsius;
    if (stage && stage->core_most) limit = stage->core_most->celsius;
    dish.fed = std::max(dish.fed, now);
    dish.ledger->stage(dish.fed, phase, target, limit);
    if (int const vessel = dish.cook.vessel(); vessel >= 0)
        dish.ledger->put_in(settings.vessels[static_cast<std::size_t>(vessel)].kind);
}

void Kitchen::Impl::stage_changed(int number) {
    lay_bands(number);
    tell_ledger(dishes[static_cast<std::size_t>(number)]);
}

bool Kitchen::Impl::is_needed(int vessel) const {
    return std::ranges::any_of(
        dishes, [&](DishState const& dish) { return dish.cook.stage() && dish.cook.vessel() == vessel; });
}

// Nobody heats a vessel for a dish that has left it: without its band, turning it off is no alarm. What is
// cold stays cold for the others in it.
void Kitchen::Impl::end_needless_bands(Effects& out) {
    for (int v = 0; v < static_cast<int>(vessels.size()); ++v) {
        auto& vessel = vessels[static_cast<std::size_t>(v)];
        auto const& about = settings.vessels[static_cast<std::size_t>(v)];
        bool const was = std::exchange(vessel.needed, is_needed(v));
        if (was == vessel.needed || is_cold(about.kind)) continue;
        bool const had = vessel.band.has_value();
        vessel.emptied = was && !(vessel.kept && vessel.held && vessel.person_is_newer);
        vessel.kept = false;
        if (vessel.emptied) vessel.held.reset();
        settle_band(v);
        memory_dirty = true;
        if (!vessel.emptied || !had) continue;
        out.push_back(Event{now,
                            "note",
                            {SubjectKind::vessel, v},
                            about.name + ": no stage needs it any more, so its band has ended. `ingle hold " +
                                about.name + "` with a band keeps it watched.",
                            {{"held", 0}, {"by_plan", 1}}});
    }
}

// Where the medium is to the band of the cook's stage: its own, although another dish in the same vessel may
// ask for another one; or what a person has said since.
// `laid` false: the stage's band was not laid on the vessel then: the dish was said to be past that stage.
AtBand Kitchen::Impl::at_band(Cook const& cook, bool laid) const {
    auto const* stage = cook.stage();
    if (!stage || !stage->band || stage->vessel < 0) return AtBand::none;
    auto const& vessel = vessels[static_cast<std::size_t>(stage->vessel)];
    auto const& about = settings.vessels[static_cast<std::size_t>(stage->vessel)];
    if (about.medium < 0 || (laid && !vessel.band)) return AtBand::none;
    auto const& signal = signals[static_cast<std::size_t>(about.medium)];
    if (!signal.fresh || signal.doubtful) return AtBand::unknown;
    auto const& band = vessel.band && vessel.held && vessel.person_is_newer ? *vessel.band : *stage->band;
    double const outside = std::max(band.low.celsius - signal.celsius, signal.celsius - band.high.celsius);
    if (outside <= 0) return AtBand::inside;
    return outside <= (about.deadband ? about.deadband->kelvin : usual_deadband_k) ? AtBand::rim
                                                                                   : AtBand::outside;
}

// A person's band is what the stage's time counts by, within the plan's or not: that is said.
std::string Kitchen::Impl::counted_by(int number) const {
    auto const* stage = dishes[static_cast<std::size_t>(number)].cook.stage();
    if (!stage || !stage->band || !stage->until.time || stage->counts_from_begin || stage->vessel < 0)
        return {};
    auto const& vessel = vessels[static_cast<std::size_t>(stage->vessel)];
    auto const& name = settings.vessels[static_cast<std::size_t>(stage->vessel)].name;
    if (!vessel.held || !vessel.person_is_newer || vessel.band == stage->band) return {};
    Words const words(settings.units);
    auto const plan = "the plan's " + words.band(stage->band->low.celsius, stage->band->high.celsius);
    if (!vessel.band)
        return "all of the time counts, for " + name + " is not held; " + plan + " is not asked";
    return "the time counts by what " + name + " is held at, " +
           words.band(vessel.band->low.celsius, vessel.band->high.celsius) + ", and not by " + plan;
}

namespace {

// A plan that is over says nothing of the food: what was not seen of it is said with it.
std::string how_ready(std::optional<FoodLedger> const& ledger) {
    if (ledger)
        if (auto const in_short = ledger->verdicts().front(); in_short.answer != nothing_missed)
            return ". " + in_short.text;
    return ": the dish is ready.";
}

}  // namespace

void Kitchen::Impl::absorb(int number, CookOutput& cooked, Effects& out) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    for (auto& event : cooked.events) out.push_back(std::move(event));
    if (cooked.stage_changed) {
        stage_changed(number);
        end_needless_bands(out);
        if (auto text = band_conflict(number); !text.empty())
            tell("band-conflict", {SubjectKind::dish, number}, std::move(text), out);
    }
    if (cooked.core_withdrawn) desk.tell_anew({SubjectKind::dish, number}, core_target);
    for (auto& finding : cooked.findings) {
        // The class's target is the ledger's to tell where the plan has none of its own.
        if (finding.type->name == core_target) {
            if (!dish.cook.plan_has_target()) continue;
            if (finding.truth == Truth::present && dish.ledger)
                finding.text += dish.ledger->class_asks_more(finding.value);
        }
        if (finding.type->name == "dish-ready" && finding.truth == Truth::present)
            finding.text += how_ready(dish.ledger);
        judge({SubjectKind::dish, number}, std::move(finding), dish.probes);
    }
    if (cooked.forecast) {
        dish.forecast = cooked.forecast;
        out.push_back(*std::move(cooked.forecast));
    }
}

void Kitchen::Impl::judge_food(int number, Effects& out) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    if (!dish.ledger) return;
    for (auto& concern : dish.ledger->concerns()) {
        bool const target = concern.alarm == core_target;
        if (target && dish.cook.plan_has_target()) continue;
        auto const* type = find_type(target ? cook_alarms() : food_alarms(), concern.alarm);
        if (!type) continue;
        Finding finding;
        finding.type = type;
        finding.truth = concern.truth == Holds::yes  ? Truth::present
                        : concern.truth == Holds::no ? Truth::absent
                                                     : Truth::unknown;
        finding.text = std::move(concern.text);
        finding.value = concern.value;
        finding.priority = concern.priority;
        finding.order = std::move(concern.order);
        finding.action = concern.action;
        if (target) finding.on_delay = std::chrono::seconds(30);
        if (concern.at_once) finding.on_delay = Span(0);
        judge({SubjectKind::dish, number}, std::move(finding), dish.probes);
    }
    if (dish.cooling_told && now - *dish.cooling_told < tell_every) return;
    dish.cooling_told = now;
    dish.cooling = dish.ledger->cooling_forecast();
    if (!dish.cooling) return;
    dish.cooling->at = now;
    dish.cooling->subject = {SubjectKind::dish, number};
    out.push_back(*dish.cooling);
}

CookSituation Kitchen::Impl::situation_of(int number, bool laid) {
    auto& state = dishes[static_cast<std::size_t>(number)];
    CookSituation situation;
    situation.now = now;
    auto const& said = settings.dishes[static_cast<std::size_t>(number)];
    if (int const vessel = state.cook.vessel(); vessel >= 0) {
        int const medium = settings.vessels[static_cast<std::size_t>(vessel)].medium;
        if (medium >= 0) situation.medium = &signals[static_cast<std::size_t>(medium)];
        auto const* food = food_class(said.food);
        if (food && is_heated(state.cook.phase()) && !food->targets.empty())
            situation.class_target = prepared(*food, said.preparation).targets[0].celsius();
    }
    situation.band = at_band(state.cook, laid);
    if (said.serve_at && clock_certain && wall_offset_ms)
        situation.serving_s =
            static_cast<double>(*said.serve_at - *wall_offset_ms - now.time_since_epoch().count()) / 1000;
    situation.helps = state.helps ? &*state.helps : nullptr;
    if (!state.ledger) return situation;
    state.fed = std::max(state.fed, now);
    auto heard = state.fed;
    for (int const probe : state.probes)
        heard = std::min(heard, conditioners[static_cast<std::size_t>(probe)].held_since().value_or(heard));
    state.ledger->advance(state.fed, heard);
    situation.lethality = state.ledger->lethality_log10();
    situation.withdrawn = state.ledger->withdrawn();
    for (int c = 0; c < static_cast<int>(state.probes.size()); ++c)
        situation.cores.push_back(state.ledger->present(c));
    return situation;
}

void Kitchen::Impl::step_dishes(Effects& out) {
    drop_old_orders();
    for (int d = 0; d < static_cast<int>(dishes.size()); ++d) {
        auto& dish = dishes[static_cast<std::size_t>(d)];
        if (!dish.cook.begun()) continue;
        CookOutput cooked;
        find_helps(d);
        dish.cook.step(situation_of(d), cooked);
        absorb(d, cooked, out);
        judge_band_conflict(d);
        judge_food(d, out);
    }
}

}  // namespace ingle
