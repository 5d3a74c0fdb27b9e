// What a broker is given of the kitchen, from views of it.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "daemon/notices/mqtt/state.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::mqtt;

namespace {

// 2026-11-26T16:00:00Z, 500 s after the boot.
View kitchen() {
    View view;
    view.at = Instant(Span(500'000));
    view.kitchen = "village hall";
    view.wall_offset_ms = 1'795'708'800'000 - 500'000;
    ProbeView stock;
    stock.name = "stock";
    stock.celsius = 64.268;
    stock.age = Span(2'500);
    stock.fresh = true;
    view.probes = {stock};
    VesselView pot;
    pot.name = "stockpot";
    pot.probe = 0;
    pot.band = Band{{60}, {70}};
    pot.phase = "in band";
    view.vessels = {pot};
    return view;
}

Topic topic(View const& view, std::string const& name) {
    for (auto const& each : topics_of(view))
        if (each.name == name) return each;
    FAIL("no topic " << name);
    return {};
}

nlohmann::json payload(View const& view, std::string const& name) {
    return nlohmann::json::parse(topic(view, name).payload);
}

}  // namespace

TEST_CASE("a temperature is given with the time of its reading") {
    auto const json = payload(kitchen(), "vessel/stockpot");
    CHECK(json["celsius"] == 64.27);
    CHECK(json["read_at"] == "2026-11-26T15:59:57.500Z");
    CHECK(json["reason"].is_null());
}

TEST_CASE("what is not fresh is no value, and a fault says why") {
    auto view = kitchen();
    view.probes[0].fresh = false;
    auto json = payload(view, "vessel/stockpot");
    CHECK(json["celsius"].is_null());
    CHECK(json["read_at"].is_null());
    CHECK(json["reason"] == "the last reading is too old");
    view.probes[0].fault = Fault{FaultKind::open, "the probe is open"};
    CHECK(payload(view, "vessel/stockpot")["reason"] == "the probe is open");
    view.probes[0] = {};
    CHECK(payload(view, "vessel/stockpot")["reason"] == "no reading yet");
    view.vessels[0].probe = -1;
    CHECK(payload(view, "vessel/stockpot")["reason"] == "no probe");
}

TEST_CASE("a temperature of an unknown time is not left with the broker") {
    auto view = kitchen();
    CHECK(topic(view, "vessel/stockpot").kept);
    view.wall_offset_ms.reset();
    CHECK_FALSE(topic(view, "vessel/stockpot").kept);
    CHECK_FALSE(topic(view, "alarms").kept);
    CHECK(payload(view, "vessel/stockpot")["celsius"] == 64.27);
    view.probes[0].fresh = false;  // nothing that could look live
    CHECK(topic(view, "vessel/stockpot").kept);
}

TEST_CASE(
    "a temperature alone changes nothing that is published at once; a fault, the band and an alarm do") {
    auto const before = kitchen();
    auto view = before;
    auto const same = [&](std::string const& name) {
        return topic(view, name).standing == topic(before, name).standing;
    };
    view.at += Span(1'000);
    view.probes[0].celsius = 65;
    CHECK(same("vessel/stockpot"));
    CHECK(same("alarms"));
    view.probes[0].fresh = false;
    CHECK_FALSE(same("vessel/stockpot"));
    view = before;
    view.vessels[0].phase = "above band";
    CHECK_FALSE(same("vessel/stockpot"));
    Alarm alarm;
    alarm.id = 3;
    alarm.subject = {SubjectKind::vessel, 0};
    alarm.text = "stockpot is at 75.0 degC";
    view.alarms = {alarm};
    auto const raised = topic(view, "alarms").standing;
    CHECK_FALSE(same("alarms"));
    view.alarms[0].text = "stockpot is at 75.1 degC";
    CHECK(topic(view, "alarms").standing == raised);
    view.alarms[0].state = AlarmState::acknowledged;
    CHECK(topic(view, "alarms").standing != raised);
    CHECK(payload(view, "alarms")["alarms"][0]["subject"] == "stockpot");
}

TEST_CASE("only what says that it is of this kitchen is") {
    CHECK(is_of_kitchen(R"({"kitchen": "village hall"})", "village hall"));
    for (auto const* other : {R"({"kitchen": "barn"})", R"({"kitchen": 3})", "[]", "village hall", ""})
        CHECK_FALSE(is_of_kitchen(other, "village hall"));
}
