// The hazards by class, row by row: which classes a row is told of when its condition holds, and which it is
// not. What each row's source says is in daemon/food/sources.cpp; here stands only where it applies.
#include <set>

#include "daemon/food/hazards.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

using Classes = std::set<std::string_view>;
using Words = std::vector<std::string>;

struct Case {
    std::string_view id;
    HazardFacts facts;   // that make it matter, the class aside
    HazardFacts spared;  // just not
    Classes classes;
};

HazardFacts with(auto&& change) {
    HazardFacts facts;
    facts.cores = 1;
    change(facts);
    return facts;
}

Classes const every{"ground-poultry", "whole-poultry", "ground-meat", "whole-meat", "bear-boar",
                    "venison",        "fresh-ham",     "cured-ham",   "fish",       "egg-dish",
                    "stuffed",        "stock",         "vegetable",   "leftover"};

Classes told_of(std::string_view id, HazardFacts facts) {
    Classes found;
    for (auto const& row : hazards())
        for (auto const& food : food_classes()) {
            facts.food = &food;
            if (row.id == id && row.matters(facts)) found.insert(food.name);
        }
    return found;
}

}  // namespace

TEST_CASE("each hazard is told of the classes that can have it, and of no other") {
    Words const bag{"vacuum-packed"}, needles{"injected"}, nitrite{"nitrite"}, ground{"ground"};
    constexpr double hour = 3600;
    std::vector<Case> const cases{
        {"staphylococcus-toxin", with([](auto& f) { f.warm_possible_s = 6 * hour + 1; }),
         with([](auto& f) { f.warm_possible_s = 6 * hour; }), every},
        {"missed-cooling", with([](auto& f) { f.cooling = CoolingAnswer::missed; }),
         with([](auto& f) { f.cooling = CoolingAnswer::unknown; }), every},
        {"too-long-warm", with([](auto& f) { f.idle_too_long = true; }), with([](auto&) {}), every},
        {"no-power", with([](auto& f) { f.unread_cold_s = 4 * hour; }),
         with([](auto& f) { f.unread_cold_s = 4 * hour - 1; }), every},
        {"botulinum-low-smoke",
         with([](auto& f) {
             f.smoked = true;
             f.smoker_high_c = 107.1;  // 224.8 degF
         }),
         with([](auto& f) {
             f.smoked = true;
             f.smoker_high_c = 107.3;
         }),
         {"ground-poultry", "ground-meat", "fresh-ham", "cured-ham", "fish", "stuffed"}},
        {"botulinum-without-air", with([&](auto& f) { f.preparation = bag; }), with([](auto&) {}), every},
        {"stuffing-tip", with([](auto&) {}), with([](auto& f) { f.target_met = true; }), {"stuffed"}},
        {"injected-meat",
         with([&](auto& f) {
             f.preparation = needles;
             f.peak_c = 69.9;  // 157.8 degF
         }),
         with([&](auto& f) {
             f.preparation = needles;
             f.peak_c = 70;  // 158 degF
         }),
         {"whole-meat", "fresh-ham", "cured-ham", "venison"}},
        {"trichinella",
         with([&](auto& f) { f.cured = true; }),
         with([](auto& f) { f.cured = f.target_met = true; }),
         {"bear-boar", "cured-ham", "fresh-ham", "venison", "ground-meat", "whole-meat"}},
        {"fish-parasites", with([](auto& f) { f.brined = true; }), with([](auto&) {}), {"fish"}},
        {"listeria", with([](auto& f) { f.smoked = true; }), with([](auto&) {}), {"fish"}},
        {"scombrotoxin",
         with([](auto& f) { f.zone_possible_s = 2 * hour + 1; }),
         with([](auto& f) { f.zone_possible_s = 2 * hour; }),
         {"fish"}},
        {"bacillus-cereus",
         with([](auto& f) { f.kept_warm_or_cooled = true; }),
         with([](auto&) {}),
         {"vegetable", "stuffed", "stock", "leftover"}},
        {"smoked-low", with([](auto& f) { f.smoked = true; }), with([](auto&) {}), every},
        {"toxoplasma",
         with([](auto& f) { f.smoked = true; }),
         with([](auto& f) { f.smoked = f.target_met = true; }),
         {"venison", "bear-boar", "ground-meat", "whole-meat", "fresh-ham", "cured-ham"}},
        {"chronic-wasting-disease", with([](auto&) {}), with([](auto&) {}), {"venison"}},
        {"game-fat", with([](auto&) {}), with([](auto&) {}), {"venison"}},
    };
    for (auto const& one : cases) {
        INFO(one.id);
        CHECK(told_of(one.id, one.facts) == one.classes);
        bool const always = one.id == "chronic-wasting-disease" || one.id == "game-fat";
        if (!always) CHECK(told_of(one.id, one.spared).empty());
    }
    // Every class that states nitrite is told how to weigh it.
    CHECK(told_of("nitrite", with([&](auto& f) { f.preparation = nitrite; })).size() ==
          food_classes().size());
    CHECK(told_of("nitrite", with([](auto&) {})).empty());
    // Sausage of any game or pork, until it is cooked.
    CHECK(told_of("trichinella", with([&](auto& f) { f.preparation = ground; })) ==
          Classes{"bear-boar", "cured-ham", "fresh-ham", "venison"});
    CHECK(told_of("trichinella", with([](auto&) {})) == Classes{"bear-boar", "cured-ham"});
    CHECK(cases.size() + 1 == hazards().size());
}

TEST_CASE("the heaviest first, at most two, and a sentence in the kitchen's unit") {
    auto facts = with([](auto& f) {
        f.food = food_class("venison");
        f.smoked = true;
    });
    auto const all = hazards_of(facts, 99);
    for (std::size_t i = 1; i < all.size(); ++i) CHECK(all[i - 1]->weight >= all[i]->weight);
    CHECK(hazards_of(facts).size() == 2);
    CHECK(hazards_of(facts, 1).size() == 1);
    CHECK(hazards_of(facts, 0).empty());
    for (auto const& row : hazards()) {
        if (row.id != "stuffing-tip") continue;
        CHECK_THAT(hazard_sentence(row, TemperatureUnit::fahrenheit),
                   INGLE_CONTAINS("must come to 165 degF: put"));
        CHECK_THAT(hazard_sentence(row, TemperatureUnit::celsius),
                   INGLE_CONTAINS("must come to 74 degC: put"));
    }
}
