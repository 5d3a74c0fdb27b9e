// What was known before a start or a reload, where the kitchen file says otherwise since.
#include <algorithm>
#include <map>
#include <string>

#include "tests/support/catch.hpp"
#include "tests/support/kitchen_run.hpp"

using namespace ingle;
using namespace ingle::test;

TEST_CASE("a measured air pressure counts until the kitchen file says otherwise") {
    auto settings = one_vessel(VesselKind::oven, {{150, 170}});
    settings.altitude = Length{0};
    Run run(settings);
    run.tell(PressureNow{{80'000}});
    run.until(5);
    auto const memory = run.kitchen().remember();
    auto const lives_on = [&](Settings const& file) {
        Kitchen next(file, run.now());
        Effects effects;
        next.recall(memory, run.now(), effects);
        bool const told = std::ranges::any_of(effects, [](auto const& effect) {
            auto const* event = std::get_if<Event>(&effect);
            return event && event->name == "note" && event->text.find("air pressure") != std::string::npos;
        });
        bool const counts = next.remember().text("kitchen.pressure").has_value();
        CHECK(told != counts);
        return counts;
    };
    CHECK(lives_on(settings));
    settings.vessels[0].band = Band{{150}, {180}};
    CHECK(lives_on(settings));
    settings.altitude = Length{1800};
    CHECK_FALSE(lives_on(settings));
    settings.altitude.reset();
    CHECK_FALSE(lives_on(settings));
    settings.altitude = Length{0};
    settings.pressure = Pressure{95'000};
    CHECK_FALSE(lives_on(settings));
}

TEST_CASE("an alarm about a dish that did not cook goes with the dish") {
    Memory memory;
    auto const put = [&](int id, char const* type, char const* dish, char const* priority) {
        auto const key = "alarm.at." + std::to_string(id) + ".";
        memory.put(key + "type", std::string(type));
        memory.put(key + "kind", std::string("dish"));
        memory.put(key + "name", std::string(dish));
        memory.put(key + "priority", std::string(priority));
        memory.put(key + "active", std::int64_t{1});
        memory.put(key + "since", Instant(std::chrono::seconds(1)));
        memory.put("dish." + std::string(dish) + ".cook.begun", std::int64_t{dish == std::string("stew")});
    };
    put(1, "late-for-serving", "roast", "medium");
    put(2, "late-for-serving", "stew", "medium");
    put(3, "core-withdrawn", "ham", "high");
    Kitchen next(one_vessel(VesselKind::oven, {{150, 170}}), Instant(std::chrono::seconds(10)));
    Effects effects;
    next.recall(memory, Instant(std::chrono::seconds(5)), effects);
    std::map<std::string, bool> stood;
    for (auto const& effect : effects)
        if (auto const* event = std::get_if<Event>(&effect); event && event->name == "alarm-dropped")
            stood[event->text.substr(0, event->text.find(" was"))] = event->numbers.front().second != 0;
    CHECK(stood == std::map<std::string, bool>{{"late-for-serving of roast", false},
                                               {"late-for-serving of stew", true},
                                               {"core-withdrawn of ham", true}});
}
