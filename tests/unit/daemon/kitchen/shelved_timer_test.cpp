// A timer's or a reminder's alarm that was shelved and then acknowledged is shelved no more: the next one is
// told.
#include <algorithm>
#include <set>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("after a shelved timer was acknowledged, the next timer is told") {
    auto settings = one_vessel(VesselKind::pot, {});
    settings.channels.push_back({.name = "phone", .kind = "webhook"});
    Run run(settings);
    run.probe("p", probe_of({{0, 20}, {600, 20}}));
    run.tell(StartTimer{Span(60'000), "turn the tart"});
    run.until(2);
    auto const alarms = run.kitchen().view().alarms;
    auto const first =
        std::ranges::find_if(alarms, [](Alarm const& alarm) { return alarm.type->name == "timer-over"; });
    REQUIRE(first != alarms.end());
    run.tell(Shelve{first->id, Span(8 * 3'600'000), "cook"});
    run.until(3);
    run.tell(Acknowledge{first->id, "cook"});
    run.until(4);
    for (auto const& alarm : run.kitchen().view().alarms) CHECK(alarm.state != AlarmState::shelved);
    run.tell(StartTimer{Span(60'000), "stir the soup"});
    run.until(10);
    std::set<std::string> told;
    for (auto const& effect : run.effects())
        if (auto const* tell = std::get_if<Tell>(&effect)) told.insert(tell->text);
    CHECK(std::ranges::any_of(
        told, [](std::string const& text) { return text.find("stir the soup") != std::string::npos; }));
}
