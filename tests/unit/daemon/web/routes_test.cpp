// Every endpoint's answer against a golden file, and what is refused, without a socket.
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/web/commands.hpp"
#include "daemon/web/event_queue.hpp"
#include "daemon/web/json.hpp"
#include "daemon/web/metrics.hpp"
#include "daemon/web/routes.hpp"
#include "fake_host.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using test::FakeHost;

namespace {

Response ask(FakeHost& host, std::string method, std::string target, std::string body = "",
             Caller caller = {}, std::string token = "") {
    ServerCounts const counts{7, 1, 2, 1, 0, 0};
    auto routed = route({std::move(method), std::move(target), std::move(body), "application/json", caller},
                        host, counts, token);
    if (auto* question = std::get_if<Ask>(&routed)) {
        Response answer;
        (*question)([&](Response given) { answer = std::move(given); });
        return answer;
    }
    if (std::holds_alternative<Response>(routed)) return std::get<Response>(routed);
    return {0, "", "stream", {}};
}

std::string error_of(Response const& response) {
    return nlohmann::json::parse(response.body).at("error");
}

// The answer as the golden file has it. A difference leaves the new text in the build folder to look at.
void check_golden(std::string const& name, std::string const& body) {
    auto const text = nlohmann::ordered_json::parse(body).dump(2) + "\n";
    std::ifstream file(std::string(TEST_SOURCE) + "/tests/unit/daemon/web/golden/" + name);
    std::stringstream golden;
    golden << file.rdbuf();
    if (golden.str() != text) {
        std::filesystem::create_directories(std::string(TEST_BUILD) + "/golden");
        std::ofstream(std::string(TEST_BUILD) + "/golden/" + name) << text;
    }
    CHECK(golden.str() == text);
}

}  // namespace

TEST_CASE("each endpoint answers as its golden file says") {
    FakeHost host;
    auto const check = [&](char const* target, char const* file) {
        auto const response = ask(host, "GET", target);
        REQUIRE(response.status == 200);
        check_golden(file, response.body);
    };
    check("/api/now", "now.json");
    check("/api/alarms", "alarms.json");
    check("/api/alarms?last=2%20h", "past_alarms.json");
    check("/api/cooks", "cooks.json");
    check("/api/history?last=1+h&probe=stock&grain=1%20min", "history.json");
    check("/api/notices", "notices.json");
    check("/healthz", "healthz.json");
}

TEST_CASE("metrics are OpenMetrics, and a probe without a value has no temperature") {
    FakeHost host;
    auto const response = ask(host, "GET", "/metrics");
    CHECK(response.type == "application/openmetrics-text; version=1.0.0; charset=utf-8");
    auto const& text = response.body;
    CHECK(text.ends_with("# EOF\n"));
    CHECK_THAT(text, INGLE_CONTAINS("ingle_probe_temperature_celsius{probe=\"stock\"} 85\n"));
    CHECK(text.find("ingle_probe_temperature_celsius{probe=\"smoke\"}") == std::string::npos);
    CHECK_THAT(text, INGLE_CONTAINS("ingle_probe_up{probe=\"smoke\"} 0\n"));
    CHECK_THAT(text, INGLE_CONTAINS("ingle_probe_age_seconds{probe=\"smoke\"} 240\n"));
    CHECK_THAT(text, INGLE_CONTAINS("ingle_probe_faults_total{probe=\"smoke\"} 240\n"));
    CHECK_THAT(text, INGLE_CONTAINS("ingle_alarms_active{priority=\"high\"} 1\n"));
    // Every sample belongs to a family that was declared before it (OpenMetrics 1.0, section 5).
    std::istringstream lines(text);
    std::string line, family;
    while (std::getline(lines, line)) {
        if (line.starts_with("# TYPE ")) family = line.substr(7, line.find(' ', 7) - 7);
        if (!line.starts_with('#')) CHECK(line.starts_with(family));
    }
}

