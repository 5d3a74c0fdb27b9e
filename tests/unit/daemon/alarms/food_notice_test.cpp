// A notice that judges food by a rule ends with the caution; others do not carry it.
#include "daemon/model/view.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr AlarmType cooling{.name = "cooling-late", .priority = Priority::high, .judges_food = true};

std::vector<Tell> told(std::vector<Judged> const& findings) {
    AlarmDesk desk(village_hall(), {&cooling, &above});
    Effects effects;
    for (double s = 0; s < 20; s += 1) desk.step(at(s), findings, effects);
    std::vector<Tell> found;
    for (auto const& effect : effects)
        if (auto const* tell = std::get_if<Tell>(&effect)) found.push_back(*tell);
    return found;
}

std::size_t cautions(Tell const& tell) {
    std::size_t count = 0;
    for (auto at = tell.text.find(food_safety_caution); at != std::string::npos;
         at = tell.text.find(food_safety_caution, at + 1))
        ++count;
    return count;
}

}  // namespace

TEST_CASE("the caution ends a notice about food, once for all of its alarms") {
    auto const one_alarm = told({judged(cooling, dish(0), true)});
    REQUIRE(one_alarm.size() == 1);
    CHECK(cautions(one_alarm[0]) == 1);
    CHECK(one_alarm[0].text.ends_with(food_safety_caution));
    auto const several =
        told({judged(cooling, dish(0), true), judged(cooling, dish(1), true), judged(above, pot, true)});
    REQUIRE(several.size() == 1);
    CHECK(cautions(several[0]) == 1);
    auto const no_food = told({judged(above, pot, true)});
    REQUIRE(no_food.size() == 1);
    CHECK(cautions(no_food[0]) == 0);
}
