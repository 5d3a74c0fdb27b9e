// Each hazard's condition, on and off; that each rests on a source; and what the ledger makes of recordings.
#include "daemon/food/hazards.hpp"

#include <map>
#include <set>

#include "daemon/food/sources.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

using Words = std::vector<std::string>;

bool matters(std::string_view id, HazardFacts const& facts) {
    for (auto const& row : hazards())
        if (row.id == id) return row.matters(facts);
    throw std::logic_error("no such hazard");
}

HazardFacts of(std::string_view food) {
    HazardFacts facts;
    facts.food = food_class(food);
    facts.cores = 1;
    return facts;
}

bool shown(FoodLedger const& ledger, std::string_view id) {
    for (auto const& row : ledger.verdicts())
        if (row.rule == "hazard" && row.answer == id) return true;
    return false;
}

}  // namespace

TEST_CASE("every hazard has a sentence, a condition in words and sources that are listed") {
    std::set<std::string_view> ids, cited;
    for (auto const& row : hazards()) {
        INFO(row.id);
        CHECK(ids.insert(row.id).second);
        CHECK_FALSE(row.when.empty());
        REQUIRE_FALSE(row.sources.empty());
        for (auto const id : row.sources) {
            CHECK(food_source(id) != nullptr);
            cited.insert(id);
        }
        CHECK_FALSE(hazard_sources(row).empty());
        // One of them was read, not only reported.
        CHECK(std::ranges::any_of(row.sources,
                                  [](auto id) { return food_source(id)->evidence == Evidence::read; }));
        for (auto const unit : {TemperatureUnit::fahrenheit, TemperatureUnit::celsius}) {
            auto const text = hazard_sentence(row, unit);
            CHECK(text.ends_with('.'));
            CHECK(text.find_first_of("{}") == std::string::npos);
        }
        // At least one class can have it.
        CHECK(std::ranges::any_of(food_classes(), [&](auto const& food) { return row.can_concern(food); }));
    }
    CHECK(ids.size() == 18);
    for (auto const& source : food_sources()) {
        INFO(source.id);
        CHECK_FALSE(source.where.empty());
        if (source.id != "usda-brine") CHECK(cited.contains(source.id));
        // Not from memory: such a row could be shown, but nothing could be tested on it.
        CHECK(source.evidence != Evidence::memory);
    }
}

TEST_CASE("a hazard that matters for a class stands in the list of that class") {
    Words const every{"ground",  "stuffed",       "injected",  "tenderised", "cured",
                      "nitrite", "vacuum-packed", "under-fat", "served-raw"};
    for (auto const& food : food_classes()) {
        auto facts = of(food.name);
        facts.brined = facts.smoked = facts.cured = facts.kept_warm_or_cooled = true;
        facts.warm_possible_s = facts.zone_possible_s = facts.unread_cold_s = 1e6;
        facts.idle_too_long = true;
        facts.cooling = CoolingAnswer::missed;
        for (auto const& word : every) {
            Words const one{word};
            facts.preparation = one;
            for (auto const& row : hazards()) {
                // What a cook says of the food ("ground", "stuffed") goes beyond its class.
                bool const by_word =
                    row.id == "botulinum-low-smoke" || row.id == "stuffing-tip" || row.id == "nitrite";
                INFO(row.id << " " << food.name << " " << word);
                if (row.matters(facts) && !by_word) CHECK(row.can_concern(food));
            }
        }
    }
}

TEST_CASE("warm for too long: the toxin stays") {
    auto facts = of("ground-meat");
    facts.warm_possible_s = 6 * 3600;
    CHECK_FALSE(matters("staphylococcus-toxin", facts));  // FSIS: at most 6 h
    facts.warm_possible_s += 1;
    CHECK(matters("staphylococcus-toxin", facts));
    facts.target_met = true;  // 165 degF does not change it
    CHECK(matters("staphylococcus-toxin", facts));
    facts.food = nullptr;  // a class that was not said rules nothing out
    CHECK(matters("staphylococcus-toxin", facts));
}

TEST_CASE("what is to be thrown away") {
    auto facts = of("stock");
    CHECK_FALSE(matters("too-long-warm", facts));
    facts.idle_too_long = true;
    CHECK(matters("too-long-warm", facts));
    for (auto const answer : {CoolingAnswer::met, CoolingAnswer::unknown, CoolingAnswer::not_applicable}) {
        facts.cooling = answer;
        CHECK_FALSE(matters("missed-cooling", facts));
    }
    facts.cooling = CoolingAnswer::missed;
    CHECK(matters("missed-cooling", facts));
    facts.unread_cold_s = 4 * 3600 - 1;
    CHECK_FALSE(matters("no-power", facts));
    facts.unread_cold_s = 4 * 3600;
    CHECK(matters("no-power", facts));
}

