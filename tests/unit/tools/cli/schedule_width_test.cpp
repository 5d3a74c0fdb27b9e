// The schedule as text fits the terminal that it is printed on.
#include <algorithm>
#include <sstream>

#include "config/load.hpp"
#include "config/wall_time.hpp"
#include "daemon/schedule/clock_text.hpp"
#include "tests/support/catch.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/schedule/schedule_text.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

constexpr char kitchen[] = R"(
[kitchen]
name = "hall"
units = "degC"
[[vessel]]
name = "oven"
kind = "oven"
[[vessel]]
name = "fridge"
kind = "fridge"
band = ["1 degC", "5 degC"]
[[dish]]
name = "quince-tart"
vessel = "oven"
plan = "bake"
serve-at = "2026-11-26T17:00:00Z"
[[dish]]
name = "cheese-tart"
vessel = "oven"
plan = "bake"
serve-at = "2026-11-26T17:00:00Z"
)";
constexpr char bake[] = R"(
name = "bake"
[[stage]]
name = "bake"
until = { time = "45 min" }
hands = "10 min"
[[stage]]
name = "cool-on-a-rack"
does = "rest"
vessel = "none"
until = { time = "1 h" }
)";

}  // namespace

TEST_CASE("no line of the schedule is wider than the terminal, and a degC kitchen reads degC") {
    std::vector<ConfigError> errors;
    auto const plan = read_plan(bake, "bake.toml", errors);
    auto const loaded = parse_kitchen(kitchen, "k.toml", {plan});
    REQUIRE(errors.empty());
    REQUIRE(loaded.errors.empty());
    auto const at = std::get<WallMoment>(parse_wall_time("2026-11-26T08:00:00Z")).ms / 1000;
    TimeZone const zone;
    auto const made = schedule::make_schedule({loaded.settings, zone, at, {}, {}});
    for (std::size_t const width : {40u, 60u, 80u, 120u}) {
        auto const text = schedule_text({made, loaded.settings, zone, width});
        INFO(text);
        std::istringstream lines(text);
        for (std::string line; std::getline(lines, line);) {
            INFO(line);
            CHECK(width_of(line) <= width);
        }
        CHECK_THAT(text, INGLE_CONTAINS("quince-tart"));
        CHECK_THAT(text, INGLE_CONTAINS("cook quince-tart earlier"));
        auto const one_line = [&] {
            std::string out = text;
            std::ranges::replace(out, '\n', ' ');
            return out;
        }();
        auto const& tart = made.dishes.at(0);
        REQUIRE(tart.ready_early);
        REQUIRE(tart.ready_late.value() > *tart.ready_early);
        auto const said = [&](schedule::Seconds t) { return schedule::clock_text(zone, t, at); };
        CHECK_THAT(one_line, INGLE_CONTAINS("Ready between " + said(*tart.ready_early) + " and " +
                                            said(*tart.ready_late) + "; later 1 time in 10."));
        CHECK(text.find("degF") == std::string::npos);
    }
}
