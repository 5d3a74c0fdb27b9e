// The ledger of a dish: properties, and replays of real cooks with the sums done by hand.
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "daemon/food/calculate.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/rows.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

std::vector<FoodSample> fahrenheit_rows(std::string const& file, std::string const& column,
                                        std::function<bool(ingle::test::Row const&)> const& wanted) {
    std::vector<FoodSample> series;
    for (auto const& row : rows(file))
        if (wanted(row)) series.push_back({60 * number(row, "minute"), from_fahrenheit(number(row, column))});
    return series;
}

// The straight lines between sparse readings, so that a core is read as often as in a kitchen.
Curve lines_of(std::vector<FoodSample> const& series) {
    Curve curve;
    for (auto const& s : series) curve.points.emplace_back(s.t_s / 60, *s.celsius);
    return curve;
}

}  // namespace

TEST_CASE("every class of the contract is there, with the safer value first and a source for each") {
    for (auto const* name :
         {"ground-poultry", "whole-poultry", "ground-meat", "whole-meat", "bear-boar", "venison", "fresh-ham",
          "cured-ham", "fish", "egg-dish", "stuffed", "stock", "vegetable", "leftover", "shelf-stable"})
        REQUIRE(food_class(name));
    CHECK(food_classes().size() == 15);
    CHECK(food_class("pizza") == nullptr);
    for (auto const& food : food_classes()) {
        for (auto const& target : food.targets) {
            CHECK_FALSE(target.source.empty());
            if (food.name != "cured-ham")  // its other rows are for hams that were cooked before
                CHECK(target.fahrenheit <= food.targets.front().fahrenheit);
        }
        CHECK(food.lethality_source.empty() == (food.model == LethalityModel::none));
    }
    // CDC MMWR 2024 and the Food Code: 165 degF for bear; FoodSafety.gov: 160. Both are shown, 165 is asked
    // for.
    auto const& bear = *food_class("bear-boar");
    CHECK(bear.targets[0].fahrenheit == 165);
    CHECK(bear.targets[2].fahrenheit == 160);
    CHECK(bear.trichinella_game);
    CHECK(danger_zones()[0].low_f == 40);
    CHECK(danger_zones()[0].high_f == 140);
    CHECK(hot_hold_limits()[0].fahrenheit == 140);
    CHECK(cold_hold_limits()[0].fahrenheit == 40);
}

TEST_CASE("more heat never lowers what is computed, and a gap is worth nothing") {
    std::mt19937 random(3);
    auto const any = [&](double low, double high) {
        return low + (high - low) * static_cast<double>(random()) / 4294967295.0;
    };
    for (auto const* name : {"whole-meat", "ground-poultry", "bear-boar", "stuffed"}) {
        auto const& food = *food_class(name);
        for (int run = 0; run < 50; ++run) {
            std::vector<FoodSample> series;
            double c = any(40, 60);
            for (int i = 0; i < 60; ++i)
                series.push_back({30.0 * i, c = std::clamp(c + any(-1, 1.3), 30.0, 74.0)});
            auto const plain = lethality_of(series, food);
            auto hotter = series;
            for (auto& s : hotter) s.celsius = *s.celsius + any(0, 3);
            CHECK(*lethality_of(hotter, food).computed_log10 >= *plain.computed_log10 - 1e-9);
            // Finer readings on the same lines.
            std::vector<FoodSample> finer;
            for (std::size_t i = 0; i + 1 < series.size(); ++i)
                for (int k = 0; k < 5; ++k)
                    finer.push_back(
                        {series[i].t_s + 6 * k,
                         *series[i].celsius + (*series[i + 1].celsius - *series[i].celsius) * k / 5});
            finer.push_back(series.back());
            auto const same = lethality_of(finer, food);
            CHECK_THAT(*same.computed_log10,
                       WithinRel(*plain.computed_log10, 1e-6) || WithinAbs(*plain.computed_log10, 1e-9));
            CHECK_THAT(same.danger_s, WithinAbs(plain.danger_s, 1e-6));
            auto shifted = series;
            for (auto& s : shifted) s = {s.t_s + 86400, from_fahrenheit(to_fahrenheit(*s.celsius))};
            CHECK_THAT(*lethality_of(shifted, food).computed_log10,
                       WithinRel(*plain.computed_log10, 1e-6) || WithinAbs(*plain.computed_log10, 1e-9));
            auto holed = series;
            auto const hole = static_cast<std::size_t>(any(1, 50));
            for (std::size_t i = hole; i < hole + 8; ++i) holed[i].celsius.reset();
            auto const gap = lethality_of(holed, food);
            CHECK(*gap.log10 <= *plain.log10 + 1e-9);
            CHECK(gap.danger_s <= plain.danger_s + 1e-9);
            CHECK(gap.danger_possible_s >= plain.danger_possible_s - 1e-9);
            CHECK(gap.come_up_possible_s >= plain.come_up_possible_s - 1e-9);
        }
    }
}

