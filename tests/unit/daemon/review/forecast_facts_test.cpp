// What was foretold of a core, beside what came; and a target that was taken back.
#include <algorithm>
#include <cmath>

#include "daemon/review/facts.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr double target_c = 74;

// A roast in an oven of 160 degC, read each 10 s for two hours: by a straight line from 5 degC it is at 74
// after 5,980 s (69 K of 80, which take 6,933 s), and from then on it goes on as before.
CookRecord roast(double length_s = 7200, double to_c = 85) {
    CookRecord record;
    record.dish.name = "hen";
    record.dish.food = "whole-poultry";
    record.dish.thickness = Length{0.06};
    record.length_s = length_s;
    record.over = true;
    CookVessel oven;
    oven.name = "oven";
    oven.kind = VesselKind::oven;
    oven.medium.probe = "air";
    oven.medium.every_s = 10;
    record.vessels.push_back(oven);
    CookStage stage;
    stage.name = "roast";
    stage.does = Does::cook;
    stage.vessel = 0;
    stage.ended = length_s;
    stage.over = true;
    record.stages.push_back(stage);
    CookSeries core;
    core.probe = "core";
    core.every_s = 10;
    for (double t = 0; t <= length_s; t += 10) {
        record.vessels[0].medium.samples.push_back({t, 160});
        core.samples.push_back({t, 5 + (to_c - 5) * t / 6933});
    }
    record.cores.push_back(core);
    return record;
}

void tell_each_minute(CookRecord& record, double reached_s) {
    for (double t = 120; t < record.length_s; t += 60) {
        CoreOutlook one;
        one.t = t;
        one.eta_s = std::max(0.0, reached_s - t);
        one.low_s = *one.eta_s * 0.9;
        one.high_s = *one.eta_s * 1.1;
        record.outlooks.push_back(one);
        if (*one.eta_s <= 0) return;
    }
}

}  // namespace

TEST_CASE("the core was at its target when the line between two readings passed it") {
    auto record = roast();
    double const passed = 6933 * 69.0 / 80;
    SECTION("a stage's") {
        record.stages[0].until_core_c = target_c;
    }
    SECTION("the class's, which is told at the next round minute") {}
    bool const of_stage = record.stages[0].until_core_c.has_value();
    double const by_hand = of_stage ? passed : 6933 * ((165 - 32) / 1.8 - 5) / 80;
    tell_each_minute(record, by_hand);
    auto const facts = facts_of(record);
    REQUIRE(facts.forecasts.core_reached_s);
    CHECK_THAT(*facts.forecasts.core_reached_s, WithinAbs(by_hand, 2));  // a target is there within rounding
    CHECK(facts.forecasts.scored.size() == 4);
    // The same moment as in the rows for the hand.
    if (!of_stage) {
        REQUIRE(facts.food.cores.at(0).reached);
        CHECK_THAT(facts.food.cores[0].reached->t, WithinAbs(*facts.forecasts.core_reached_s, 1e-6));
    }
}

TEST_CASE("a core that came to its target while nobody read it scores no forecast") {
    auto record = roast();
    record.stages[0].until_core_c = target_c;
    tell_each_minute(record, 5980);
    std::erase_if(record.cores[0].samples, [](auto const& one) { return one.t > 5000 && one.t < 6500; });
    auto const forecasts = facts_of(record).forecasts;
    CHECK(forecasts.core_came_unseen);
    CHECK_FALSE(forecasts.core_reached_s);
    CHECK(forecasts.scored.empty());
    CHECK(forecasts.core.empty());
}

TEST_CASE("a core that is taken back has no rows, and no forecast is scored against it") {
    // Hotter than boiling water at the end: the tip was never in the middle.
    auto record = roast(9600, 90);
    double const told = 6933 * ((165 - 32) / 1.8 - 5) / 85;
    tell_each_minute(record, told);
    REQUIRE(record.cores[0].samples.back().celsius > 105);
    auto const facts = facts_of(record);
    auto const& core = facts.food.cores.at(0);
    REQUIRE(core.withdrawn_at);
    CHECK(*core.withdrawn_at > told);
    CHECK_FALSE(core.seen);
    CHECK(core.not_its_own == static_cast<int>(record.cores[0].samples.size()));
    CHECK(core.at_target.measured.empty());
    CHECK_FALSE(facts.forecasts.core_reached_s);
    CHECK(facts.forecasts.scored.empty());
    auto const verdict = std::ranges::find(facts.food.verdicts, "core-target", &Verdict::rule);
    REQUIRE(verdict != facts.food.verdicts.end());
    CHECK(verdict->answer == "unknown");
}

