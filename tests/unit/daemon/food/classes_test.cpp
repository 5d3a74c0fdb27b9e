// What each class asks of the core, and the limits that go for all, as the texts print them: FDA Food Code
// 3-401.11 (editions 2013, 2017), 3-401.13, 3-403.11, 3-501.16, 3-501.19; the FSIS safe temperature chart and
// FoodSafety.gov (April 2025); CDC MMWR May 2024 for bear. The first target is the one that decides.
#include <string_view>
#include <vector>

#include "daemon/food/classes.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

struct Asked {
    double fahrenheit, hold_s;
};
struct Printed {
    std::string_view food;
    std::vector<Asked> targets;
};

}  // namespace

TEST_CASE("each class asks what its sources print, the safer first") {
    std::vector<Asked> const poultry{{165, 15}, {165, 0}, {165, 0}},
        roast{{145, 180}, {145, 15}, {130, 6720}};
    std::vector<Printed> const printed{{"ground-poultry", poultry},
                                       {"whole-poultry", poultry},
                                       {"bear-boar", {{165, 15}, {165, 0}, {160, 0}}},
                                       {"venison", {{165, 15}, {160, 0}}},
                                       {"ground-meat", {{160, 0}, {155, 17}}},
                                       {"whole-meat", roast},
                                       {"cured-ham", {{145, 180}, {165, 0}, {140, 0}}},
                                       {"fish", {{145, 15}, {145, 0}}},
                                       {"egg-dish", {{160, 0}, {155, 17}}},
                                       {"vegetable", {}},
                                       {"leftover", {{165, 15}, {165, 0}}}};
    for (auto const& [name, targets] : printed) {
        CAPTURE(name);
        auto const* food = food_class(name);
        REQUIRE(food);
        REQUIRE(food->targets.size() == targets.size());
        for (std::size_t n = 0; n < targets.size(); ++n) {
            CAPTURE(n);
            CHECK(food->targets[n].fahrenheit == targets[n].fahrenheit);
            CHECK(food->targets[n].hold_s == targets[n].hold_s);
        }
    }
}

TEST_CASE("plants that are held hot are asked for 135 degF (Food Code 3-401.13)") {
    auto const& plants = *food_class("vegetable");
    REQUIRE(plants.hot_hold_targets.size() == 1);
    CHECK(plants.hot_hold_targets[0].fahrenheit == 135);
}

TEST_CASE("the limits that go for all perishable food are the printed ones") {
    CHECK(danger_zones().front().low_f == 40);
    CHECK(danger_zones().front().high_f == 140);
    CHECK(danger_zones().front().most_s == 2 * 3600);
    CHECK(danger_zones().front().most_hot_room_s == 3600);
    REQUIRE(danger_zones().size() == 2);
    CHECK(danger_zones()[1].low_f == 41);
    CHECK(danger_zones()[1].high_f == 135);
    CHECK(danger_zones()[1].most_s == 4 * 3600);
    REQUIRE(heating_limits().size() == 2);
    CHECK(heating_limits()[0].most_s == 4 * 3600);
    CHECK(heating_limits()[1].most_s == 6 * 3600);
    CHECK(hot_hold_limits().front().fahrenheit == 140);
    CHECK(cold_hold_limits().front().fahrenheit == 40);
}
