// A hall's kitchen, its plans and what is scheduled of them.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "config/load.hpp"
#include "config/wall_time.hpp"
#include "daemon/schedule/schedule.hpp"
#include "tests/support/catch.hpp"

namespace ingle::schedule::hall {

inline std::string const kitchen = R"(
[kitchen]
name = "hall"
[[probe]]
name = "core"
driver = "simulated"
[[vessel]]
name = "oven"
kind = "oven"
[[vessel]]
name = "smoker"
kind = "smoker"
[[vessel]]
name = "fridge"
kind = "fridge"
band = ["33 degF", "41 degF"]
room-for = 3
)";

inline std::string dish(std::string const& name, std::string const& plan, std::string const& more = "") {
    return "[[dish]]\nname = \"" + name + "\"\nvessel = \"oven\"\nplan = \"" + plan + "\"\n" + more + "\n";
}

inline std::string const at_five = "serve-at = \"2026-11-26T17:00:00Z\"\n";
inline std::string const joint =
    "core = \"core\"\nshape = \"cylinder\"\nthickness = \"9 cm\"\nfood = \"whole-meat\"\n" + at_five;
inline std::string const roast =
    "[[stage]]\nname = \"roast\"\nband = [\"300 degF\", \"320 degF\"]\nuntil = { core = \"145 degF\" }\n";
inline std::string const kept =
    "[[stage]]\nname = \"keep\"\ndoes = \"hot-hold\"\nvessel = \"none\"\nat-most = \"3 h\"\n";
inline std::string const bake =
    "[[stage]]\nname = \"bake\"\nuntil = { time = \"45 min\" }\nhands = \"10 min\"\n";

inline Seconds moment(std::string const& text) {
    return std::get<WallMoment>(parse_wall_time(text)).ms / 1000;
}

inline Seconds const eight = moment("2026-11-26T08:00:00Z"), five = moment("2026-11-26T17:00:00Z");

struct Case {
    Case(std::string const& text, std::vector<std::pair<std::string, std::string>> const& plans) {
        std::vector<PlanSettings> read;
        std::vector<ConfigError> errors;
        for (auto const& [name, stages] : plans)
            read.push_back(read_plan("name = \"" + name + "\"\n" + stages, name + ".toml", errors));
        auto loaded = parse_kitchen(text, "k.toml", std::move(read));
        for (auto const& error : loaded.errors) errors.push_back(error);
        for (auto const& error : errors) UNSCOPED_INFO(error.text());
        REQUIRE(errors.empty());
        settings = std::move(loaded.settings);
    }
    Schedule made(Seconds at = eight, std::vector<Running> running = {}, std::vector<Past> past = {}) const {
        return make_schedule({settings, TimeZone(), at, std::move(running), std::move(past)});
    }
    Settings settings;
};

}  // namespace ingle::schedule::hall
