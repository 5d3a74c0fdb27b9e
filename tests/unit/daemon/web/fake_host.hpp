// A kitchen as the web server sees it, with everything in it that an answer can show.
#pragma once

#include <chrono>
#include <functional>
#include <mutex>
#include <utility>

#include "daemon/web/host.hpp"

namespace ingle::test {

inline constexpr AlarmType leaving_band{"leaving-band", Priority::low};
inline constexpr AlarmType probe_open{"probe-open", Priority::high};

class FakeHost final : public WebHost {
public:
    FakeHost() {
        settings_.name = "village hall";
        settings_.units = TemperatureUnit::fahrenheit;
        for (auto const* name : {"stock", "smoke", "goose-core"}) {
            ProbeSettings probe;
            probe.name = name;
            probe.driver = "serial-line";
            settings_.probes.push_back(probe);
        }
        for (auto const* name : {"stockpot", "smoker"}) {
            VesselSettings vessel;
            vessel.name = name;
            settings_.vessels.push_back(vessel);
        }
        DishSettings dish;
        dish.name = "goose-roll";
        settings_.dishes.push_back(dish);
        ChannelSettings channel;
        channel.name = "phone";
        settings_.channels.push_back(channel);
    }

    static constexpr std::int64_t offset = 1'795'712'400'000;    // 2026-11-26 12:00:00 -05:00
    Instant now() override { return Instant(Span(7'200'000)); }  // so it is 14:00 there
    Settings const& settings() override { return settings_; }
    TimeZone const& zone() override { return zone_; }