TEST_CASE("a value that is no number costs one null, not the answer (E16)") {
    FakeHost host;
    host.with_nan = true;
    auto const now = nlohmann::json::parse(ask(host, "GET", "/api/now").body);
    CHECK(now["probes"][0]["celsius"].is_null());
    CHECK(now["probes"].size() == 3);
}

TEST_CASE("without the time, wall times are null and the clock is unknown") {
    FakeHost host;
    host.clock_known = false;
    auto const now = nlohmann::json::parse(ask(host, "GET", "/api/now").body);
    CHECK(now["at"].is_null());
    CHECK(now["clock"] == "unknown");
    CHECK(now["alarms"][0]["since"].is_null());
    CHECK(now["alarms"][0]["age_s"] == 240);
}

TEST_CASE("the schedule is the document that the daemon makes; without the time there is none") {
    FakeHost host;
    CHECK(nlohmann::json::parse(ask(host, "GET", "/api/schedule").body)["fits"] == true);
    CHECK(ask(host, "GET", "/api/schedule?last=1+h").status == 400);
    host.clock_known = false;
    auto const refused = ask(host, "GET", "/api/schedule");
    CHECK(refused.status == 503);
    CHECK_THAT(refused.body, INGLE_CONTAINS("time is not known"));
}

TEST_CASE("history: spans, grain and mistakes") {
    FakeHost host;
    auto const end = FakeHost::offset + 7'200'000;
    ask(host, "GET", "/api/history");
    CHECK(host.asked.span.to - host.asked.span.from == 3'600'001);
    CHECK(host.asked.grain == Span(7000));
    ask(host, "GET", "/api/history?last=10%20min&grain=raw&probe=stock,smoke&probe=goose-core");
    CHECK(host.asked.grain == Span(0));
    CHECK(host.asked.span.from == end - 600'000);
    CHECK(host.asked.probes == std::vector<std::string>{"stock", "smoke", "goose-core"});
    ask(host, "GET", "/api/history?from=2026-11-26T12:00:00-05:00&to=2026-11-26T18:00:00Z");
    CHECK(host.asked.span.from == FakeHost::offset);
    CHECK(host.asked.span.to == FakeHost::offset + 3'600'000);

    auto const wrong = [&](char const* target) {
        auto const response = ask(host, "GET", target);
        CHECK(response.status == 400);
        return error_of(response);
    };
    CHECK_THAT(wrong("/api/history?last=3"), INGLE_CONTAINS("last: \"3\""));
    CHECK_THAT(wrong("/api/history?since=yesterday"), INGLE_CONTAINS("no parameter \"since\""));
    CHECK_THAT(wrong("/api/history?from=2026-11-26T12:00:00"), INGLE_CONTAINS("offset"));
    CHECK_THAT(wrong("/api/history?from=2000&to=1000"), INGLE_CONTAINS("ends before it begins"));
    CHECK_THAT(wrong("/api/history?from=-9223372036854775808"), INGLE_CONTAINS("in the years 0 to 9999"));
    CHECK_THAT(wrong("/api/history?to=9223372036854775807"), INGLE_CONTAINS("in the years 0 to 9999"));
    CHECK_THAT(wrong("/api/history?from=9999-12-31T23:59:59-05:00"),
               INGLE_CONTAINS("in the years 0 to 9999"));
    CHECK_THAT(wrong("/api/history?last=101%20000%20days"), INGLE_CONTAINS("last"));
    CHECK_THAT(wrong("/api/history?last=101000%20days"), INGLE_CONTAINS("\"last\" is 100 years at most"));
    CHECK_THAT(wrong("/api/history?grain=1e30%20s"), INGLE_CONTAINS("grain"));
    CHECK_THAT(wrong("/api/history?grain=1000000%20days"), INGLE_CONTAINS("\"grain\" is 100 years at most"));
    CHECK_THAT(wrong("/api/history?last=300%20days&grain=1%20s"), INGLE_CONTAINS("too many points"));
    CHECK_THAT(wrong("/api/history?probe=%zz"), INGLE_CONTAINS("cannot be understood"));
    host.trouble = "the logbook cannot be read: disk I/O error";
    CHECK(ask(host, "GET", "/api/history").status == 503);
}

TEST_CASE("commands are read with their units, and mistakes get a sentence") {
    FakeHost host;
    auto const post = [&](char const* name, char const* body) {
        return ask(host, "POST", std::string("/api/commands/") + name, body);
    };
    REQUIRE(post("hold", R"({"vessel": "stockpot", "low": "180 degF", "high": "190 degF"})").status == 200);
    auto const hold = std::get<Hold>(host.commands.back());
    CHECK(hold.vessel == 0);
    CHECK_THAT(hold.band->low.celsius, WithinAbs(82.2222, 1e-3));
    CHECK_THAT(hold.band->high.celsius, WithinAbs(87.7778, 1e-3));
    REQUIRE(post("hold", R"({"vessel": "smoker", "band": null})").status == 200);
    CHECK_FALSE(std::get<Hold>(host.commands.back()).band);
    REQUIRE(post("begin", R"({"dish": "goose-roll"})").status == 200);
    CHECK(std::get<Begin>(host.commands.back()).dish == 0);
    REQUIRE(post("acknowledge", R"({"alarm": 12, "by": "anna"})").status == 200);
    CHECK(std::get<Acknowledge>(host.commands.back()).alarm == 12);
    REQUIRE(post("acknowledge", "").status == 200);
    CHECK_FALSE(std::get<Acknowledge>(host.commands.back()).alarm);
    REQUIRE(post("shelve", R"({"alarm": 12, "for": "20 min"})").status == 200);
    CHECK(std::get<Shelve>(host.commands.back()).length == Span(1'200'000));
    REQUIRE(post("note", R"({"text": "vent open", "about": "smoker", "when": "2026-11-26T13:00:00-05:00"})")
                .status == 200);
    auto const note = std::get<Note>(host.commands.back());
    CHECK(note.about == Subject{SubjectKind::vessel, 1});
    CHECK(note.when == Instant(Span(3'600'000)));
    REQUIRE(post("out-of-service", R"({"subject": "probe smoke", "out": true})").status == 200);
    CHECK(std::get<OutOfService>(host.commands.back()).subject == Subject{SubjectKind::probe, 1});
    CHECK(post("shelve", R"({"alarm": 12, "for": "0.0001 s"})").status == 400);  // 0 would end a shelving
    CHECK(post("timer", R"({"for": "0.0001 s"})").status == 400);
    CHECK(post("remind", R"({"text": "wrap", "temperature": "1e308 degC", "about": "goose-roll"})").status ==
          400);
    auto const long_name = R"({"by": ")" + std::string(101, 'a') + "\"}";
    CHECK(post("acknowledge", long_name.c_str()).status == 400);
    REQUIRE(post("pressure", R"({"pressure": "985 hPa"})").status == 200);
    CHECK_THAT(std::get<PressureNow>(host.commands.back()).pressure.pascals, WithinAbs(98500, 1e-6));
    REQUIRE(post("calibrate", R"({"probe": "stock", "points": [{"reads": "33.1 degF", "is": "32 degF"}]})")
                .status == 200);
    CHECK_THAT(std::get<Calibrate>(host.commands.back()).points[0].is.celsius, WithinAbs(0, 1e-9));
    REQUIRE(post("timer", R"({"for": "20 min", "text": "turn the tart"})").status == 200);
    CHECK(std::get<StartTimer>(host.commands.back()).length == std::chrono::minutes(20));
    CHECK(std::get<StartTimer>(host.commands.back()).text == "turn the tart");
    REQUIRE(post("remind", R"({"text": "wrap", "temperature": "150 degF", "about": "goose-roll"})").status ==
            200);
    CHECK(std::abs(*std::get<Remind>(host.commands.back()).celsius - 65.5556) < 1e-3);
    CHECK(std::get<Remind>(host.commands.back()).about == Subject{SubjectKind::dish, 0});
    REQUIRE(post("remind", R"({"text": "baste", "every": "40 min"})").status == 200);
    CHECK(std::get<Remind>(host.commands.back()).every == std::chrono::minutes(40));
    REQUIRE(post("remind", R"({"text": "oven", "at": "2026-11-26T15:00:00-05:00"})").status == 200);
    CHECK(std::get<Remind>(host.commands.back()).at == host.now() + std::chrono::hours(1));
    REQUIRE(post("remind", R"({"text": "oven", "in": "20 min"})").status == 200);
    CHECK(std::get<Remind>(host.commands.back()).in == std::chrono::minutes(20));
    CHECK(post("remind", R"({"text": "x", "in": "1 h", "at": "2026-11-26T15:00:00-05:00"})").status == 400);
    REQUIRE(post("remind", R"({"text": "gravy", "stage-of": "goose-roll"})").status == 200);
    CHECK(std::get<Remind>(host.commands.back()).stage_end);
    REQUIRE(post("stop-reminder", R"({"reminder": 3})").status == 200);
    CHECK(std::get<StopReminder>(host.commands.back()).reminder == 3);
    CHECK(post("remind", R"({"text": "baste"})").status == 400);
    CHECK(post("remind", R"({"text": "x", "every": "1 h", "stage-of": "goose-roll"})").status == 400);
    CHECK(post("remind", R"({"text": "x", "temperature": "150", "about": "stock"})").status == 400);
    REQUIRE(post("stop-timer", R"({"timer": 2})").status == 200);
    CHECK(std::get<StopTimer>(host.commands.back()).timer == 2);
    CHECK(post("timer", R"({"for": 20})").status == 400);
    CHECK(post("timer", R"({"for": "-1 s"})").status == 400);
    CHECK(post("timer", R"({"for": "31 days"})").status == 400);
    CHECK(post("stop-timer", R"({"timer": "2"})").status == 400);

    auto const count = host.commands.size();
    auto const wrong = [&](char const* name, char const* body, int status = 400) {
        auto const response = post(name, body);
        CHECK(response.status == status);
        return error_of(response);
    };
    CHECK_THAT(wrong("hold", R"({"vessel": "stockpot", "low": 180, "high": "190 degF"})"),
               INGLE_CONTAINS("low: \"180\""));
    CHECK_THAT(wrong("hold", R"({"vessel": "stockpot", "low": "180 degC", "high": "190 degC"})"),
               INGLE_CONTAINS("did you mean degF?"));
    CHECK_THAT(wrong("hold", R"({"vessel": "stockpot", "low": "190 degF", "high": "180 degF"})"),
               INGLE_CONTAINS("below"));
    CHECK_THAT(wrong("hold", R"({"vessel": "kettle", "low": "1 degC", "high": "2 degC"})", 404),
               INGLE_CONTAINS("stockpot, smoker"));
    CHECK_THAT(wrong("hold", "{"), INGLE_CONTAINS("not JSON"));
    CHECK_THAT(wrong("hold", "[]"), INGLE_CONTAINS("object"));
    CHECK_THAT(wrong("begin", R"({"dish": "goose-roll", "now": true})"),
               INGLE_CONTAINS("\"now\" is not known"));
    CHECK_THAT(wrong("shelve", R"({"alarm": 12, "for": "9 h"})"), INGLE_CONTAINS("8 h at most"));
    CHECK_THAT(wrong("timer", R"({"for": "31 days"})"), INGLE_CONTAINS("30 days at most"));
    CHECK_THAT(wrong("note", R"({"text": "x", "when": "9999-12-31T23:59:59-05:00"})"),
               INGLE_CONTAINS("ISO 8601"));
    for (auto const* command : {"note", "begin"}) {
        std::string const what =
            command == std::string("note") ? R"("text": "x")" : R"("dish": "goose-roll")";
        CHECK_THAT(wrong(command, ("{" + what + R"(, "when": "2062-01-01T00:00:00Z"})").c_str()),
                   INGLE_CONTAINS("still to come"));
        CHECK_THAT(wrong(command, ("{" + what + R"(, "when": "1970-01-01T00:00:00Z"})").c_str()),
                   INGLE_CONTAINS("more than a year ago"));
    }
    CHECK_THAT(wrong("shelve", R"({"alarm": 1.5, "for": "1 h"})"), INGLE_CONTAINS("whole number"));
    CHECK_THAT(wrong("pressure", R"({"pressure": "400 hPa"})"), INGLE_CONTAINS("from 450 hPa to 1100 hPa"));
    CHECK_THAT(
        wrong("calibrate", R"({"probe": "stock", "points": [{"reads": "60 degC", "is": "100 degC"}]})"),
        INGLE_CONTAINS("moves the reading by"));
    CHECK_THAT(wrong("calibrate", R"({"probe": "stock", "points": [{"reads": "40 degC", "is": "40 degC"},
                                      {"reads": "41 degC", "is": "42 degC"}]})"),
               INGLE_CONTAINS("closer than 50 degC"));
    CHECK_THAT(wrong("boil", "{}", 404), INGLE_CONTAINS("no command \"boil\""));
    CHECK_THAT(wrong("next", R"({"dish": "goose-roll"})", 409), INGLE_CONTAINS("no next stage"));
    CHECK(host.commands.size() == count);
}

