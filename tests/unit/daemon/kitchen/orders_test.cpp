// Two alarms of one dish, or of a dish and its vessel, never order opposite things: random cooks, with fires
// that die, doors, power cuts, tips that are pulled out and food that stands about, are held against that
// once a minute: 120 of them, of which the first ten are read every 10 s and the others every 30 s.
// INGLE_LONG=1 takes 400.
#include "tests/support/orders.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"
#include "tests/support/long_form.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

enum : int { pot, smoker, fridge, room, hot_box, vessels };

struct Place {
    char const* name;
    VesselKind kind;
    double low, high;  // band, degC
    std::array<Does, 3> does;
};
constexpr std::array<Place, vessels> places{{
    {"pot", VesselKind::pot, 82, 88, {Does::cook, Does::reheat, Does::cook}},
    {"smoker", VesselKind::smoker, 95, 110, {Does::cook, Does::cook, Does::cook}},
    {"fridge", VesselKind::fridge, 1, 5, {Does::chill, Does::cold_hold, Does::brine}},
    {"hall", VesselKind::room, 18, 24, {Does::rest, Does::chill, Does::thaw}},
    {"hot-box", VesselKind::hot_box, 60, 74, {Does::hot_hold, Does::hot_hold, Does::reheat}},
}};
constexpr char const* foods[] = {"ground-poultry", "whole-meat", "bear-boar", "stock", "fish",
                                 "cured-ham",      "vegetable",  "leftover",  ""};

int below(Dice& dice, int n) {
    return std::min(n - 1, static_cast<int>(dice.uniform() * n));
}

struct Stay {
    int where = pot;
    double minutes = 60;
};

// Where the food really is, and what is around it, minute by minute.
struct Cook {
    std::vector<Stay> stays;
    std::array<std::vector<double>, vessels> medium;
    std::vector<std::optional<double>> core;  // as its tip reads it; empty: nothing came
    int minutes = 0;
};

Cook random_cook(Dice& dice) {
    Cook cook;
    int const count = 2 + below(dice, 4);
    for (int i = 0; i < count; ++i) {
        Stay stay{below(dice, vessels), 20 + 150 * dice.uniform()};
        cook.minutes += static_cast<int>(stay.minutes);
        cook.stays.push_back(stay);
    }
    // A vessel strays, and is turned the other way, now and then.
    for (int v = 0; v < vessels; ++v) {
        auto const& place = places[static_cast<std::size_t>(v)];
        double const middle = (place.low + place.high) / 2, width = place.high - place.low;
        double c = dice.uniform() < 0.3 ? 20 : middle, aim = middle;
        for (int m = 0; m < cook.minutes; ++m) {
            if (dice.uniform() < 1.0 / 60) aim = middle + width * 2 * (dice.uniform() - 0.5);
            if (dice.uniform() < 1.0 / 240) aim = 20;  // the fire is out, or the power
            if (dice.uniform() < 1.0 / 90) aim = middle;
            c += (aim - c) / 15;
            cook.medium[static_cast<std::size_t>(v)].push_back(c);
        }
    }
    double const tau = 15 + 90 * dice.uniform();
    double c = dice.uniform() < 0.7 ? 4 + 6 * dice.uniform() : 20 + 60 * dice.uniform();
    std::size_t stay = 0;
    double left = cook.stays[0].minutes;
    int dead = 0, pulled = 0;
    for (int m = 0; m < cook.minutes; ++m) {
        while ((left -= 1) < 0 && stay + 1 < cook.stays.size()) left = cook.stays[++stay].minutes;
        double const around =
            cook.medium[static_cast<std::size_t>(cook.stays[stay].where)][static_cast<std::size_t>(m)];
        c += (around - c) / tau;
        if (dead > 0)
            --dead;
        else if (dice.uniform() < 1.0 / 300)
            dead = 5 + below(dice, 180);
        if (pulled > 0)
            --pulled;
        else if (dice.uniform() < 1.0 / 400)
            pulled = 1 + below(dice, 20);
        cook.core.push_back(dead > 0 ? std::nullopt : std::optional(pulled > 0 ? around : c));
    }
    return cook;
}