TEST_CASE("a come-up of more than 6 h is credited nothing") {
    // 50 to 130 degF, then an hour at 145 degF, in whole meat: 4 min there are asked for.
    auto const slow = [](double hours) {
        std::vector<FoodSample> series;
        for (double s = 0; s <= hours * 3600; s += 60)
            series.push_back({s, from_fahrenheit(50 + 80 * s / (hours * 3600))});
        double const end = series.back().t_s;
        for (double s = 60; s <= 3600; s += 60) series.push_back({end + s, from_fahrenheit(145)});
        return lethality_of(series, *food_class("whole-meat"));
    };
    CHECK(*slow(5.9).log10 > 6.5);
    CHECK(*slow(6.1).log10 == 0);
    CHECK(*slow(6.1).computed_log10 > 6.5);
    CHECK_THAT(slow(6.1).why, INGLE_CONTAINS("nothing is credited"));
    CHECK_THAT(slow(5.9).come_up_s, WithinAbs(5.9 * 3600, 1));
}

TEST_CASE("oven turkey of 2015: by hand") {
    auto const series = fahrenheit_rows("reference/series/turkey_oven_2015.csv", "breast_F",
                                        [](auto const& row) { return row.at("year") == "2015"; });
    auto const found = lethality_of(series, *food_class("whole-poultry"));
    // 56 min: 129, 68: 140, 83: 149, 98: 156, 104: 160, 108: 162 degF. Minutes per degree: 12/11, 15/9, 15/7,
    // 6/4, 4/2. Over the longer of chicken and turkey at 12 % fat, times 7:
    //   136-139 at 12/11 min: 65.45 s (1/4884 + 1/3930 + 1/3174 + 1/2580)                             =
    //   0.0760 140-148 at 15/9 min: 100 s (1/2100 + 1/1722 + 1/1422 + 1/1188 + 1/996 + 1/828 + 1/690 + 1/564
    //   + 1/462) = 1.0194 149-155 at 15/7 min: 128.57 s (1/372 + 1/294 + 1/228 + 1/168 + 1/126 + 1/96 + 1/78)
    //   = 6.1203 156-159 at 1.5 min: 90 s (1/60 + 1/50.4 + 1/40.9 + 1/33.2) = 8.1971 160-161 at 2 min: 120 s
    //   (1/26.9 + 1/21.9)                                                      = 9.9404
    // sum 25.35, times 7 = 177.5: far past the 7 that was asked for.
    CHECK_THAT(*found.computed_log10, WithinAbs(177.5, 0.1));
    CHECK(*found.log10 == 7);  // the one column of the poultry tables
    // 40 to 140 degF: from the start (55 degF) to minute 68.
    CHECK_THAT(found.danger_s, WithinAbs(68 * 60, 1e-6));
    // 50 to 130 degF: to minute 56 + 12/11 = 57.09.
    CHECK_THAT(found.come_up_s, WithinAbs(57.0909 * 60, 0.1));
    // 161 degF asks for 21.9 s; it was there for (162 - 161) * 2 min.
    CHECK(found.row->fahrenheit == 161);
    CHECK_THAT(found.row->measured_s, WithinAbs(120, 0.01));
    CHECK(cooling_of(series, *cooling_rule("food-code")).answer == CoolingAnswer::not_applicable);

    FoodLedger ledger(dish("whole-poultry"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    feed(ledger, lines_of(series), 0, series.back().t_s);
    CHECK_THAT(*ledger.lethality_log10(), WithinAbs(*found.log10, 1e-9));
    // 162 degF at the end: the 165 degF of the chart was not reached, and the verdict says so.
    CHECK(verdict(ledger, "core-target").answer == "not reached so far");
    CHECK_THAT(verdict(ledger, "core-target").text, INGLE_CONTAINS("not reached so far"));
    CHECK(concern(ledger, "core-target").truth == Holds::no);
    CHECK_THAT(verdict(ledger, "lethality").text, INGLE_CONTAINS("more than 20 log10"));
    CHECK_THAT(verdict(ledger, "danger-zone").text, INGLE_CONTAINS("1 h 08 min"));
    CHECK(verdict(ledger, "cooling").answer == "not-applicable");
}

TEST_CASE("smoked leg of lamb and brisket: by hand") {
    auto const run = [](std::string const& name) {
        return fahrenheit_rows("reference/food-safety/smoker.csv", "degf",
                               [&](auto const& row) { return row.at("run") == name; });
    };
    auto const& meat = *food_class("whole-meat");
    auto const lamb = lethality_of(run("L1"), meat);
    // 60: 76, 120: 126, 180: 157, 210: 167 degF. Between 40 and 140 from the first reading to 120 + 60 *
    // 14/31 min.
    CHECK_THAT(lamb.danger_s / 60, WithinAbs(60 + 27.097, 0.001));
    // 130 to 157 degF at 60/31 min a degree, 157 to 160 at 3, 7 degrees above the table's end at the rate of
    // 160: 10/ln 10 * (60/31 * (10^0.7 - 10^-2) + 3 * (10^1 - 10^0.7)) + 10 * 21 = 317.0 min at 150 degF;
    // over 0.172.
    double const by_hand =
        10 / std::log(10) * (60 / 31.0 * (std::pow(10, 0.7) - 0.01) + 3 * (10 - std::pow(10, 0.7))) + 210;
    CHECK_THAT(by_hand, WithinAbs(317.0, 0.1));
    CHECK_THAT(*lamb.computed_log10, WithinRel(by_hand / 0.172, 1e-6));
    CHECK(lamb.row->fahrenheit == 158);
    // 157 to 167 in 30 min: 158 degF at minute 183, so 27 min above it.
    CHECK_THAT(lamb.row->measured_s, WithinAbs(27 * 60, 0.01));

    auto const brisket = lethality_of(run("B1"), meat);
    // 35: 79, 200: 155 degF: 130 is passed 51/76 of 165 min later, 140 after 61/76.
    CHECK_THAT(brisket.come_up_s / 60, WithinAbs(165 * 51 / 76.0, 0.001));
    CHECK_THAT(brisket.danger_s / 60, WithinAbs(165 * 61 / 76.0, 0.001));
    CHECK(brisket.row->fahrenheit == 158);
    // Pork shoulder P2: first read at 140 degF after 220 min; in the danger zone for as long as nobody
    // looked. It was not seen to come up, so that its thickness is needed to know it from air.
    auto const read = run("P2");
    for (double const thickness : {0.0, 0.1}) {
        auto settings = dish("whole-meat", 1, 12 * 3600);
        if (thickness > 0) settings.dish.thickness = Length{thickness};
        FoodLedger pork(settings, zero);
        pork.stage(zero, FoodPhase::cooking);
        feed(pork, lines_of(read), read.front().t_s, read.back().t_s);
        CHECK(pork.summary().danger_s == 0);
        CHECK(verdict(pork, "core-target").answer == (thickness > 0 ? "met" : "unknown"));
    }
}

TEST_CASE("unknown stays unknown") {
    FoodLedger ledger(dish("ground-poultry"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    ledger.advance(at(7200));
    for (auto const& v : ledger.verdicts()) CHECK(v.answer == "unknown");
    CHECK_FALSE(ledger.lethality_log10());
    CHECK(concern(ledger, "core-target").truth == Holds::unknown);
    CHECK(ledger.summary().cooling == CoolingAnswer::unknown);
    CHECK(ledger.summary().danger_possible_s >= 7199);
    CHECK_THAT(verdict(ledger, "danger-zone").text,
               INGLE_CONTAINS("no reading of the core counts; none came"));
    // Faults and rejected values are no readings.
    ledger.take(at(7201), 0, 80, Quality::rejected);
    ledger.take(at(7202), 0, 80, Quality::faulty);
    CHECK_FALSE(ledger.summary().peak_core_c);

    FoodLedger lost(thin_dish("ground-poultry"), zero);  // cooked, then off for nobody knows how long
    lost.stage(zero, FoodPhase::cooking);
    feed(lost, Curve{{{0, 5}, {60, 80}}}, 0, 3600);
    double const log10 = *lost.lethality_log10();
    CHECK(log10 == 7);
    lost.gap_of_unknown_length(at(3700));
    CHECK(lost.summary().cooling == CoolingAnswer::unknown);
    feed(lost, Curve{{{0, 4}}}, 3700, 3800);
    CHECK(lost.summary().cooling == CoolingAnswer::unknown);
    CHECK(verdict(lost, "danger-zone").answer == "unknown");
    CHECK(*lost.lethality_log10() == log10);  // the killing was seen, and stays

    FoodLedger unnamed(dish(""), zero);
    unnamed.stage(zero, FoodPhase::cooking);
    feed(unnamed, Curve{{{0, 5}, {60, 80}}}, 0, 3600);
    CHECK(verdict(unnamed, "core-target").answer == "unknown");
}

TEST_CASE("too slow a smoke is told before the limit is over") {
    // 5 degC, rising 8 K an hour: at 60 degC after 6 h 53 min; the limit is 4 h while it is heated.
    Curve const slow{{{0, 5}, {600, 85}}};
    FoodLedger ledger(dish("bear-boar"), zero);
    ledger.stage(zero, FoodPhase::cooking);
    feed(ledger, slow, 0, 1.9 * 3600);
    CHECK(concern(ledger, "danger-zone").truth == Holds::no);
    feed(ledger, slow, 1.9 * 3600 + 30, 2.1 * 3600);
    auto const early = concern(ledger, "danger-zone");
    CHECK(early.truth == Holds::yes);
    CHECK_THAT(early.text, INGLE_CONTAINS("8.0 degC an hour"));
    // A roast that is through in time raises nothing, all the way.
    Curve const brisk{{{0, 5}, {200, 62}, {300, 75}}};
    FoodLedger fine(dish("bear-boar"), zero);
    fine.stage(zero, FoodPhase::cooking);
    for (double t = 0; t <= brisk.end(); t += 30) {
        fine.take(at(t), 0, brisk(t), Quality::good);
        REQUIRE(concern(fine, "danger-zone").truth != Holds::yes);
    }
    fine.advance(at(brisk.end() + CoreEvidence::hold_s));
    CHECK(concern(fine, "core-target").truth == Holds::yes);
    CHECK(verdict(fine, "core-target").answer == "met");
    // On the table, neither heated nor cooled: 2 h by the USDA.
    FoodLedger table(dish("fish"), zero);
    table.stage(zero, FoodPhase::waiting);
    feed(table, Curve{{{0, 20}}}, 0, 5370);
    CHECK(concern(table, "danger-zone").truth == Holds::no);
    feed(table, Curve{{{0, 20}}}, 5400, 7170);  // three quarters of it: there is still something to do
    CHECK(concern(table, "danger-zone").priority == Priority::medium);
    CHECK(concern(table, "danger-zone").action != Action::discard);
    feed(table, Curve{{{0, 20}}}, 7200, 7260);
    CHECK(concern(table, "danger-zone").priority == Priority::high);
    CHECK(concern(table, "danger-zone").action == Action::discard);
}

TEST_CASE("hot holding") {
    FoodLedger ledger(dish("leftover"), zero);
    ledger.stage(zero, FoodPhase::hot_holding);
    feed(ledger, Curve{{{0, 70}, {60, 62}, {120, 54}, {150, 62}}}, 0, 3600);
    CHECK(concern(ledger, "hot-hold").truth == Holds::no);
    feed(ledger, Curve{{{0, 70}, {60, 62}, {120, 54}, {150, 62}}}, 3630, 7200);
    auto const low = concern(ledger, "hot-hold");
    CHECK(low.truth == Holds::yes);
    CHECK_THAT(low.text, INGLE_CONTAINS("46 min"));  // 62 to 54 in an hour: 60 degC after 15 min
    feed(ledger, Curve{{{0, 70}, {60, 62}, {120, 54}, {150, 62}}}, 7230, 9000);
    CHECK(concern(ledger, "hot-hold").truth == Holds::no);
    CHECK(verdict(ledger, "hot-hold").answer == "missed");
}

TEST_CASE("what a stage does says what the food goes through; where it is not said, the vessel does") {
    CHECK(food_phase(Does::brine, VesselKind::fridge) == FoodPhase::brining);
    CHECK(food_phase(Does::hot_hold, VesselKind::oven) == FoodPhase::hot_holding);
    CHECK(food_phase(Does::chill, VesselKind::pot) == FoodPhase::chilling);
    CHECK(food_phase(Does::reheat, VesselKind::hot_box) == FoodPhase::reheating);
    CHECK(food_phase({}, VesselKind::fridge) == FoodPhase::cold_holding);
    CHECK(food_phase({}, VesselKind::fridge, Temperature{5}) == FoodPhase::chilling);
    CHECK(food_phase({}, VesselKind::hot_box) == FoodPhase::hot_holding);
    CHECK(food_phase({}, VesselKind::smoker) == FoodPhase::cooking);
    CHECK(food_phase({}, VesselKind::pot, Temperature{74}) == FoodPhase::cooking);
    CHECK(food_phase({}, VesselKind::bath, Temperature{5}) == FoodPhase::chilling);
    CHECK(food_phase({}, VesselKind::room) == FoodPhase::waiting);
    CHECK(food_phase({}, {}) == FoodPhase::waiting);
    CHECK(heats_core(FoodPhase::thawing));
    CHECK_FALSE(heats_core(FoodPhase::chilling));
    CHECK(to_word(FoodPhase::hot_holding) == "hot-hold");
}

TEST_CASE("a restart changes nothing but the time that nobody looked") {
    Curve const roll{{{0, 5}, {120, 76}, {150, 70}, {200, 40}, {260, 18}, {500, 4}}};
    for (double stop : {60.0, 140.0, 190.0, 230.0}) {
        FoodLedger whole(dish("ground-poultry"), zero), first(dish("ground-poultry"), zero);
        whole.stage(zero, FoodPhase::cooking);
        first.stage(zero, FoodPhase::cooking);
        feed(whole, roll, 0, roll.end());
        feed(first, roll, 0, stop * 60);
        Memory memory;
        first.remember(memory, "x.");
        memory.shift_instants(from_seconds(-1000));  // another boot
        FoodLedger second(dish("ground-poultry"), at(5));
        second.recall(memory, "x.");
        for (double t = stop * 60 + 30; t <= roll.end(); t += 30)
            second.take(at(t - 1000), 0, roll(t), Quality::good);
        auto const a = whole.summary(), b = second.summary();
        CHECK(b.lethality_log10 == a.lethality_log10);
        CHECK(b.danger_s == a.danger_s);
        CHECK(b.danger_possible_s == a.danger_possible_s);
        CHECK(b.cooling == a.cooling);
        CHECK(a.cooling == CoolingAnswer::met);
        CHECK(b.peak_core_c == a.peak_core_c);
        CHECK(verdict(second, "cooling").text == verdict(whole, "cooling").text);
    }
}

TEST_CASE("the early word about cooling: said of a pot that will be late, not of one that will be in time") {
    // Newton's law toward measured 5 degC, from 80 degC; 57.22 to 21.11 degC takes ln(52.22/16.11) / k.
    auto const late_at = [](double stage_h) -> std::optional<double> {
        double const k = std::log(52.222 / 16.111) / (stage_h * 3600);
        double const start = std::log(75 / 52.222) / k;
        FoodLedger pot(dish("leftover"), zero);
        pot.stage(zero, FoodPhase::chilling);
        for (double t = 0; t < start + stage_h * 3600; t += 30) {
            pot.medium(at(t), 5, Quality::good);
            pot.take(at(t), 0, 5 + 75 * std::exp(-k * t), Quality::good);
            if (concern(pot, "cooling-late").truth == Holds::yes) return (t - start) / 60;
        }
        return std::nullopt;
    };
    REQUIRE(late_at(3.0));
    CHECK(*late_at(3.0) < 15);  // minutes after the clock started
    CHECK_FALSE(late_at(1.9));
}

TEST_CASE("begun long before the first reading: that time may have been the worst") {
    FoodLedger fish(dish("fish"), zero);
    fish.stage(zero, FoodPhase::waiting);
    feed(fish, Curve{{{0, 15}}}, 7300, 7400);
    CHECK(fish.summary().danger_s <= 100);
    CHECK(fish.summary().danger_possible_s > 7200);
    CHECK(concern(fish, "danger-zone").truth == Holds::yes);
    CHECK_THAT(concern(fish, "danger-zone").text, INGLE_CONTAINS("at its worst"));
}

TEST_CASE("a target without a hold is met by reaching it, and not before") {
    FoodLedger patty(thin_dish("ground-meat"), zero);
    patty.stage(zero, FoodPhase::cooking);
    feed(patty, Curve{{{0, 5}, {30, 71.0}}}, 0, 1800);
    CHECK_FALSE(patty.summary().target_met);
    feed(patty, Curve{{{0, 71.2}}}, 1830, 1830);  // 160 degF is 71.11
    CHECK(patty.summary().target_met);
    CHECK(verdict(patty, "core-target").answer == "met");
}

TEST_CASE("time spent cooling in good order is not held against the dish afterwards") {
    Curve const pot{{{0, 80}, {30, 57}, {130, 20}, {330, 4}, {400, 4}, {404, 9}, {415, 9}}};
    FoodLedger ledger(dish("leftover"), zero);
    ledger.stage(zero, FoodPhase::chilling);
    feed(ledger, pot, 0, 400 * 60);
    CHECK(ledger.summary().cooling == CoolingAnswer::met);
    CHECK_FALSE(ledger.summary().target_c == std::nullopt);
    ledger.stage(at(400 * 60 + 1), FoodPhase::cold_holding);
    feed(ledger, pot, 400 * 60 + 30, pot.end());
    CHECK(concern(ledger, "danger-zone").truth == Holds::no);
    // Over 4.44 degC again from minute 400.36 on: 14.6 min.
    CHECK_THAT(verdict(ledger, "danger-zone").text, INGLE_CONTAINS("neither heated nor cooled 15 min"));
    CHECK_THAT(verdict(ledger, "cold-hold").text, INGLE_CONTAINS("measured 15 min"));
    // The same in a stage that still says "chill".
    FoodLedger still(dish("leftover"), zero);
    still.stage(zero, FoodPhase::chilling);
    feed(still, pot, 0, 400 * 60);
    CHECK(concern(still, "cold-hold").truth == Holds::no);
    feed(still, pot, 400 * 60 + 30, pot.end());
    CHECK(concern(still, "cold-hold").truth == Holds::yes);
    CHECK_THAT(verdict(still, "danger-zone").text, INGLE_CONTAINS("neither heated nor cooled 15 min"));
}