    View view() override {
        View view;
        view.at = now();
        view.kitchen = settings_.name;
        if (clock_known) view.wall_offset_ms = offset;
        view.units = settings_.units;
        ProbeView stock{0, "stock", "serial-line", 85.0, Span(600), true, Quality::good, {}, 0.31, 0.05, {}};
        ProbeView smoke{1,
                        "smoke",
                        "serial-line",
                        92.5,
                        Span(240'000),
                        false,
                        Quality::faulty,
                        Fault{FaultKind::open, "open: the thermocouple wire is broken or unplugged"},
                        {},
                        {},
                        24.5};
        ProbeView core{2, "goose-core", "serial-line", {}, {}, false, Quality::faulty, {}, {}, {}, {}};
        stock.calibration = {{{0.5}, {0.0}}};
        view.probes = {stock, smoke, core};
        VesselView pot{0,         "stockpot", VesselKind::pot,      0,   Band{{82.25}, {87.75}},
                       "in band", {},         "turn down a little", 99.2};
        pot.forecast =
            Forecast{now() - Span(1000), "leaving-band", {SubjectKind::vessel, 0}, 700, 480, 1200, 0.8, ""};
        pot.forecast->direction = 1;
        pot.response = {900, 60, 5.5, {}, 2, 3, 0};
        VesselView smoker{1, "smoker", VesselKind::smoker, 1, {}, "no band", {}, "", 99.2};
        view.vessels = {pot, smoker};
        DishView dish;
        dish.name = "goose-roll";
        dish.food = "ground-poultry";
        dish.vessel = 0;
        dish.core = 2;
        dish.begun = true;
        dish.cook = 3;
        dish.began = now() - Span(3'600'000);
        dish.stage_began = now() - Span(3'600'000);
        dish.clock = {"counts", Span(3'000'000)};
        dish.stage = "poach";
        dish.target_c = 73.8889;
        dish.forecast = Forecast{now(), "core-target", {SubjectKind::dish, 0},   {}, {},
                                 {},    0.8,           "the core has no reading"};
        dish.verdicts = {{"lethality", "unknown", "no core reading yet", "a published table"}};
        view.dishes = {dish};
        Alarm open;
        open.id = 12;
        open.type = &probe_open;
        open.subject = {SubjectKind::probe, 1};
        open.state = AlarmState::unacknowledged;
        open.active = true;
        open.priority = Priority::high;
        open.text = "smoke: the thermocouple wire is broken or unplugged";
        open.since = now() - Span(240'000);
        Alarm shelved = open;
        shelved.id = 11;
        shelved.type = &leaving_band;
        shelved.subject = {SubjectKind::vessel, 0};
        shelved.state = AlarmState::shelved;
        shelved.priority = Priority::low;
        shelved.text = "stockpot leaves its band in 11 min";
        shelved.shelved_until = now() + Span(600'000);
        view.timers.push_back({2, "turn the tart", Span(1'200'000), now() + Span(300'000), false});
        view.reminders.push_back({3, "baste", "every 40 min", now() + Span(600'000), Span(2'400'000), {}});
        view.alarms = {open, shelved};
        if (with_nan) view.probes[0].celsius = std::numeric_limits<double>::quiet_NaN();
        return view;
    }

    Status status() override {
        Status status;
        status.version = "0.1.0";
        status.kitchen_file = "/etc/ingle/kitchen.toml";
        status.zone = "America/New_York";
        status.started = now() - Span(7'000'000);
        status.recording = true;
        status.waiting = 3;
        status.committed = now() - Span(4'000);
        status.logbook_bytes = 123'456;
        status.channels = {{"phone", "webhook", "HTTP 500 from 127.0.0.1", 1, 4, 0}};
        status.probes = {{7000, 0, ""}, {6760, 240, ""}, {0, 0, "no device at /dev/ttyUSB0"}};
        auto newest = Reading::good(now() - Span(600), 85.5);
        newest.word = 0x05581900;
        newest.cold_junction = 25.0;
        status.probes[0].newest = newest;
        status.probes[1].newest =
            Reading::faulty(now() - Span(1000), FaultKind::open, "open: the thermocouple wire is broken");
        return status;
    }

    std::vector<PendingNotice> pending_notices() override {
        return {{"n-1", "phone", "raised", "smoke: open", now() - Span(240'000), 3, now() + Span(30'000),
                 "HTTP 500"}};
    }

    void submit(Command command, Reply<Outcome> reply) override {
        if (std::holds_alternative<Next>(command)) return reply({false, "goose-roll has no next stage"});
        commands.push_back(std::move(command));
        reply({true, "done as told"});
    }
    void test_channel(std::string name, Reply<Outcome> reply) override { reply({true, "told " + name}); }
    void commit(Reply<Outcome> reply) override { reply({true, "on disk"}); }
    std::string guest_pass(std::string const& token, WallMs until) override {
        return token.empty() ? "" : std::to_string(until) + "-of-" + token;
    }
    std::optional<WallMs> guest_until(std::string const& token, std::string_view pass) override {
        auto const until = std::stoll("0" + std::string(pass.substr(0, pass.find('-'))));
        return !token.empty() && pass == guest_pass(token, until) ? std::optional<WallMs>(until)
                                                                  : std::nullopt;
    }
    NoticeLink notice_link(std::string const& token) override {
        if (token != "good") return {404, "This link is not one of this kitchen's.", false, {}};
        return {200, "", false, {"smoke: <b>open</b>"}};
    }
    void use_notice_link(std::string const& token, Reply<NoticeLink> reply) override {
        used_links.push_back(token);
        auto link = notice_link(token);
        if (link.status == 200) link.text = "acknowledged: probe-open of smoke";
        reply(link);
    }
    std::vector<std::string> used_links;

    void history(HistoryQuery query, Reply<Answer<History>> reply) override {
        asked = query;
        if (never_answers) {
            waiting.push_back(std::move(reply));
            return;
        }
        if (!trouble.empty()) return reply({{}, trouble});
        History history;
        HistorySeries series{"stock", {}};
        series.points.push_back({offset + 7'100'000, 84.5, 84.75, 85.0, 60, 0});
        series.points.push_back({offset + 7'160'000, {}, {}, {}, 0, 60});
        history.series = {series};
        history.gaps = {{"", offset + 7'000'000, offset + 7'050'000, "the daemon was off"}};
        history.events = {{offset + 7'120'000, "door-opened", "smoker", "", {{"depth_c", 12.5}}}};
        reply({history, ""});
    }
    void past_alarms(TimeSpan span, Reply<Answer<std::vector<PastAlarm>>> reply) override {
        asked_span = span;
        reply({{{9, "above-band", "stockpot", "stockpot is above its band", "anna", Priority::medium,
                 offset + 1000, offset + 61'000, offset + 301'000, 89.5}},
               ""});
    }
    void schedule(Reply<Answer<std::string>> reply) override {
        if (!clock_known) return reply({"", "the time is not known yet"});
        reply({R"({"at": "2026-11-26T14:00:00-05:00", "fits": true, "dishes": [], "conflicts": []})", ""});
    }
    void past_notices(TimeSpan span, Reply<Answer<PastNotices>> reply) override {
        asked_span = span;
        PastNotices past;
        past.notices = {{"n-2",
                         "kitchen-mail",
                         "cleared",
                         "above-band",
                         "stockpot",
                         "medium",
                         "stockpot is in its band again",
                         "delivered",
                         offset + 400'000,
                         {{offset + 401'000, "delivered", ""}}},
                        {"n-1",
                         "phone",
                         "raised",
                         "probe-silent",
                         "smoke",
                         "high",
                         "smoke: open",
                         "pending",
                         offset + 300'000,
                         {{offset + 301'000, "retry", "HTTP 500"}}}};
        past.last_delivered = {{"kitchen-mail", offset + 401'000}};
        reply({past, trouble});
    }
    void past_cooks(TimeSpan span, Reply<Answer<std::vector<PastCook>>> reply) override {
        asked_span = span;
        PastReadWith const with{{{"", "goose-core", offset + 3'600'000, {}}},
                                {{"stockpot", "stock", offset + 3'600'000, offset + 5'400'000},
                                 {"counter", "", offset + 5'400'000, {}}}};
        PastCook const tart{2, "tart", "egg-dish", "bake", offset + 600'000, offset + 1'200'000, false};
        reply(
            {{{3, "goose-roll", "ground-poultry", "poach", offset + 3'600'000, {}, false, with}, tart}, ""});
    }
    void export_page(ExportQuery query, std::string cursor, Reply<Answer<ExportPage>> reply) override {
        asked_export = query;
        int const page = cursor.empty() ? 0 : std::stoi(cursor);
        if (page == fails_at_page) return reply({{}, "the logbook is damaged"});
        auto text = page == 0 ? std::string("time,stock [degF]\r\n") : std::string();
        text += std::string(1000, static_cast<char>('0' + page)) + "\r\n";
        reply({{text, page == 3 ? "" : std::to_string(page + 1)}, ""});
        if (auto const then = std::exchange(after_a_page, {})) then();
    }
    void set_units(TemperatureUnit unit) { settings_.units = unit; }
    std::function<void()> after_a_page;

    bool clock_known = true, with_nan = false, never_answers = false;
    int fails_at_page = -1;
    std::string trouble;
    std::vector<Command> commands;
    HistoryQuery asked;
    TimeSpan asked_span;
    ExportQuery asked_export;
    std::vector<Reply<Answer<History>>> waiting;

private:
    Settings settings_;
    TimeZone zone_ = TimeZone::from_tz("EST5EDT,M3.2.0,M11.1.0").value();
};

}  // namespace ingle::test