Settings kitchen_for(Cook const& cook, Dice& dice) {
    Settings settings;
    settings.name = "village hall";
    settings.units = TemperatureUnit::fahrenheit;
    for (auto const& place : places)
        add_vessel(settings, place.name, place.kind, add_probe(settings, std::string(place.name) + "-air"),
                   {{place.low, place.high}});
    auto& dish = add_dish(settings, "roll", cook.stays[0].where, add_probe(settings, "core"),
                          foods[below(dice, std::size(foods))]);
    dish.plan = "p";
    PlanSettings plan;
    plan.name = "p";
    for (std::size_t i = 0; i < cook.stays.size(); ++i) {
        auto const& place = places[static_cast<std::size_t>(cook.stays[i].where)];
        StageSettings stage;
        stage.name = "s" + std::to_string(i);
        stage.vessel = cook.stays[i].where;
        // Sometimes the plan does not say what the stage does, and then the vessel does.
        if (dice.uniform() < 0.9) stage.does = place.does[static_cast<std::size_t>(below(dice, 3))];
        bool const heats = !is_cold(place.kind);
        if (dice.uniform() < 0.5) stage.until.core = Temperature{heats ? 60 + 25 * dice.uniform() : 5.0};
        if (dice.uniform() < 0.3) stage.core_most = Temperature{heats ? 80.0 : 25.0};
        plan.stages.push_back(std::move(stage));
        plan.stage_vessels.emplace_back();
    }
    settings.plans.push_back(std::move(plan));
    return settings;
}

struct Found {
    std::set<std::string> opposed, unsaid;
    int minutes = 0, ordering = 0;
};

void play(std::uint64_t seed, Found& found) {
    Dice dice(seed);
    for (int i = 0; i < 8; ++i) dice.uniform();
    auto const cook = random_cook(dice);
    Run run(kitchen_for(cook, dice));
    int const every_s = seed <= 10 ? 10 : 30;
    auto const at = [](auto const& series, double minute) {
        return series[std::min(series.size() - 1, static_cast<std::size_t>(minute))];
    };
    for (int v = 0; v < vessels; ++v)
        run.probe(std::string(places[static_cast<std::size_t>(v)].name) + "-air",
                  probe_of(
                      [&, v](double m) -> std::optional<double> {
                          return at(cook.medium[static_cast<std::size_t>(v)], m);
                      },
                      seed + static_cast<std::uint64_t>(v)),
                  every_s);
    run.probe("core", probe_of([&](double m) { return at(cook.core, m); }, seed + 9), every_s);
    run.tell(Begin{0});
    std::size_t stay = 0;
    double ends = cook.stays[0].minutes;
    for (int m = 1; m < cook.minutes; ++m) {
        run.until(m);
        auto const view = run.kitchen().view();
        ++found.minutes;
        found.ordering += std::ranges::any_of(view.alarms, orders);
        for (auto const& pair : opposing(view))
            found.opposed.insert("seed " + std::to_string(seed) + ": " + pair);
        for (auto const& alarm : view.alarms)
            if (auto const order = order_in(alarm.text); order != Action::none && order != alarm.action)
                found.unsaid.insert(std::string(alarm.type->name) + " says " +
                                    std::string(to_word(alarm.action)) + ": " + alarm.text);
        // After the look: what the dish is moved to is judged in the second that follows.
        if (m >= ends && stay + 1 < cook.stays.size()) {
            ends += cook.stays[++stay].minutes;
            auto const stage = run.kitchen().view().dishes[0].stage;
            if (stage == "s" + std::to_string(stay - 1)) run.tell(Next{0});
        }
    }
}

}  // namespace

TEST_CASE("no two alarms of a dish and its vessel order opposite things, in random cooks") {
    Found found;
#if defined(__has_feature)
#if __has_feature(address_sanitizer)
    constexpr bool slow = true;  // ten times
#else
    constexpr bool slow = false;
#endif
#else
    constexpr bool slow = false;
#endif
    int const cooks = long_form() ? 400 : slow ? 24 : 120;
    for (int seed = 1; seed <= cooks; ++seed) play(static_cast<std::uint64_t>(seed), found);
    for (auto const& pair : found.opposed) FAIL_CHECK(pair);
    for (auto const& text : found.unsaid) FAIL_CHECK(text);
    INFO(found.minutes << " min, " << found.ordering << " with an order");
    CHECK(found.ordering > found.minutes / 20);  // or it would have tried nothing
}

TEST_CASE("the check of opposite orders can fail") {
    AlarmType const type{.name = "danger-zone"};
    View view;
    view.dishes.resize(1);
    view.dishes[0].vessel = 0;
    Alarm alarm;
    alarm.type = &type;
    alarm.active = true;
    alarm.state = AlarmState::unacknowledged;
    alarm.subject = {SubjectKind::dish, 0};
    alarm.action = Action::raise_heat;
    auto other = alarm;
    other.subject = {SubjectKind::vessel, 0};
    other.action = Action::lower_heat;
    view.alarms = {alarm, other};
    CHECK(opposing(view).size() == 1);
    view.dishes[0].vessel = 1;  // of another vessel
    CHECK(opposing(view).empty());
    view.dishes[0].vessel = 0;
    view.alarms[1].muted_by = "door-opened";
    CHECK(opposing(view).empty());
}
