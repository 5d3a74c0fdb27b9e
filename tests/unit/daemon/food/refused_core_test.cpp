// A core probe that reads but does not count is told, and what is around the food is judged in its place.
#include <cmath>

#include "daemon/model/memory.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/food/ledger_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

FoodLedger begun(std::string food, FoodPhase phase) {
    FoodLedger ledger(dish(std::move(food)), zero);
    ledger.stage(zero, phase);
    return ledger;
}

void read(FoodLedger& ledger, double from, double to, double core_c, double medium_c) {
    for (double t = from; t <= to; t += 10) {
        ledger.medium(at(t), medium_c, Quality::good);
        ledger.take(at(t), 0, core_c, Quality::good);
        ledger.advance(at(t));
    }
}

}  // namespace

TEST_CASE("a tip that lies in the liquid around the food is told after ten minutes") {
    for (auto const phase : {FoodPhase::cooking, FoodPhase::reheating, FoodPhase::hot_holding}) {
        auto ledger = begun("ground-poultry", phase);
        read(ledger, 0, 590, 85, 85);
        CHECK(concern(ledger, "core-unread").truth == Holds::unknown);
        read(ledger, 600, 660, 85, 85);
        auto const told = concern(ledger, "core-unread");
        CHECK(told.truth == Holds::yes);
        CHECK(told.priority == Priority::medium);
        CHECK_THAT(told.text,
                   INGLE_CONTAINS("as warm as what is around the food") && INGLE_CONTAINS("not known"));
        CHECK_THAT(told.order, INGLE_CONTAINS("thickest part"));
        // Put into the food, and at rest there, it counts.
        read(ledger, 670, 1000, 12, 85);
        CHECK(concern(ledger, "core-unread").truth == Holds::no);
    }
}

TEST_CASE("where nothing is heated or cooled, and of food that keeps, nobody waits for a core") {
    for (auto const phase :
         {FoodPhase::waiting, FoodPhase::brining, FoodPhase::cold_holding, FoodPhase::thawing}) {
        auto ledger = begun("ground-poultry", phase);
        read(ledger, 0, 3600, 4, 4);
        CHECK(concern(ledger, "core-unread").truth == Holds::no);
    }
}

TEST_CASE("food that stands about with a tip that does not count is told of, where the tip is not cold") {
    for (auto const phase :
         {FoodPhase::waiting, FoodPhase::resting, FoodPhase::cold_holding, FoodPhase::thawing}) {
        auto ledger = begun("ground-poultry", phase);
        read(ledger, 0, 3600, 20, 20);
        CHECK(concern(ledger, "core-unread").truth == Holds::yes);
    }
    auto keeps = begun("shelf-stable", FoodPhase::resting);
    read(keeps, 0, 3600, 20, 20);
    CHECK(concern(keeps, "core-unread").truth == Holds::no);
}

TEST_CASE("a tip that moves as air does is told, with why") {
    auto ledger = begun("whole-poultry", FoodPhase::cooking);
    for (double t = 0; t <= 3600; t += 10) {
        ledger.take(at(t), 0, 120 - 100 * std::exp(-t / 1200), Quality::good);
        ledger.advance(at(t));
    }
    CHECK(concern(ledger, "core-unread").truth == Holds::yes);
    CHECK_THAT(concern(ledger, "core-unread").text,
               INGLE_CONTAINS("air or a surface") || INGLE_CONTAINS("boiling water"));
}

TEST_CASE("a probe that is silent is the probe's alarm: the dish's stays as it was known") {
    auto ledger = begun("ground-poultry", FoodPhase::cooking);
    read(ledger, 0, 900, 85, 85);
    REQUIRE(concern(ledger, "core-unread").truth == Holds::yes);
    ledger.advance(at(1500));
    CHECK(concern(ledger, "core-unread").truth == Holds::unknown);
    auto never = begun("ground-poultry", FoodPhase::cooking);
    never.advance(at(1500));
    CHECK(concern(never, "core-unread").truth == Holds::no);
}

TEST_CASE("what was not read does not count for how long it has not counted, and ends nothing") {
    auto ledger = begun("ground-poultry", FoodPhase::cooking);
    read(ledger, 0, 300, 85, 85);
    SECTION("a hole of a known length") {
        read(ledger, 10000, 10200, 85, 85);
    }
    SECTION("a hole of a length that nobody knows, which the clock shows as hours") {
        Memory memory;
        ledger.remember(memory, "");
        auto again = begun("ground-poultry", FoodPhase::cooking);
        again.recall(memory, "");
        again.gap_of_unknown_length(at(10000));
        ledger = std::move(again);
        read(ledger, 10000, 10200, 85, 85);
    }
    CHECK(concern(ledger, "core-unread").truth == Holds::unknown);
    read(ledger, 10210, 10400, 85, 85);
    REQUIRE(concern(ledger, "core-unread").truth == Holds::yes);
    CHECK_THAT(concern(ledger, "core-unread").text, INGLE_CONTAINS("has not counted for 1"));
    CHECK_THAT(concern(ledger, "core-unread").text, INGLE_CONTAINS(" min: "));
    read(ledger, 20000, 20010, 85, 85);
    CHECK(concern(ledger, "core-unread").truth == Holds::yes);
}