TEST_CASE("botulinum: smoked low, or without air") {
    auto facts = of("ground-meat");
    CHECK_FALSE(matters("botulinum-low-smoke", facts));
    facts.smoked = true;
    CHECK(matters("botulinum-low-smoke", facts));  // how hot the smoker was is not known
    facts.smoker_high_c = from_fahrenheit(224);
    CHECK(matters("botulinum-low-smoke", facts));
    CHECK(matters("smoked-low", facts));
    facts.smoker_high_c = from_fahrenheit(225);
    CHECK_FALSE(matters("botulinum-low-smoke", facts));
    CHECK_FALSE(matters("smoked-low", facts));
    facts.smoker_high_c = 90;
    Words const nitrite{"nitrite"}, bag{"vacuum-packed"}, fat{"under-fat"};
    facts.preparation = nitrite;
    CHECK_FALSE(matters("botulinum-low-smoke", facts));
    CHECK(matters("nitrite", facts));
    CHECK_FALSE(matters("botulinum-without-air", facts));
    facts.preparation = bag;
    CHECK(matters("botulinum-without-air", facts));
    CHECK_FALSE(matters("nitrite", facts));
    facts.preparation = fat;
    CHECK(matters("botulinum-without-air", facts));
    auto roast = of("whole-meat");
    roast.smoked = true;
    CHECK_FALSE(matters("botulinum-low-smoke", roast));
    CHECK(matters("smoked-low", roast));
    Words const ground{"ground"};
    roast.preparation = ground;
    CHECK(matters("botulinum-low-smoke", roast));
}

TEST_CASE("stuffed, injected, tenderised") {
    auto facts = of("whole-poultry");
    CHECK_FALSE(matters("stuffing-tip", facts));
    CHECK(matters("stuffing-tip", of("stuffed")));
    Words const stuffed{"stuffed"}, injected{"injected"}, tenderised{"tenderised"};
    facts.preparation = stuffed;
    CHECK(matters("stuffing-tip", facts));
    facts.target_met = true;
    CHECK_FALSE(matters("stuffing-tip", facts));
    auto roast = of("whole-meat");
    CHECK_FALSE(matters("injected-meat", roast));
    for (auto const& words : {injected, tenderised}) {
        roast.preparation = words;
        roast.peak_c.reset();
        CHECK(matters("injected-meat", roast));
        roast.peak_c = from_fahrenheit(157.9);
        CHECK(matters("injected-meat", roast));
        roast.peak_c = from_fahrenheit(158);  // at once, by the same section
        CHECK_FALSE(matters("injected-meat", roast));
    }
    auto bird = of("whole-poultry");  // asks for more than that anyway
    bird.preparation = injected;
    CHECK_FALSE(matters("injected-meat", bird));
}

TEST_CASE("Trichinella and Toxoplasma: until it is cooked") {
    CHECK(matters("trichinella", of("bear-boar")));
    CHECK(matters("trichinella", of("cured-ham")));
    CHECK_FALSE(matters("trichinella", of("venison")));
    CHECK_FALSE(matters("trichinella", of("fresh-ham")));
    CHECK_FALSE(matters("trichinella", of("whole-poultry")));
    Words const ground{"ground"}, raw{"served-raw"};
    auto facts = of("venison");
    facts.preparation = ground;  // game sausage
    CHECK(matters("trichinella", facts));
    facts.target_met = true;
    CHECK_FALSE(matters("trichinella", facts));
    auto sausage = of("ground-meat");
    CHECK_FALSE(matters("trichinella", sausage));
    sausage.smoked = true;
    CHECK(matters("trichinella", sausage));
    auto boar = of("bear-boar");
    boar.target_met = true;
    CHECK_FALSE(matters("trichinella", boar));
    boar.preparation = raw;
    CHECK(matters("trichinella", boar));
    CHECK(matters("toxoplasma", of("venison")));
    CHECK_FALSE(matters("toxoplasma", of("whole-meat")));
    auto cured = of("whole-meat");
    cured.cured = true;
    CHECK(matters("toxoplasma", cured));
    cured.target_met = true;
    CHECK_FALSE(matters("toxoplasma", cured));
}

