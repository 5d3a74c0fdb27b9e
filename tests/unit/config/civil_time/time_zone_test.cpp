// Zones against Python's zoneinfo (Python 3.11, tzdata 2025b: rows printed by it and copied here), and POSIX
// rules against the C library.
#include "config/civil_time/time_zone.hpp"

#include <time.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <tuple>
#include <utility>
#include <vector>

#include "tests/support/catch.hpp"

using namespace ingle;
using namespace std::chrono;

namespace {

struct Transition {
    char const *zone, *at;  // the first second of the new offset
    int before, after;      // min
};
constexpr Transition transitions[] = {
    {"Europe/Vienna", "2026-03-29T01:00:00Z", 60, 120},
    {"Europe/Vienna", "2026-10-25T01:00:00Z", 120, 60},
    {"Europe/Vienna", "2040-03-25T01:00:00Z", 60, 120},
    {"Europe/Vienna", "2040-10-28T01:00:00Z", 120, 60},
    {"America/New_York", "2026-03-08T07:00:00Z", -300, -240},
    {"America/New_York", "2026-11-01T06:00:00Z", -240, -300},
    {"America/New_York", "2040-03-11T07:00:00Z", -300, -240},
    {"America/New_York", "2040-11-04T06:00:00Z", -240, -300},
    {"Australia/Lord_Howe", "2026-04-04T15:00:00Z", 660, 630},
    {"Australia/Lord_Howe", "2026-10-03T15:30:00Z", 630, 660},
    {"Australia/Lord_Howe", "2040-03-31T15:00:00Z", 660, 630},
    {"America/St_Johns", "2026-03-08T05:30:00Z", -210, -150},
    {"America/St_Johns", "2026-11-01T04:30:00Z", -150, -210},
    {"Pacific/Apia", "2011-12-30T10:00:00Z", -600, 840},
    {"America/Sao_Paulo", "2018-11-04T03:00:00Z", -180, -120},
    {"Europe/Dublin", "2026-03-29T01:00:00Z", 0, 60},
    {"Europe/Dublin", "2040-10-28T01:00:00Z", 60, 0},
    {"Antarctica/Troll", "2026-03-29T01:00:00Z", 0, 120},
    {"Pacific/Chatham", "2026-04-04T14:00:00Z", 825, 765},
    {"Pacific/Chatham", "2026-09-26T14:00:00Z", 765, 825},
};

WallTime utc(char const* text) {
    return parse_iso_time(text).value();
}
LocalTime shown(char const* text) {  // "2026-10-25T02:30:00"
    return LocalTime(utc((std::string(text) + "Z").c_str()).time_since_epoch());
}
TimeZone zone(char const* name) {
    auto found = TimeZone::named(name);
    REQUIRE(found);
    return *found;
}

// The variable TZ for as long as it lives.
class Variable {
public:
    explicit Variable(char const* text) {
        if (text)
            setenv("TZ", text, 1);
        else
            unsetenv("TZ");
    }
    ~Variable() { unsetenv("TZ"); }
    Variable(Variable const&) = delete;
    Variable& operator=(Variable const&) = delete;
};

long c_library_offset(WallTime at) {
    auto const whole = static_cast<time_t>(floor<seconds>(at).time_since_epoch().count());
    tm parts{};
    localtime_r(&whole, &parts);
    return parts.tm_gmtoff / 60;
}

}  // namespace

TEST_CASE("the clocks change when zoneinfo says so, in 2040 as well") {
    for (auto const& row : transitions) {
        INFO(row.zone << " " << row.at);
        auto const here = zone(row.zone);
        CHECK(here.offset(utc(row.at) - 1ms).count() == row.before);
        CHECK(here.offset(utc(row.at)).count() == row.after);
    }
    CHECK(zone("Europe/Vienna").iso(utc("2026-10-25T01:00:00Z")) == "2026-10-25T02:00:00+01:00");
    CHECK(TimeZone().iso(utc("2026-10-25T01:00:00.250Z"), "+00:00") == "2026-10-25T01:00:00.250+00:00");
}

