// One rule for bands everywhere, probes whose range contains them, and an owner for every fault.
#include "config/limits.hpp"

#include "daemon/conditioning/job.hpp"
#include "daemon/food/boiling.hpp"
#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr VesselKind every_kind[] = {VesselKind::pot,  VesselKind::bath,   VesselKind::smoker,
                                     VesselKind::oven, VesselKind::fridge, VesselKind::hot_box,
                                     VesselKind::room};
constexpr FaultKind every_fault[] = {
    FaultKind::open,         FaultKind::short_to_ground, FaultKind::short_to_supply, FaultKind::short_circuit,
    FaultKind::garbled,      FaultKind::no_reply,        FaultKind::absent,          FaultKind::refused,
    FaultKind::out_of_range, FaultKind::power_on_value,  FaultKind::not_powered,     FaultKind::stale,
    FaultKind::unspecified};

std::pair<double, double> usual_band(VesselKind kind) {
    switch (kind) {
        case VesselKind::pot:
            return {82, 88};
        case VesselKind::bath:
            return {56, 58};
        case VesselKind::smoker:
            return {95, 110};
        case VesselKind::oven:
            return {190, 210};
        case VesselKind::fridge:
            return {1, 6};
        case VesselKind::hot_box:
            return {60, 75};
        default:
            return {15, 25};
    }
}

std::string refusal(Settings const& settings, Band band) {
    Run run(settings);
    run.tell(Hold{0, band});
    auto const refused = run.events("refused");
    return refused.empty() ? "" : refused[0].second.text;
}

}  // namespace

TEST_CASE("hold has the limits of the kitchen file") {
    CHECK_THAT(refusal(one_vessel(VesselKind::fridge, {}), Band{{33}, {41}}),
               INGLE_CONTAINS("did you mean degF? \"33 degF\" to \"41 degF\""));
    CHECK_THAT(refusal(one_vessel(VesselKind::pot, {}), Band{{180}, {190}}),
               INGLE_CONTAINS("did you mean degF?"));
    CHECK(refusal(one_vessel(VesselKind::pot, {}), Band{{82}, {88}}).empty());
    auto narrow = one_vessel(VesselKind::smoker, {});
    narrow.probes[0].plausible = {{-10}, {130}};
    CHECK_THAT(refusal(narrow, Band{{150}, {170}}), INGLE_CONTAINS("plausible range"));
}

TEST_CASE("the plausible range of every job contains every band that its vessel can have") {
    for (auto const kind : every_kind)
        for (auto const liquid : {Liquid::water, Liquid::fat}) {
            auto settings = one_vessel(kind, {});
            settings.vessels[0].liquid = liquid;
            auto const limits = band_limits(settings.vessels[0], settings);
            auto const [low, high] = plausible_range(job_of(settings, 0));
            INFO(static_cast<int>(kind));
            CHECK(low < std::min(limits.least.celsius, 20.0) - 5);
            CHECK(high > std::max(limits.most.celsius, 20.0) + 20);
        }
}

TEST_CASE("a fryer that overheats is told") {
    auto settings = one_vessel(VesselKind::pot, std::pair{170.0, 185.0});
    settings.vessels[0].liquid = Liquid::fat;
    Run run(settings);
    run.probe("p", probe_of(Series{{0, 20}, {10, 178}, {30, 178}, {50, 320}}));
    run.until(50);
    auto const above = run.alarms("above-band");
    REQUIRE(above.size() == 1);
    CHECK(above[0].raised < 33);
    CHECK(above[0].worst == Priority::high);
}

TEST_CASE("the boiling point that limits use is the one of the food tables, to half a kelvin") {
    for (double const pascals : {50'000.0, 70'000.0, 84'500.0, 98'500.0, 101'325.0, 105'000.0}) {
        Settings settings;
        settings.pressure = Pressure{pascals};
        CHECK_THAT(rough_boiling_point(settings, {}),
                   WithinAbs(saturation_temperature({pascals})->celsius, 0.5));
        CHECK_THAT(rough_boiling_point(settings, Fraction{0.1}),
                   WithinAbs(boiling_point(Pressure{pascals}, Fraction{0.1})->celsius, 0.6));
    }
}

TEST_CASE("every fault of every probe has an alarm, whatever vessel it is in") {
    for (auto const kind : every_kind)
        for (auto const fault : every_fault)
            for (bool const from_start : {false, true}) {
                auto const [low, high] = usual_band(kind);
                Run run(one_vessel(kind, std::pair{low, high}));
                double const middle = 0.5 * (low + high), from = from_start ? -1 : 4;
                run.probe("p", [=](double second, Instant at) -> std::optional<Reading> {
                    if (second < 60 * from) return Reading::good(at, middle);
                    return Reading::faulty(at, fault, "a fault");
                });
                run.until(6);
                INFO(static_cast<int>(kind)
                     << " " << to_word(fault) << (from_start ? " from the start" : ""));
                CHECK(run.raised().size() >= 1);
                for (auto const& name : run.raised()) CHECK_THAT(name, INGLE_CONTAINS("probe-"));
            }
}

TEST_CASE("readings that say nothing for a quarter of an hour are told") {
    for (auto const kind : every_kind) {
        auto const [low, high] = usual_band(kind);
        Run run(one_vessel(kind, std::pair{low, high}));
        double const middle = 0.5 * (low + high);
        // A loose wire: from the fifth minute on it jumps with every reading and never stands.
        Dice dice(7);
        run.probe("p", [&dice, middle](double second, Instant at) -> std::optional<Reading> {
            return Reading::good(at, second < 300 ? middle : middle + 80 * (dice.uniform() - 0.5));
        });
        run.until(35);
        INFO(static_cast<int>(kind));
        CHECK(!run.raised().empty());
    }
}

TEST_CASE("moving an end of a band by a little ends no alarm and sends nothing on its way") {
    Run run(one_vessel(VesselKind::oven, {{150, 170}}));
    run.probe("p", probe_of(Series{{0, 160}, {10, 160}, {16, 190}, {60, 190}}));
    run.until(25);
    auto const stands = [](Kitchen const& kitchen) {
        auto const alarms = kitchen.view().alarms;
        return std::ranges::count_if(
            alarms, [](Alarm const& alarm) { return alarm.type->name == "above-band" && alarm.active; });
    };
    REQUIRE(stands(run.kitchen()) == 1);
    SECTION("by a person's word") {
        run.tell(Hold{0, Band{{150}, {172}}});
        run.until(40);
        CHECK(stands(run.kitchen()) == 1);
        CHECK(run.kitchen().view().vessels[0].phase == "above band");
        run.tell(Hold{0, Band{{185}, {200}}});  // it is where it should be
        run.until(45);
        CHECK(stands(run.kitchen()) == 0);
        run.tell(Hold{0, Band{{140}, {150}}});  // it has to come down first
        run.until(46);
        CHECK(stands(run.kitchen()) == 0);
        CHECK(run.kitchen().view().vessels[0].phase != "above band");
    }
    SECTION("in the kitchen file") {
        auto settings = run.settings();
        settings.vessels[0].band = Band{{150}, {172}};
        Kitchen next(settings, run.now());
        Effects effects;
        next.recall(run.kitchen().remember(), run.now(), effects);
        next.advance(run.now() + std::chrono::seconds(1), effects);
        CHECK(stands(next) == 1);
        CHECK(next.view().vessels[0].phase != "cooling down");
    }
}
