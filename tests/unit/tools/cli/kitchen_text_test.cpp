// A dish added to the text of a kitchen file, changed and dropped; a first
// kitchen file.
#include "tools/cli/program/kitchen_text.hpp"

#include "config/load.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::cli;

namespace {

std::string const hall = R"([kitchen]
name = "hall"
units = "degF"
altitude = "0 m"

[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"

[[probe]]
name = "tip"
driver = "simulated"
of = "goose-core"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"

# the roll
[[dish]]
name = "goose-roll"   # ours
vessel = "stockpot"
food = "ground-poultry"

# the tart
[[dish]]
name = "tart"
vessel = "stockpot"
)";

std::vector<std::string> dishes(std::string const& text) {
    auto const loaded = parse_kitchen(text, "kitchen.toml");
    for (auto const& error : loaded.errors) UNSCOPED_INFO(error.text());
    CHECK(loaded.errors.empty());
    std::vector<std::string> found;
    for (auto const& dish : loaded.settings.dishes)
        found.push_back(dish.name + " " + std::to_string(dish.core) + " " + dish.food);
    return found;
}

using Dishes = std::vector<std::string>;

}  // namespace

TEST_CASE(
    "a dish is added, changed and dropped, and nothing else of the file "
    "is touched") {
    auto const added = with_dish(hall, "trout", {{"vessel", "\"stockpot\""}, {"food", "\"fish\""}});
    CHECK(added == hall +
                       "\n[[dish]]\nname = \"trout\"\nvessel = "
                       "\"stockpot\"\nfood = \"fish\"\n");
    CHECK(dishes(added) == Dishes{"goose-roll -1 ground-poultry", "tart -1 ", "trout -1 fish"});
    auto const changed = with_dish(added, "goose-roll", {{"core", "\"tip\""}, {"food", "\"stock\""}});
    CHECK(dishes(changed) == Dishes{"goose-roll 1 stock", "tart -1 ", "trout -1 fish"});
    CHECK(changed.find("name = \"goose-roll\"   # ours\nvessel = "
                       "\"stockpot\"\nfood = \"stock\"\ncore = "
                       "\"tip\"\n\n# the tart") != std::string::npos);
    CHECK(dishes(with_dish(changed, "goose-roll", {{"core", ""}}))[0] == "goose-roll -1 stock");
    CHECK(without_dish(added, "trout") == hall + "\n");
    CHECK(dishes(without_dish(added, "goose-roll")) == Dishes{"tart -1 ", "trout -1 fish"});
    CHECK(without_dish(hall, "goose") == hall);
    CHECK(has_dish(hall, "tart"));
    CHECK_FALSE(has_dish(hall, "tar"));
}

TEST_CASE("what is said cannot break out of its string") {
    auto const added = with_dish(hall, "trout", {{"food", toml_string("fish\"\\")}});
    CHECK(added.ends_with("food = \"fish\\\"\\\\\"\n"));
}

TEST_CASE("a first kitchen file has no mistakes") {
    NewKitchen kitchen{"village hall", "degC", "240 m", "", {}, {"[[probe]]", "name = \"...\""}};
    kitchen.vessels.push_back(
        {"stockpot", "pot", {"stockpot-probe", {"driver = \"simulated\"", "of = \"stockpot\""}}});
    kitchen.vessels.push_back(
        {"fridge", "fridge", {"fridge-probe", {"driver = \"simulated\"", "of = \"fridge\""}}});
    for (auto const* phone : {"", "http://127.0.0.1:8093/notice"}) {
        kitchen.phone = phone;
        auto const loaded = parse_kitchen(first_kitchen(kitchen), "kitchen.toml");
        for (auto const& error : loaded.errors) UNSCOPED_INFO(error.text());
        CHECK(loaded.errors.empty());
        CHECK(loaded.settings.vessels.size() == 2);
        CHECK(loaded.settings.probes.size() == 2);
        CHECK(loaded.settings.units == TemperatureUnit::celsius);
        CHECK(loaded.settings.channels.size() == (*phone ? 1U : 0U));
    }
}