TEST_CASE("reading is free on loopback, changing is not, other sites get nothing") {
    FakeHost host;
    Caller caller;
    caller.tcp = true;
    caller.bound_address = "127.0.0.1";
    caller.host = "127.0.0.1:8094";
    auto const hold = R"({"vessel": "stockpot", "low": "180 degF", "high": "190 degF"})";
    auto const status = [&](char const* method, char const* target, std::string const& token) {
        return ask(host, method, target, method[0] == 'P' ? hold : "", caller, token).status;
    };
    CHECK(status("GET", "/api/now", "") == 200);
    CHECK(status("POST", "/api/commands/hold", "") == 403);
    CHECK(status("POST", "/api/commands/hold", "sesame") == 401);
    caller.authorization = "Bearer sesam";
    CHECK(status("POST", "/api/commands/hold", "sesame") == 401);
    caller.authorization = "Bearer sesame!";
    CHECK(status("POST", "/api/commands/hold", "sesame") == 401);
    CHECK(host.commands.empty());
    caller.authorization = "Bearer sesame";
    CHECK(status("POST", "/api/commands/hold", "sesame") == 200);
    caller.authorization = "";
    caller.cookie = "theme=dark; ingle-token=sesame";
    CHECK(status("POST", "/api/commands/hold", "sesame") == 200);
    CHECK(host.commands.size() == 2);

    for (auto const* good : {"localhost:8094", "[::1]:8094", "192.168.1.5"}) {
        caller.host = good;
        CHECK(status("GET", "/api/now", "") == 200);
    }
    for (auto const* bad : {"kitchen.evil.example", "127.0.0.1.evil.example:8094", "", ":8094"}) {
        caller.host = bad;
        CHECK(status("GET", "/api/now", "") == 403);
        CHECK(status("POST", "/api/commands/hold", "sesame") == 403);
    }
    caller.host = "localhost:8094";
    caller.origin = "http://evil.example";
    CHECK(status("GET", "/api/now", "sesame") == 403);
    caller.origin = "http://localhost:8094";
    CHECK(status("GET", "/api/now", "sesame") == 200);
    caller.origin = "https://localhost:8094";  // a TLS proxy before it leaves the Host header as it came
    CHECK(status("POST", "/api/commands/hold", "sesame") == 200);
    caller.origin = "https://evil.example";
    CHECK(status("GET", "/api/now", "sesame") == 403);
    caller.origin = "";

    char machine[256] = {};
    REQUIRE(gethostname(machine, sizeof machine - 1) == 0);
    for (auto const* domain : {"", ".local", ".lan", ".home", ".home.arpa", ".internal"}) {
        auto const name = std::string(machine) + domain + ":8094";
        caller.host = name;
        INFO(name);
        CHECK(status("GET", "/api/now", "") == 200);
    }
    for (auto const* domain :
         {".example", ".lan.example", ".local.evil.example", "x.local", ".home.arpa.example"}) {
        auto const name = std::string(machine) + domain + ":8094";
        caller.host = name;
        INFO(name);
        CHECK(status("GET", "/api/now", "") == 403);
    }
    caller.host = "localhost:8094";

    caller.cookie = "";
    caller.off_loopback = true;
    CHECK(status("GET", "/api/now", "sesame") == 401);
    CHECK(status("GET", "/healthz", "sesame") == 200);
    caller.authorization = "Bearer sesame";
    CHECK(status("GET", "/api/now", "sesame") == 200);
}

