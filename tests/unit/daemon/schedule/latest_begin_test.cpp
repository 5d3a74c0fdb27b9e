#include "daemon/schedule/latest_begin.hpp"

#include "daemon/schedule/jobs.hpp"
#include "daemon/schedule/planned.hpp"
#include "tests/unit/daemon/schedule/hall.hpp"

using namespace ingle;
using namespace ingle::schedule;
using namespace ingle::schedule::hall;

namespace {

std::optional<LatestBegin> asked(Case const& there, Seconds at) {
    return latest_begin({there.settings, TimeZone(), at}, 0);
}

}  // namespace

TEST_CASE(
    "a joint is begun the earlier the surer, and what could have been begun before now is late already") {
    Case const there(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    auto const early = asked(there, eight);
    REQUIRE(early);
    REQUIRE(early->likely);
    CHECK(early->nine_of_ten);
    CHECK(early->sure < *early->likely);
    CHECK(early->sure > eight);
    auto const in_between = asked(there, early->sure + 600);
    REQUIRE(in_between);
    CHECK(in_between->nine_of_ten);
    CHECK(in_between->sure <= early->sure);
}

TEST_CASE("where the cook's hours leave no begin that is sure, none is said to be past") {
    Case const whole(kitchen + dish("joint", "roast", joint), {{"roast", roast}});
    auto const likely = *asked(whole, eight)->likely;
    auto const minute =
        (likely - moment("2026-11-26T00:00:00Z")) / 60 - 10;  // the cook comes so shortly before
    auto const from = "awake = [\"" + std::to_string(minute / 60) + ":" + (minute % 60 < 10 ? "0" : "") +
                      std::to_string(minute % 60) + "\", \"22:00\"]\n";
    std::string file = kitchen;
    file.insert(file.find("[[probe]]"), "zone = \"UTC\"\n" + from);
    Case const there(file + dish("joint", "roast", joint), {{"roast", roast}});
    auto const begin = asked(there, eight);
    REQUIRE(begin);
    REQUIRE(begin->likely);
    CHECK(*begin->likely == likely);
    CHECK_FALSE(begin->nine_of_ten);
    CHECK(begin->sure > eight + 600);
}

TEST_CASE("a dish whose last moment passed by less than is worth telling is not late") {
    Case const there(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    auto const last = *asked(there, eight)->likely;
    auto const just_past = asked(there, last + 100), past = asked(there, last + 400);
    REQUIRE(just_past);
    CHECK(just_past->likely);
    CHECK(just_past->ready < five + worth_telling);
    REQUIRE(past);
    CHECK_FALSE(past->likely);
    CHECK(past->ready == last + 400 + (five - last));
}

TEST_CASE("where the search runs out of effort, a begin is judged by itself, and never left out") {
    Case const there(kitchen + dish("tart", "bake", at_five) + dish("other", "bake", at_five),
                     {{"bake", bake}});
    auto const last = *asked(there, eight)->likely;
    for (std::size_t const effort : {0UL, 1UL, 2UL}) {
        auto const in_time = latest_begin({there.settings, TimeZone(), eight}, 0, effort);
        CAPTURE(effort);
        REQUIRE(in_time);
        CHECK_FALSE(in_time->in_full);
        REQUIRE(in_time->likely);
        CHECK(*in_time->likely >= last);  // by itself it may begin no sooner than beside the others
        auto const late = latest_begin({there.settings, TimeZone(), five - 1200}, 0, effort);
        REQUIRE(late);
        CHECK_FALSE(late->likely);
        CHECK(late->ready >= five + 1500);
    }
    CHECK(asked(there, eight)->in_full);
}

TEST_CASE("no dish is impossible because other searches took all the effort") {
    Case const there(kitchen + dish("tart", "bake", at_five), {{"bake", bake}});
    Effort none{0};
    Wanted wanted{there.settings, TimeZone(), eight};
    wanted.effort = &none;
    auto job = job_of(wanted, 0);
    REQUIRE(job);
    find_impossible(wanted, *job);
    CHECK(job->impossible.empty());
}