TEST_CASE("a time that comes twice, once, never") {
    // Zone, what its clocks show, then zoneinfo's instants with fold = 0 and fold = 1.
    for (auto const& [name, local, first, until] :
         {std::tuple{"Europe/Vienna", "2026-10-25T02:30:00", "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"},
          {"Australia/Lord_Howe", "2026-04-05T01:45:00", "2026-04-04T14:45:00Z", "2026-04-04T15:15:00Z"},
          {"Europe/Vienna", "2026-07-01T12:00:00", "2026-07-01T10:00:00Z", "2026-07-01T10:00:00Z"}}) {
        INFO(name << " " << local);
        auto const here = zone(name);
        auto const found = here.instants(shown(local));
        CHECK_FALSE(found.missing);
        CHECK(found.first == utc(first));
        CHECK(found.last == utc(until));
        CHECK(here.comes_twice(utc(first)) == (std::string(first) != until));
        CHECK(here.local(utc(until)) == shown(local));
    }
    // No such time: the instant at which the clocks were put forward. In Samoa that skipped a whole day.
    for (auto const& [name, local, jump] :
         {std::tuple{"Europe/Vienna", "2026-03-29T02:30:00", "2026-03-29T01:00:00Z"},
          {"America/Sao_Paulo", "2018-11-04T00:00:00", "2018-11-04T03:00:00Z"},
          {"Pacific/Apia", "2011-12-30T12:00:00", "2011-12-30T10:00:00Z"}}) {
        INFO(name << " " << local);
        auto const found = zone(name).instants(shown(local));
        CHECK(found.missing);
        CHECK(found.first == utc(jump));
        CHECK(found.last == utc(jump));
    }
    auto const vienna = zone("Europe/Vienna");
    CHECK_FALSE(vienna.instants(shown("2026-03-29T01:59:59")).missing);
    CHECK_FALSE(vienna.instants(shown("2026-03-29T03:00:00")).missing);
    CHECK_FALSE(vienna.comes_twice(utc("2026-10-24T23:59:59Z")));
    CHECK(vienna.comes_twice(utc("2026-10-25T00:00:00Z")));
    CHECK_FALSE(vienna.comes_twice(utc("2026-10-25T02:00:00Z")));
}

TEST_CASE("a POSIX rule changes the clocks when the C library does") {
    // The last line of zone files of all continents, and forms that none of them has.
    for (auto const* rule :
         {"UTC0", "<-03>3", "CET-1CEST,M3.5.0,M10.5.0/3", "EST5EDT,M3.2.0,M11.1.0",
          "AEST-10AEDT,M10.1.0,M4.1.0/3", "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0",
          "<+00>0<+02>-2,M3.5.0/1,M10.5.0/3", "IST-1GMT0,M10.5.0,M3.5.0/1", "<-02>2<-01>,M3.5.0/-1,M10.5.0/0",
          "EET-2EEST,M3.4.4/50,M10.4.4/50", "<-04>4<-03>,M9.1.6/24,M4.1.6/24", "NST3:30NDT,M3.2.0,M11.1.0",
          "AAA-3:30BBB,J60/0,J300/25:00:01", "AAA3BBB,59/-3,300"}) {
        INFO(rule);
        auto const here = TimeZone::from_tz(rule);
        REQUIRE(here);
        Variable const variable(rule);
        tzset();
        int wrong = 0;
        for (auto at = utc("1970-01-02T00:00:00Z"); at < utc("2110-01-01T00:00:00Z"); at += 101h + 7min)
            wrong += here->offset(at).count() != c_library_offset(at) ? 1 : 0;
        CHECK(wrong == 0);
        // And to the second: where the offset differs from that of the hour before, they agree in every
        // minute.
        for (auto at = utc("2026-01-01T00:00:00Z"); at < utc("2028-01-01T00:00:00Z"); at += 1h) {
            if (here->offset(at) == here->offset(at + 1h)) continue;
            for (auto second = at; second < at + 1h; second += 1s)
                wrong += here->offset(second).count() != c_library_offset(second) ? 1 : 0;
        }
        CHECK(wrong == 0);
    }
    tzset();
}