TEST_CASE("fish: parasites, Listeria, histamine") {
    auto facts = of("fish");
    CHECK_FALSE(matters("fish-parasites", facts));
    CHECK_FALSE(matters("listeria", facts));
    facts.brined = true;
    CHECK(matters("fish-parasites", facts));
    CHECK(matters("listeria", facts));
    Words const frozen{"frozen"}, raw{"served-raw"};
    facts.preparation = frozen;
    CHECK_FALSE(matters("fish-parasites", facts));
    CHECK(matters("listeria", facts));  // freezing does nothing against it
    facts.preparation = {};
    facts.target_met = true;
    CHECK_FALSE(matters("fish-parasites", facts));
    CHECK_FALSE(matters("listeria", facts));
    facts.preparation = raw;
    CHECK(matters("fish-parasites", facts));
    facts.zone_possible_s = 2 * 3600;
    CHECK_FALSE(matters("scombrotoxin", facts));
    facts.zone_possible_s += 1;
    CHECK(matters("scombrotoxin", facts));  // cooked or not
    auto meat = of("whole-meat");
    meat.brined = true;
    meat.zone_possible_s = 1e5;
    for (auto const* id : {"fish-parasites", "listeria", "scombrotoxin"}) CHECK_FALSE(matters(id, meat));
}

TEST_CASE("rice and venison") {
    auto rice = of("vegetable");
    CHECK_FALSE(matters("bacillus-cereus", rice));
    rice.kept_warm_or_cooled = true;
    CHECK(matters("bacillus-cereus", rice));
    auto roast = of("whole-meat");
    roast.kept_warm_or_cooled = true;
    CHECK_FALSE(matters("bacillus-cereus", roast));
    CHECK(matters("chronic-wasting-disease", of("venison")));
    CHECK_FALSE(matters("chronic-wasting-disease", of("bear-boar")));
    CHECK(matters("game-fat", of("venison")));
    CHECK_FALSE(matters("game-fat", of("whole-meat")));
}

TEST_CASE("at most two, and what is to be thrown away first") {
    auto facts = of("venison");
    facts.smoked = true;
    facts.smoker_high_c = 90;
    facts.cooling = CoolingAnswer::missed;
    auto const two = hazards_of(facts);
    REQUIRE(two.size() == 2);
    CHECK(two[0]->id == "missed-cooling");
    CHECK(two[1]->weight == HazardWeight::guard);
    CHECK(hazards_of(facts, 99).size() > 4);
}

TEST_CASE("seven hours on the way up: said before and after the core reaches 165 degF") {
    FoodLedger ledger(dish("ground-meat"), zero);
    ledger.stage(at(0), FoodPhase::cooking);
    ledger.put_in(VesselKind::smoker);
    Curve const slow{{{0, 4}, {30, 12}, {440, 53}, {480, 76}, {500, 76}}};
    feed(ledger, slow, 0, 300 * 60);
    CHECK_FALSE(shown(ledger, "staphylococcus-toxin"));
    feed(ledger, slow, 300 * 60 + 30, 430 * 60);
    CHECK(shown(ledger, "staphylococcus-toxin"));
    feed(ledger, slow, 430 * 60 + 30, 500 * 60);
    CHECK(ledger.summary().peak_core_c > 73.9);
    CHECK(shown(ledger, "staphylococcus-toxin"));
    // And after a restart.
    Memory memory;
    ledger.remember(memory, "x.");
    FoodLedger again(dish("ground-meat"), zero);
    again.recall(memory, "x.");
    CHECK(shown(again, "staphylococcus-toxin"));
}

TEST_CASE("quick through the warm, then held warm for long: no such toxin") {
    FoodLedger ledger(dish("ground-meat"), zero);
    ledger.stage(at(0), FoodPhase::cooking);
    Curve const quick{{{0, 4}, {60, 76}, {90, 62}, {900, 62}}};
    feed(ledger, quick, 0, 900 * 60);
    CHECK_FALSE(shown(ledger, "staphylococcus-toxin"));
}

TEST_CASE("stock that stands about: too long warm after two hours, in a hot hall after one") {
    auto const stands = [](double hours, double room_c) {
        FoodLedger ledger(dish("stock"), zero);
        ledger.stage(at(0), FoodPhase::waiting);
        ledger.put_in(VesselKind::room);
        for (double t = 0; t <= hours * 3600; t += 30) {
            ledger.medium(at(t), room_c, Quality::good);
            ledger.take(at(t), 0, 25, Quality::good);
        }
        return shown(ledger, "too-long-warm");
    };
    CHECK_FALSE(stands(1.9, 20));
    CHECK(stands(2.5, 20));
    CHECK_FALSE(stands(0.9, 35));
    CHECK(stands(1.5, 35));
}

