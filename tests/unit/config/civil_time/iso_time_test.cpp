#include "config/civil_time/iso_time.hpp"

#include <chrono>
#include <string>
#include <utility>

#include "tests/support/catch.hpp"

using namespace ingle;
using namespace std::chrono;

TEST_CASE("the examples of RFC 3339, section 5.8") {
    // The instants in UTC are those that the RFC states, or the offset taken away by hand.
    for (auto const& [text, utc] :
         {std::pair{"1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"},
          {"1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"},  // "equivalent to 1996-12-20T00:39:57Z"
          {"1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"},
          {"1985-04-12t23:20:50z", "1985-04-12T23:20:50Z"}}) {  // section 5.6: also in lower case
        INFO(text);
        REQUIRE(parse_iso_time(text));
        CHECK(iso_time(*parse_iso_time(text)) == utc);
    }
    // Its two leap seconds: no clock of ours shows one.
    CHECK_FALSE(parse_iso_time("1990-12-31T23:59:60Z"));
    CHECK_FALSE(parse_iso_time("1990-12-31T15:59:60-08:00"));
}

TEST_CASE("wall time as text") {
    auto const at = parse_iso_time("2026-11-26T17:00:00-05:00");
    REQUIRE(at);
    CHECK(iso_time(*at) == "2026-11-26T22:00:00Z");
    CHECK(iso_time(*at, 0min, "+00:00") == "2026-11-26T22:00:00+00:00");
    CHECK(iso_time(*at, -300min) == "2026-11-26T17:00:00-05:00");
    CHECK(iso_time(*at + 7ms, 345min) == "2026-11-27T03:45:00.007+05:45");
    CHECK(iso_time(*parse_iso_time("1969-12-31 23:59Z")) == "1969-12-31T23:59:00Z");
    // date -ud @1792889999 prints 2026-10-25 00:59:59.
    CHECK(parse_iso_time("2026-10-25T00:59:59Z")->time_since_epoch() == 1792889999s);
    for (auto const* same :
         {"2026-11-26T17:00-0500", "2026-11-26 17:00:00,000-05", "2026-11-26T22:00:00.0000009Z"})
        CHECK(parse_iso_time(same) == at);
}

TEST_CASE("what is no instant is refused with its reason") {
    for (auto const& [text, wrong] : {std::pair{"2026-11-26T17:00:00", "has no offset from UTC, so it could"},
                                      {"2026-11-26T17:00:00 UTC", "has no offset from UTC"},
                                      {"2026-11-26T17:00:00+5", "offset from UTC that does not exist"},
                                      {"2026-11-26T17:00:00+16:00", "offset from UTC that does not exist"},
                                      {"2026-11-26T17:00:00+05:60", "offset from UTC that does not exist"},
                                      {"2026-11-26T17:00:00Zx", "goes on after the offset"},
                                      {"2026-11-26T17:00:00+01:00:00", "goes on after the offset"},
                                      {"2026-02-30T00:00Z", "is no date and time"},
                                      {"2026-11-26", "is no date and time"},
                                      {"2026-11-26T24:00:00Z", "is no date and time"},
                                      {"26-11-26T17:00:00Z", "is no date and time"},
                                      {"2026-11-26T17:00:00.Z", "is no date and time"},
                                      {"", "is no date and time"},
                                      // A fraction of a minute, 30 s: never taken for half a second.
                                      {"2026-11-26T17:00.5Z", "has no offset from UTC"}}) {
        INFO(text);
        auto const read = read_iso_time(text);
        CHECK_FALSE(read.at);
        CHECK_THAT(std::string(read.wrong), INGLE_CONTAINS(wrong));
    }
}

TEST_CASE("nothing outside the years 0 to 9999 is read or written") {
    CHECK(parse_iso_time("0000-01-01T00:00:00Z") == earliest_wall_time);
    CHECK(parse_iso_time("9999-12-31T23:59:59.999Z") == latest_wall_time);
    CHECK(read_iso_time("0000-01-01T00:00:00+00:01").wrong == "is not in the years 0 to 9999");
    CHECK_FALSE(parse_iso_time("9999-12-31T23:59:59-05:00"));
    CHECK(iso_time(earliest_wall_time, -300min) == "0000-01-01T00:00:00Z");
    CHECK(iso_time(latest_wall_time, 60min) == "9999-12-31T23:59:59.999Z");
}