TEST_CASE("methods and paths that are not there") {
    FakeHost host;
    CHECK(ask(host, "DELETE", "/api/now").status == 405);
    CHECK(ask(host, "GET", "/api/nothing").status == 404);
    CHECK(ask(host, "POST", "/api/now").status == 404);
    CHECK(ask(host, "GET", "nothing").status == 400);
    CHECK(ask(host, "GET", "/api/now?x=1").status == 400);
    CHECK(ask(host, "POST", "/api/channels/phone/test").status == 200);
    CHECK(ask(host, "POST", "/api/channels/pigeon/test").status == 404);
    CHECK(ask(host, "POST", "/api/commit").status == 200);
    CHECK(route({"POST", "/api/commands/hold", "a=b", "text/plain", {}}, host, {}, "").index() == 0);
    CHECK(std::get<Response>(route({"POST", "/api/commands/hold", "a=b", "text/plain", {}}, host, {}, ""))
              .status == 415);
}

TEST_CASE("a bounded queue gives up on a client that does not read, and stays empty after") {
    EventQueue queue;
    auto const text = std::make_shared<std::string const>(1000, 'x');
    int pushed = 0;
    while (queue.push(text)) ++pushed;
    CHECK(pushed == EventQueue::most_bytes / 1000);
    CHECK(queue.overflowed());
    CHECK(queue.bytes() == 0);
    CHECK_FALSE(queue.push(text));
    CHECK(queue.pop() == nullptr);
}

TEST_CASE("effects as events: a rejected value is null with its reason") {
    FakeHost host;
    Recorded reading;
    reading.probe = 1;
    reading.at = Instant(Span(7'200'000));
    reading.quality = Quality::rejected;
    reading.celsius = 300;
    reading.fault = Fault{FaultKind::out_of_range, "300 degC is out of range"};
    CHECK(event_text(reading, host.settings(), FakeHost::offset, host.zone()) ==
          "event: reading\ndata: {\"probe\":\"smoke\",\"at\":\"2026-11-26T14:00:00-05:00\",\"boot_s\":7200.0,"
          "\"celsius\":null,\"quality\":\"rejected\",\"reason\":\"300 degC is out of range\"}\n\n");
    CHECK(event_text(Tell{}, host.settings(), FakeHost::offset, host.zone()).empty());
    CHECK(event_text(MemoryChanged{}, host.settings(), FakeHost::offset, host.zone()).empty());
    Event event{Instant(Span(0)), "note", {}, "first\nsecond", {}};
    // A line feed in a note must not end the data line.
    CHECK_THAT(event_text(event, host.settings(), {}, host.zone()), INGLE_CONTAINS("first\\nsecond"));
}