TEST_CASE("the power was off for five hours, and the food is cold again") {
    auto const begin = [](FoodLedger& ledger) {
        ledger.stage(at(0), FoodPhase::brining);
        ledger.put_in(VesselKind::fridge);
        for (double t = 0; t <= 3600; t += 30) ledger.medium(at(t), 3, Quality::good);
    };
    FoodLedger ledger(dish("whole-poultry", 0), zero);
    begin(ledger);
    CHECK(concern(ledger, "discard").truth == Holds::no);
    ledger.medium(at(6 * 3600), 3.5, Quality::good);  // back, and cold
    ledger.advance(at(6 * 3600 + 60));
    auto const told = concern(ledger, "discard");
    CHECK(told.truth == Holds::yes);
    CHECK(told.action == Action::discard);
    CHECK(told.text.find("5 h") != std::string::npos);
    CHECK(told.order.find("FoodSafety.gov") != std::string::npos);
    CHECK(shown(ledger, "no-power"));
    // It stays although all is well again, and over a restart.
    for (double t = 6 * 3600 + 60; t <= 9 * 3600; t += 30) ledger.medium(at(t), 3, Quality::good);
    Memory memory;
    ledger.remember(memory, "x.");
    FoodLedger again(dish("whole-poultry", 0), zero);
    again.recall(memory, "x.");
    CHECK(concern(again, "discard").truth == Holds::yes);

    // What an earlier version remembered has nothing of this, and is no power cut.
    FoodLedger before(dish("whole-poultry", 0), zero);
    before.stage(at(0), FoodPhase::brining);
    for (double t = 0; t <= 9 * 3600; t += 30) before.medium(at(t), 3, Quality::good);
    Memory all, old;
    before.remember(all, "x.");
    for (auto const& [key, value] : all.all())
        if (key != "x.hazards") old.put(key, value);
    FoodLedger upgraded(dish("whole-poultry", 0), zero);
    upgraded.recall(old, "x.");
    upgraded.medium(at(9 * 3600 + 30), 3, Quality::good);
    CHECK(concern(upgraded, "discard").truth == Holds::no);

    FoodLedger shorter(dish("whole-poultry", 0), zero);
    begin(shorter);
    shorter.medium(at(3600 + 4 * 3600 - 60), 3.5, Quality::good);
    CHECK(concern(shorter, "discard").truth == Holds::no);

    FoodLedger cooking(dish("whole-poultry"), zero);  // nothing is to be cold there
    cooking.stage(at(0), FoodPhase::cooking);
    feed(cooking, Curve{{{0, 60}, {60, 62}}}, 0, 3600);
    cooking.advance(at(10 * 3600));
    CHECK(concern(cooking, "discard").truth == Holds::no);

    FoodLedger unknown(dish("whole-poultry", 0), zero);  // the board has no clock
    begin(unknown);
    unknown.gap_of_unknown_length(at(3700));
    CHECK(concern(unknown, "discard").truth == Holds::yes);
    CHECK(concern(unknown, "discard").text.find("an unknown time") != std::string::npos);
    // Measured later together with another one: what was measured before both stays beside it.
    FoodLedger measured(dish("whole-poultry", 0), zero);
    begin(measured);
    measured.medium(at(3600 + 6 * 3600), 3, Quality::good);
    measured.gap_of_unknown_length(at(3600 + 6 * 3600 + 60));
    measured.medium(at(3600 + 6 * 3600 + 120), 3, Quality::good);
    Memory memory_then;
    measured.remember(memory_then, "x.");
    FoodLedger later(dish("whole-poultry", 0), zero);
    later.recall(memory_then, "x.");
    CHECK(concern(later, "discard").text.find("an unknown time") != std::string::npos);
    later.gaps_are_measured();
    later.medium(at(3600 + 8 * 3600), 3, Quality::good);
    CHECK(concern(later, "discard").text.find("6 h") != std::string::npos);
}

TEST_CASE("an outage of unknown length has no bound, in the food or in the air around it") {
    bool const core = GENERATE(true, false);
    FoodLedger ledger(dish("whole-poultry", core ? 1 : 0), zero);
    ledger.stage(at(0), FoodPhase::cold_holding);
    auto const read = [&](double from, double to) {
        for (double t = from; t <= to; t += 30) {
            ledger.medium(at(t), 3, Quality::good);
            if (core) ledger.take(at(t), 0, 3, Quality::good);
            ledger.advance(at(t), at(t));
        }
    };
    read(0, 3600);
    ledger.gap_of_unknown_length(at(3700));
    read(3700, 7200);
    for (auto const& v : ledger.verdicts()) {
        if (v.rule != "cold-hold" && v.rule != "danger-zone") continue;
        CAPTURE(v.rule, v.answer, v.text);
        CHECK(v.answer == "unknown");
        if (v.rule == "cold-hold")
            CHECK(v.text.find("it may have been an unknown time") != std::string::npos);
    }
}
