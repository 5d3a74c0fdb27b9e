// What no vessel can do by itself is not believed of it: a probe that was put into something else, two probes
// that were exchanged. It is asked, and not for ever.
#include <algorithm>
#include <cmath>
#include <memory>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

// A tip with a time constant in what `medium` says, shown in steps.
Source tip(std::function<double(double)> medium, double lag_s, double step, std::uint64_t seed) {
    auto celsius = std::make_shared<std::optional<double>>();
    auto dice = std::make_shared<Dice>(seed);
    return [=](double s, Instant at) -> std::optional<Reading> {
        double const there = medium(s / 60);
        *celsius = celsius->value_or(there) + (there - celsius->value_or(there)) / lag_s;
        return Reading::good(at, std::round((**celsius + 0.03 * dice->normal()) / step) * step);
    };
}

int raised_at(Run const& run, Priority least) {
    return static_cast<int>(std::ranges::count_if(run.effects(), [&](Effect const& effect) {
        auto const* change = std::get_if<AlarmChanged>(&effect);
        bool const told = change && (change->transition == Transition::raised ||
                                     change->transition == Transition::worsened);
        if (told && change->alarm.priority >= least) UNSCOPED_INFO(change->alarm.text);
        return told && change->alarm.priority >= least;
    }));
}

Settings oven_and_smoker() {
    Settings settings = one_vessel(VesselKind::oven, {{150, 170}});
    add_vessel(settings, "w", VesselKind::smoker, add_probe(settings, "q"), {{100, 120}});
    return settings;
}

}  // namespace

TEST_CASE("a probe that is put from its pot into boiling water asks what it is in, once, and nothing else") {
    // A slower probe cannot be told from a pot on a strong burner, and that is believed.
    double const lag_s = GENERATE(2, 5, 10), step = GENERATE(0.1, 0.5, 1.0);
    bool const restarted = GENERATE(false, true);
    CAPTURE(lag_s, step, restarted);
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", tip([](double m) { return m < 15 || m >= 19 ? 85.0 : 99.6; }, lag_s, step, 3));
    run.until(17);
    if (restarted) run.restart(std::chrono::seconds(2));
    run.until(18.9);
    auto const asked = run.alarms("probe-displaced");
    REQUIRE(asked.size() == 1);
    CHECK(asked[0].text.find("is the probe in something else") != std::string::npos);
    CHECK(asked[0].text.find("from 85.0") != std::string::npos);
    run.until(40);
    CHECK(run.alarms("probe-displaced").size() == 1);
    CHECK(run.alarms("probe-displaced")[0].cleared);
    CHECK(raised_at(run, Priority::high) == 1);  // it may be the pot: boiling stock was poured in
    for (auto const* name : {"above-band", "boil-over-risk", "boiling", "boiled-dry"})
        CHECK(run.alarms(name).empty());
}

TEST_CASE("what stays above its band is believed of the pot in the end") {
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p", tip([](double m) { return m < 15 ? 85.0 : 96.0; }, 5, 0.1, 4));
    run.until(15.6);
    REQUIRE(run.alarms("probe-displaced").size() == 1);
    CHECK(run.alarms("probe-displaced")[0].worst == Priority::high);  // at once: it may be the pot
    run.until(32);
    auto const view = run.kitchen().view();
    CHECK(std::ranges::any_of(view.alarms, [](Alarm const& alarm) {
        return alarm.type->name == "above-band" && alarm.state == AlarmState::unacknowledged &&
               alarm.priority == Priority::high;
    }));
    CHECK(run.alarms("probe-displaced")[0].cleared);
}

TEST_CASE("a pot that is heated as fast as it can be is no moved probe") {
    double const pace = GENERATE(11, 20);  // K/min; 20: a litre on a net 1.4 kW
    CAPTURE(pace);
    Run run(one_vessel(VesselKind::pot, {{80, 90}}));
    run.probe("p",
              tip([=](double m) { return std::min(99.6, m < 15 ? 85.0 : 85 + pace * (m - 15)); }, 2, 0.1, 5));
    run.until(25);
    CHECK(run.alarms("probe-displaced").empty());
    CHECK(raised_at(run, Priority::high) >= 1);
}

TEST_CASE("two vessels that change their levels in one moment have their probes exchanged, perhaps") {
    // A slower probe cannot be told from a pot on a strong burner, and that is believed.
    double const lag_s = GENERATE(2, 5, 10), step = GENERATE(0.1, 0.5, 1.0);
    CAPTURE(lag_s, step);
    auto const exchanged = [](double m) { return m >= 20 && m < 30; };
    Run run(oven_and_smoker());
    run.probe("p", tip([=](double m) { return exchanged(m) ? 110.0 : 160.0; }, lag_s, step, 6));
    run.probe("q", tip([=](double m) { return exchanged(m) ? 160.0 : 110.0; }, lag_s, step, 7));
    run.until(30);
    for (auto const* probe : {"p", "q"}) {
        auto const asked = run.alarms("probe-displaced", probe);
        REQUIRE(asked.size() == 1);
        CHECK(asked[0].text.find("the two may be exchanged") != std::string::npos);
        CHECK(asked[0].raised < 21.5);
    }
    run.until(60);
    CHECK(run.alarms("probe-displaced", "p").size() == 1);
    CHECK(run.alarms("probe-displaced", "p")[0].cleared);
    CHECK(run.alarms("probe-displaced", "q")[0].cleared);
    CHECK(raised_at(run, Priority::high) == 0);
    CHECK(raised_at(run, Priority::medium) == 2);
}

TEST_CASE("one vessel that goes where another one was is not exchanged with it") {
    Run run(oven_and_smoker());
    run.probe("p", tip([](double) { return 160.0; }, 10, 0.1, 6));
    run.probe("q", tip([](double m) { return m < 20 ? 110.0 : 160.0; }, 10, 0.1, 7));
    run.until(25);
    CHECK(run.alarms("probe-displaced").empty());
    CHECK(run.alarms("above-band", "w").size() == 1);
}

TEST_CASE("a fridge that leaps far down from one reading to the next has its probe doubted at once") {
    Run run(one_vessel(VesselKind::fridge, {{1, 5}}));
    run.probe("p", tip([](double m) { return m < 20 ? 3.0 : -45.0; }, 1, 0.1, 8));
    run.until(21);
    auto const asked = run.alarms("probe-displaced");
    REQUIRE(asked.size() == 1);
    CHECK(asked[0].text.find("no fridge does") != std::string::npos);
    run.until(30);
    CHECK(raised_at(run, Priority::high) == 0);
}

TEST_CASE("one probe that is dipped as another one is lifted out are not exchanged") {
    Settings settings = one_vessel(VesselKind::pot, {{80, 90}});
    add_vessel(settings, "w", VesselKind::pot, add_probe(settings, "q"), {{80, 90}});
    Run run(settings);
    run.probe("p", tip([](double m) { return m < 15 ? 22.0 : 85.0; }, 5, 0.1, 6));
    run.probe("q", tip([](double m) { return m < 15 ? 85.0 : 22.0; }, 5, 0.1, 7));
    run.until(20);
    CHECK(run.alarms("probe-displaced", "p").empty());
    REQUIRE(run.alarms("probe-displaced", "q").size() == 1);
    CHECK(run.alarms("probe-displaced", "q")[0].text.find("out of it") != std::string::npos);
}
