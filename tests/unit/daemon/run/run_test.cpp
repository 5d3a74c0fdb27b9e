#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <string>

#include "daemon/model/group_text.hpp"
#include "daemon/run/failing.hpp"
#include "daemon/run/names.hpp"
#include "daemon/run/notice_desk.hpp"
#include "daemon/run/outcome.hpp"
#include "daemon/run/own_trouble.hpp"
#include "daemon/run/probes.hpp"
#include "daemon/run/service_manager.hpp"
#include "daemon/run/switches.hpp"
#include "daemon/run/wall_clock.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

Instant at(std::int64_t s) {
    return Instant(Span(s * 1000));
}
WallTime wall(std::int64_t s) {
    return WallTime(std::chrono::seconds(s));
}

Settings village() {
    Settings settings;
    settings.name = "village hall";
    settings.units = TemperatureUnit::fahrenheit;
    settings.vessels.push_back({});
    settings.vessels.back().name = "stockpot";
    settings.dishes.push_back({});
    settings.dishes.back().name = "goose-roll";
    return settings;
}

constexpr AlarmType leaving{.name = "leaving-band"};
constexpr AlarmType boiling{.name = "boiling"};

}  // namespace

TEST_CASE("the clock is told once, and again when it is set") {
    WallClock clock(1'000'000);
    auto const first = clock.look(at(10), wall(2'000'000), false);
    REQUIRE(first);
    CHECK(first->certain);
    CHECK(first->offset_ms == (2'000'000 - 10) * 1000LL);
    CHECK_FALSE(clock.look(at(11), wall(2'000'001), false));
    SECTION("a step back by an hour") {
        auto const set = clock.look(at(12), wall(2'000'002 - 3600), false);
        REQUIRE(set);
        CHECK(set->offset_ms == first->offset_ms - 3'600'000);
    }
    SECTION("slewing by less than a second is no step") {
        CHECK_FALSE(clock.look(at(12), WallTime(std::chrono::milliseconds(2'000'002'400)), false));
    }
}

TEST_CASE("a board that boots in 1970 does not know the time until it is told") {
    WallClock clock(1'000'000'000);
    auto const first = clock.look(at(5), wall(30), false);
    REQUIRE(first);
    CHECK_FALSE(first->certain);
    auto const learnt = clock.look(at(600), wall(1'790'000'000), true);
    REQUIRE(learnt);
    CHECK(learnt->certain);
    CHECK(wall_text(at(600), first, {}).empty());
    CHECK_FALSE(wall_text(at(600), learnt, {}).empty());
}

TEST_CASE("a sensible date is shown, but only a time service or a battery clock proves it") {
    WallClock clock(1'000'000);
    auto const saved = clock.look(at(10), wall(2'000'000), false);
    REQUIRE(saved);
    CHECK(saved->certain);
    CHECK_FALSE(saved->proven);
    auto const learnt = clock.look(at(600), wall(2'000'590), true);  // the same time, now vouched for
    REQUIRE(learnt);
    CHECK(learnt->proven);
    CHECK_FALSE(clock.look(at(601), wall(2'000'591), false));  // and it stays so
}

TEST_CASE("neither a switch that does not change nor a recording that has ended keeps the watchdog waiting") {
    auto settings = village();
    for (auto const* name : {"lid", "tape", "stock"}) {
        settings.probes.push_back({});
        settings.probes.back().name = name;
        settings.probes.back().driver = "none";
    }
    settings.probes[0].contact = true;
    struct Nothing final : ReadingSink {
        void on_reading(int, Reading) override {}
        void on_driver_event(int, std::string_view, std::string) override {}
        void on_switch(int, Instant, bool) override {}
    } sink;
    boost::asio::io_context io;
    Probes probes(io, settings, sink, [](Severity, std::string const&) {});
    auto const later = BootClock::now() + std::chrono::minutes(10);
    CHECK_FALSE(probes.all_heard(later));
    probes.has_ended(1);
    CHECK_FALSE(probes.all_heard(later));
    probes.heard(2, later);
    CHECK(probes.all_heard(later));
}

TEST_CASE("E14: of a probe that is never heard, nothing is vouched for, however lively the rest is") {
    auto settings = village();
    for (auto const* name : {"quick", "slow"}) {
        settings.probes.push_back({});
        settings.probes.back().name = name;
        settings.probes.back().driver = "none";
        settings.probes.back().every = Duration{name == std::string_view("slow") ? 10.0 : 1.0};
    }
    struct Nothing final : ReadingSink {
        void on_reading(int, Reading) override {}
        void on_driver_event(int, std::string_view, std::string) override {}
        void on_switch(int, Instant, bool) override {}
    } sink;
    boost::asio::io_context io;
    Probes probes(io, settings, sink, [](Severity, std::string const&) {});
    auto const began = BootClock::now();
    for (int probe : {0, 1}) probes.heard(probe, began);
    for (int s = 0; s <= 300; ++s) {
        auto const now = began + std::chrono::seconds(s);
        CHECK(probes.all_heard(now) == (s <= 60));  // a minute, less than twice the limit of the unit
    }
    auto const later = began + std::chrono::seconds(200);
    probes.heard(0, later);
    CHECK(probes.all_heard(later));  // the slow one may take 20 of its periods
    probes.heard(0, later + std::chrono::seconds(1));
    CHECK_FALSE(probes.all_heard(later + std::chrono::seconds(1)));
}

TEST_CASE("a notice names the gravest alarm, and leaves out a time that nobody knows") {
    auto const settings = village();
    Tell tell{at(100), 0, "raised", {}, "two things", "first"};
    Alarm low, high;
    low.type = &leaving;
    low.subject = {SubjectKind::vessel, 0};
    low.priority = Priority::low;
    high = low;
    high.type = &boiling;
    high.priority = Priority::high;
    tell.alarms = {low, high};
    auto const unknown = notice_of(settings, tell, std::nullopt, {}, "x-1");
    CHECK(unknown.alarm == "boiling");
    CHECK(unknown.subject == "stockpot");
    CHECK(unknown.priority == "high");
    CHECK_FALSE(unknown.at);
    auto const known = notice_of(settings, tell, ClockAnchor{1'790'000'000'000, true}, {}, "x-1");
    REQUIRE(known.at);
    CHECK(known.at->size() == std::string("2026-11-25T01:02:03+00:00").size());
    CHECK(known.id == "x-1");
}

TEST_CASE("what somebody asked for is sent in quiet hours unless all of it can wait") {
    AlarmType asked{.name = "stage-over", .asked_for = true};
    Alarm waits, other;
    waits.type = &asked;
    other.type = &leaving;
    auto const is_asked_for = [&](std::vector<Alarm> alarms) {
        Tell const tell{at(100), 0, "raised", std::move(alarms), "two things", "first"};
        return notice_of(village(), tell, std::nullopt, {}, "x-1").asked_for;
    };
    auto goes_on = waits;
    goes_on.can_wait = true;
    CHECK(is_asked_for({waits}));
    CHECK(is_asked_for({goes_on, other, waits}));
    CHECK_FALSE(is_asked_for({goes_on, other}));
}

TEST_CASE("a command answers in one sentence") {
    auto const settings = village();
    CHECK(outcome_of(settings, Hold{0, Band{{82.2222}, {87.7778}}}, {}).text ==
          "stockpot: holding 180.0 to 190.0 degF");
    CHECK(outcome_of(settings, End{0}, {}).text == "goose-roll ended. Not meant? `ingle back goose-roll`");
    Event refused{at(1), "refused", {}, "goose-roll has not begun", {}};
    auto const outcome = outcome_of(settings, Next{0}, {refused});
    CHECK_FALSE(outcome.done);
    CHECK(outcome.text == "goose-roll has not begun");
    CHECK(outcome_of(settings, Acknowledge{{}, "cook"}, {}).text == "nothing to be acknowledged");
}

TEST_CASE("a switch is a door of its vessels, a button acknowledges everything when it is pressed") {
    auto settings = village();
    for (auto const* name : {"smoker-door", "button", "plain"}) {
        settings.probes.push_back({});
        settings.probes.back().name = name;
    }
    settings.probes[1].options["acknowledges"].value = true;
    settings.probes[2].options["acknowledges"].value = false;
    settings.vessels[0].door = 0;
    for (bool const closed : {false, true}) {
        auto const door = commands_of_switch(settings, 0, closed);
        REQUIRE(door.size() == 1);
        auto const* lid = std::get_if<Switch>(&door[0]);
        REQUIRE(lid);
        CHECK(lid->vessel == 0);
        CHECK(lid->open == !closed);
        CHECK(commands_of_switch(settings, 2, closed).empty());
    }
    auto const pressed = commands_of_switch(settings, 1, true);
    REQUIRE(pressed.size() == 1);
    auto const* acknowledge = std::get_if<Acknowledge>(&pressed[0]);
    REQUIRE(acknowledge);
    CHECK_FALSE(acknowledge->alarm);  // all of them
    CHECK(acknowledge->by == "button");
    CHECK(commands_of_switch(settings, 1, false).empty());
}

TEST_CASE("the service manager hears ready, alive, reloading and stopping") {
    auto const path = "/tmp/ingle-notify-" + std::to_string(getpid());
    int const fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, path.data(), path.size());
    REQUIRE(bind(fd, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0);
    setenv("NOTIFY_SOCKET", path.c_str(), 1);
    setenv("WATCHDOG_USEC", "30000000", 1);
    ServiceManager manager;
    CHECK(std::getenv("NOTIFY_SOCKET") == nullptr);  // no child inherits it
    CHECK(manager.ping_every() == Span(15'000));
    manager.ready("village hall");
    manager.alive();
    manager.reloading();
    manager.stopping();
    char buffer[256];
    std::string heard;
    for (int i = 0; i < 4; ++i)
        heard += std::string(buffer, static_cast<std::size_t>(recv(fd, buffer, sizeof buffer, 0))) + "|";
    CHECK(heard.starts_with("READY=1\nSTATUS=village hall|WATCHDOG=1|RELOADING=1\nMONOTONIC_USEC="));
    CHECK(heard.ends_with("|STOPPING=1|"));
    close(fd);
    unlink(path.c_str());
}

TEST_CASE("a channel is told of the others that fail, not of itself") {
    auto const all =
        "Worse: the channel chef does not deliver: it answered 500; try later; the channel bell does not "
        "deliver: no bell; the channel chefs does not deliver: none";
    CHECK(without_own_trouble(all, "chef") ==
          "Worse: the channel bell does not deliver: no bell; the channel chefs does not deliver: none");
    CHECK(without_own_trouble(all, "bell") ==
          "Worse: the channel chef does not deliver: it answered 500; try later; the channel chefs does not "
          "deliver: none");
    CHECK(without_own_trouble(std::string(all) + "\n- oven is hot", "chefs") ==
          "Worse: the channel chef does not deliver: it answered 500; try later; the channel bell does not "
          "deliver: "
          "no bell\n- oven is hot");
    CHECK(without_own_trouble(all, "mail") == all);
    auto const alone = "the channel bell does not deliver: no bell";
    CHECK(without_own_trouble(alone, "bell") == alone);
}

TEST_CASE("a group is told to a channel without the trouble of that channel") {
    static constexpr AlarmType not_delivered{.name = "not-delivered"};
    Alarm pot, trouble;
    pot.type = &boiling;
    pot.text = "Still, after 10 min: stockpot is at 82 °C.";
    trouble.type = &not_delivered;
    trouble.text = "Still, after 10 min: the channel phone does not deliver: refused";
    Tell tell{at(100),     0, "reminder", {pot, trouble}, group_text(std::vector{pot.text, trouble.text}),
              "repeat due"};
    auto const own = without_trouble_of("phone", tell);
    CHECK(own.text == pot.text);
    CHECK(own.alarms.size() == 1);
    auto const other = without_trouble_of("bell", tell);
    CHECK(other.text == tell.text);
    CHECK(other.alarms.size() == 2);
    // It says of another channel, too.
    tell.alarms[1].text =
        "the channel bell does not deliver: no bell; the channel phone does not deliver: refused";
    tell.text = group_text(std::vector{pot.text, tell.alarms[1].text});
    auto const both = without_trouble_of("phone", tell);
    CHECK(both.alarms.size() == 2);
    CHECK(both.text == pot.text + "\nAnd 1 more:\n- the channel bell does not deliver: no bell");
    tell.alarms = {trouble};
    CHECK(without_trouble_of("phone", tell).alarms.size() == 1);  // whether it is told at all is asked before
}

TEST_CASE("of several that fail the newest is named first, and each joins once") {
    Failing failing;
    CHECK(failing.add("bell", "no bell"));
    CHECK(failing.add("chef", "no answer"));
    CHECK_FALSE(failing.add("bell", "still no bell"));
    CHECK(failing.text() == "no answer; still no bell");
    CHECK_FALSE(failing.remove("mail"));
    failing.keep_only([](auto const& name) { return name == "bell"; });
    CHECK(failing.text() == "still no bell");
    CHECK(failing.remove("bell"));
    CHECK(failing.empty());
}