TEST_CASE("a probe that reads the target and is no core has come to none") {
    auto record = roast();
    record.stages[0].until_core_c = target_c;
    for (auto& one : record.cores[0].samples) one.celsius = 159 + std::fmod(one.t, 7) / 7;  // the oven's air
    auto const facts = facts_of(record);
    CHECK_FALSE(facts.food.cores.at(0).seen);
    CHECK_FALSE(facts.forecasts.core_reached_s);
    CHECK_FALSE(facts.forecasts.core_came_unseen);
    record.dish.serve_at = 0;  // 1970, as it began
    for (auto const& said : facts_of(record).next_time)
        CHECK(said.find("The core was at its target") == std::string::npos);
}

TEST_CASE("a stage whose band was changed meanwhile is told of once") {
    auto record = roast();
    record.stages[0].band = Band{{100}, {150}};  // the oven is at 160
    record.vessels[0].changes = {{3000, Band{{100}, {140}}}, {5000, Band{{100}, {165}}}};
    for (auto& one : record.vessels[0].medium.samples)
        if (one.t < 600 || (one.t > 3000 && one.t < 3600)) one.celsius = 130;  // so that each is reached
    auto const facts = facts_of(record);
    REQUIRE(facts.bands.size() == 3);
    int told = 0;
    for (auto const& said : facts.next_time)
        if (said.find("outside its band") != std::string::npos) ++told;
    CHECK(told == 1);
}

TEST_CASE("an alarm keeps the words of its raise, and the worse ones beside them") {
    auto record = roast();
    record.alarms = {{31, 1, "probe-silent", "air", "raised", "low", "no reading for 30 s", ""},
                     {930, 1, "probe-silent", "air", "worsened", "high", "no reading for 15 min", ""}};
    auto const alarms = alarm_facts(record);
    REQUIRE(alarms.size() == 1);
    CHECK(alarms[0].text == "no reading for 30 s");
    CHECK(alarms[0].priority == "high");
    REQUIRE(alarms[0].worse.size() == 1);
    CHECK(alarms[0].worse[0].at == 930);
    CHECK(alarms[0].worse[0].text == "no reading for 15 min");
}

TEST_CASE("what was told is scored at 30, 50, 70 and 85 % of the way, by the newest word then") {
    std::vector<CoreOutlook> told;
    auto const say = [&](double t, double eta, double low, double high) {
        CoreOutlook one;
        one.t = t, one.eta_s = eta, one.low_s = low, one.high_s = high;
        told.push_back(one);
    };
    say(290, 600, 500, 800);  // of 1,000 s from 0: 710 are left
    say(300, 650, 600, 690);  // the newest at 30 %: 700 are left, missed by 10
    say(480, 520, 400, 700);  // 2 % before the half: still the newest there
    say(600, 300, 250, 350);  // 10 % before 70 %: too old to be held against it
    say(850, 150, 150, 150);
    say(900, 100, 0, 0);
    auto const scored = score_outlooks(told, 0, 1000);
    REQUIRE(scored.size() == 3);
    CHECK(scored[0].share == 0.3);
    CHECK(scored[0].left_s == 700);
    CHECK_THAT(scored[0].error(), WithinAbs(-0.05, 1e-9));
    CHECK(scored[0].held() == false);
    CHECK(scored[1].left_s == 520);
    CHECK(scored[1].held() == true);
    CHECK(scored[2].share == 0.85);
    CHECK(held_of(scored).intervals == 3);
    CHECK(held_of(scored).held == 2);
    told.front().low_s.reset();
    told.erase(told.begin() + 1, told.end());
    told.front().t = 300;
    CHECK(held_of(score_outlooks(told, 0, 1000)).intervals == 0);  // a word without an interval
}

TEST_CASE("a way to the target begins with its stage, not with one that was left before its own target") {
    std::vector<CoreOutlook> told(4);
    double const at[] = {0, 600, 1200, 2030}, eta[] = {5000, 4000, 800, 0};
    for (std::size_t i = 0; i < told.size(); ++i) told[i].t = at[i], told[i].eta_s = eta[i];
    auto const ways = ways_to_target(told, {0, 1000});
    REQUIRE(ways.size() == 1);
    CHECK(ways[0].began_s == 1000);
    CHECK(ways[0].reached_s == 2000);
}