TEST_CASE("what TZ can be") {
    auto const summer = utc("2026-07-01T12:00:00Z");
    for (auto const& [text, minutes] : {std::pair{"Europe/Vienna", 120},
                                        {":Europe/Vienna", 120},
                                        {"CET-1CEST,M3.5.0,M10.5.0/3", 120},
                                        {":CET-1CEST,M3.5.0,M10.5.0/3", 120},
                                        {"/usr/share/zoneinfo/Europe/Vienna", 120},
                                        {":/usr/share/zoneinfo/Asia/Kathmandu", 345},
                                        {"XYZ+3:30", -210},
                                        {"EST5EDT", -240},
                                        {"UTC", 0},
                                        {"", 0},
                                        {":", 0}}) {
        INFO(text);
        Variable const variable(text);
        auto const found = machine_zone();
        CHECK(found.complaint.empty());
        CHECK(found.zone.offset(summer).count() == minutes);
    }
    for (auto const* text :
         {"Not/There", ":/etc/passwd", ":/dev/zero", "/", "../../../etc/localtime", "CET-1CEST,M3.5.0",
          "CE-1", "CET-25", "CET-1CEST,M13.5.0,M10.5.0", "CET-1CEST,M3.5.0,M10.5.0/168",
          "CET-1CEST,M3.5.0,M10.5.0/3x", "CET-1CEST,J0,J300", "CET-1CEST,366,1", "<+3-3",
          "CET-99999999999999999999", "\x1b[2J"}) {
        INFO(text);
        Variable const variable(text);
        auto const found = machine_zone();
        CHECK(found.zone.offset(summer).count() == 0);
        CHECK_THAT(found.complaint, INGLE_CONTAINS("times are in UTC: TZ is "));
    }
    Variable const unset(nullptr);
    CHECK(machine_zone().zone.offset(summer).count() == c_library_offset(summer));  // both of /etc/localtime
    CHECK(has_zone_files());
    CHECK_FALSE(TimeZone::named("Europe/Nowhere"));
    CHECK_FALSE(TimeZone::named(""));
    CHECK_FALSE(TimeZone::named("../zoneinfo/Europe/Vienna"));
    CHECK_FALSE(TimeZone::named(std::string(300, 'a')));
}

TEST_CASE("a copy of a zone file is read for the rule of the years to come; a damaged one is none") {
    auto const file = (std::filesystem::temp_directory_path() / "ingle-zone-file").string();
    std::filesystem::copy_file("/usr/share/zoneinfo/Europe/Vienna", file,
                               std::filesystem::copy_options::overwrite_existing);
    auto const copied = TimeZone::of_file(file);
    REQUIRE(copied);
    CHECK(copied->iso(utc("2026-10-25T00:59:59Z")) == "2026-10-25T02:59:59+02:00");
    CHECK(copied->iso(utc("2026-10-25T01:00:00Z")) == "2026-10-25T02:00:00+01:00");
    for (auto const* text : {"", "TZif", "TZif2\n", "TZif2\n\n", "TZif2\nCET-1CEST,M3.5.0",
                             "TZif2\nCET-1CEST,M3\n", "nothing\nUTC0\n"}) {
        std::ofstream(file) << text;
        CHECK_FALSE(TimeZone::of_file(file));
    }
    std::filesystem::remove(file);
    CHECK_FALSE(TimeZone::of_file(file));
}

TEST_CASE("local time from the first to the last year, in many threads at once") {
    auto const vienna = zone("Europe/Vienna");
    for (auto const at : {earliest_wall_time, latest_wall_time, WallTime::min(), WallTime::max()}) {
        CHECK(vienna.offset(at).count() >= 60);
        CHECK(TimeZone::from_tz("CET-1CEST,M3.5.0,M10.5.0/3")->offset(at).count() >= 60);
    }
    std::vector<std::thread> threads;
    std::vector<int> wrong(4);
    for (auto& count : wrong)
        threads.emplace_back([&count] {
            for (auto const& row : transitions) {
                auto const here = TimeZone::named(row.zone);
                count += here && here->offset(utc(row.at)).count() == row.after ? 0 : 1;
            }
        });
    for (auto& thread : threads) thread.join();
    CHECK(wrong == std::vector<int>(4));
}