TEST_CASE(
    "that a core does not count is not over while it does not, whatever is done next or why it does not") {
    auto ledger = begun("ground-poultry", FoodPhase::cooking);
    read(ledger, 0, 660, 85, 85);
    REQUIRE(concern(ledger, "core-unread").truth == Holds::yes);
    SECTION("the next stage") {
        ledger.stage(at(665), FoodPhase::reheating);
    }
    SECTION("it leaves what it was as warm as, and moves") {
        for (double t = 670; t <= 900; t += 10) {
            ledger.medium(at(t), 85, Quality::good);
            ledger.take(at(t), 0, 85 - 0.25 * (t - 660), Quality::good);
            ledger.advance(at(t));
            CHECK(concern(ledger, "core-unread").truth != Holds::no);
        }
    }
    CHECK(concern(ledger, "core-unread").truth == Holds::unknown);
    read(ledger, 910, 1300, 12, 85);
    CHECK(concern(ledger, "core-unread").truth == Holds::no);
}

TEST_CASE("how long it has not counted survives a restart") {
    auto ledger = begun("ground-poultry", FoodPhase::cooking);
    read(ledger, 0, 500, 85, 85);
    Memory memory;
    ledger.remember(memory, "x.");
    auto again = begun("ground-poultry", FoodPhase::cooking);
    again.recall(memory, "x.");
    read(again, 510, 700, 85, 85);
    CHECK(concern(again, "core-unread").truth == Holds::yes);
}

TEST_CASE("hot food whose core has not counted for half an hour is judged by what is around it") {
    auto ledger = begun("venison", FoodPhase::hot_holding);
    read(ledger, 0, 300, 70, 62);
    CHECK(concern(ledger, "hot-hold").truth == Holds::no);
    for (double t = 310; t <= 3 * 3600; t += 10) {
        ledger.medium(at(t), 46, Quality::good);
        ledger.advance(at(t));
    }
    auto const told = concern(ledger, "hot-hold");
    CHECK(told.truth == Holds::yes);
    CHECK(told.priority == Priority::high);
    CHECK_THAT(told.text, INGLE_CONTAINS("Around the food 46.0 degC") && INGLE_CONTAINS("not measured"));
}

TEST_CASE("a reading is not certain while the next one is still held back") {
    for (bool const held : {true, false}) {
        auto ledger = begun("stock", FoodPhase::resting);
        bool counted = false;
        ledger.on_judged([&](int, JudgedReading const& reading) {
            if (reading.t == 840) counted = reading.doubt == CoreDoubt::none;
        });
        for (double t = 0; t <= 840; t += 15) ledger.take(at(t), 0, 60 - t / 40, Quality::good);
        ledger.advance(at(870), held ? at(855) : at(870));
        ledger.take(at(855), 0, 6, Quality::good);
        ledger.take(at(870), 0, 15, Quality::good);
        ledger.advance(at(960));
        CHECK(counted == !held);
    }
}

TEST_CASE("cold air does not end what a core that is not read any more has raised") {
    FoodLedger ledger(thin_dish("ground-poultry"), zero);
    ledger.stage(zero, FoodPhase::cold_holding);
    read(ledger, 0, 600, 3, 3);
    for (double t = 610; t <= 3 * 3600; t += 10) {
        ledger.medium(at(t), 3, Quality::good);
        ledger.take(at(t), 0, std::min(15.0, 3 + (t - 600) / 200) + 0.05 * std::sin(t), Quality::good);
        ledger.advance(at(t));
    }
    REQUIRE(concern(ledger, "cold-hold").truth == Holds::yes);
    for (double t = 3 * 3600 + 10; t <= 5 * 3600; t += 10) {
        ledger.medium(at(t), 3, Quality::good);
        ledger.advance(at(t));
    }
    CHECK(concern(ledger, "cold-hold").truth != Holds::no);
}

TEST_CASE("a stock in its pot is what is around the tip; in a bath or a fridge it is not") {
    for (auto const where : {VesselKind::pot, VesselKind::bath, VesselKind::fridge}) {
        auto ledger = begun("stock", FoodPhase::cooking);
        ledger.put_in(where);
        read(ledger, 0, 1200, 90, 90);
        INFO(static_cast<int>(where));
        bool const counts = where == VesselKind::pot;
        CHECK(ledger.present(0).has_value() == counts);
        CHECK(concern(ledger, "core-unread").truth == (counts ? Holds::no : Holds::yes));
        Memory memory;
        ledger.remember(memory, "d.");
        FoodLedger later(dish("stock"), zero);
        later.recall(memory, "d.");
        read(later, 1210, 2400, 90, 90);
        CHECK(later.present(0).has_value() == counts);
    }
    auto solid = begun("ground-meat", FoodPhase::cooking);
    solid.put_in(VesselKind::pot);
    read(solid, 0, 1200, 90, 90);
    CHECK_FALSE(solid.present(0));
}
