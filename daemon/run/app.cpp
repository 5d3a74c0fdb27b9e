#include "daemon/run/app.hpp"

#include <spdlog/spdlog.h>

#include <chrono>
#include <map>
#include <stdexcept>

#include "daemon/run/archive.hpp"
#include "daemon/run/core.hpp"
#include "daemon/run/host.hpp"
#include "daemon/run/names.hpp"
#include "daemon/run/notice_desk.hpp"
#include "daemon/run/probes.hpp"
#include "daemon/run/switches.hpp"
#include "daemon/run/wall_clock.hpp"
#include "daemon/web/server.hpp"

namespace ingle {
namespace {

// The core's whole seconds are stepped this much late, so that a reading stamped within a second is in before
// it is judged: a recording of the same readings then gives the same alarms.
constexpr Span settle{250};
// The durable state goes with every change at once; this is for what only grows, such as accumulated minutes.
constexpr int remember_every_ticks = 60;
constexpr std::int64_t release_ms = 1'782'864'000'000;  // 2026-07-01: no clock that says earlier is right

std::vector<logbook::ProbeIdentity> identities(Settings const& settings) {
    std::vector<logbook::ProbeIdentity> list;
    for (auto const& probe : settings.probes)
        list.push_back({probe.name, probe.driver, device_of(probe), probe.calibration});
    return list;
}

template <class T>
std::vector<std::string> names(std::vector<T> const& list) {
    std::vector<std::string> result;
    for (auto const& item : list) result.push_back(item.name);
    return result;
}

void log_line(Severity severity, std::string const& text) {
    if (severity == Severity::trouble)
        spdlog::warn("{}", text);
    else if (severity == Severity::note)
        spdlog::info("{}", text);
    else
        spdlog::debug("{}", text);
}

}  // namespace

struct App::Impl final : ReadingSink, std::enable_shared_from_this<App::Impl> {
    boost::asio::io_context& io;
    AppSettings given;
    Instant started = BootClock::now();
    std::string logbook_path;
    WallClock clock{release_ms};
    std::unique_ptr<logbook::Writer> writer;
    std::unique_ptr<NoticeDesk> notices;
    std::unique_ptr<Core> core;
    std::unique_ptr<Archive> archive;
    std::unique_ptr<Probes> probes;
    std::unique_ptr<Host> host;
    std::unique_ptr<Server> server;
    ServiceManager& manager;
    boost::asio::basic_waitable_timer<BootClock> timer;
    std::map<std::string, std::string> failing_channels;
    Instant last_ping{};
    int ticks = 0;
    bool stopped = false;

    Impl(boost::asio::io_context& context, AppSettings settings, ServiceManager& service_manager)
        : io(context), given(std::move(settings)), manager(service_manager), timer(context) {}

    Settings const& settings() const { return core ? core->settings() : given.kitchen; }

    void build() {
        logbook_path = given.kitchen.logbook;
        if (!logbook_path.starts_with('/')) logbook_path = given.state_folder + '/' + logbook_path;
        auto const anchor = look_at_clock();
        make_writer(anchor.value_or(ClockAnchor{}));
        auto resumed = writer->resume();
        if (!resumed.text.empty()) spdlog::warn("{}", resumed.text);

        core = std::make_unique<Core>(
            given.kitchen, started, *writer,
            Core::Neighbours{[this](Tell const& tell) { notices->tell(tell, clock.anchor()); },
                             [this](Effects const& effects) {
                                 if (server) server->publish(effects);
                             }});
        notices = std::make_unique<NoticeDesk>(
            io, settings(), given.state_folder, *writer,
            [this](std::string const& channel, bool present, std::string const& text) {
                channel_trouble(channel, present, text);
            });
        notices->resume(resumed.pending);
        core->recall(resumed);
        if (anchor) core->command(started, *anchor);
        if (!resumed.recording) trouble("not-recording", true, resumed.text);

        archive = std::make_unique<Archive>(io, logbook_path);
        probes = std::make_unique<Probes>(io, settings(), *this, log_line);
        host = std::make_unique<Host>(
            Host::Parts{*core, *archive, *writer, *notices, *probes, logbook_path, started});
        make_server();
    }

    void make_writer(ClockAnchor const& anchor) {
        logbook::WriterOptions options;
        options.path = logbook_path;
        options.probes = identities(given.kitchen);
        options.vessels = names(given.kitchen.vessels);
        options.dishes = names(given.kitchen.dishes);
        options.settings = given.kitchen_text;
        options.zone = given.kitchen.zone;
        options.boot_id = boot_id();
        options.started = started;
        options.clock = anchor;
        logbook::Callbacks callbacks;
        auto const post = [this](auto what) { boost::asio::post(io, std::move(what)); };
        callbacks.trouble = [=, this](logbook::Trouble const& t) {
            post([=, this] { trouble("not-recording", true, t.text); });
        };
        callbacks.recovered = [=, this](logbook::Recovered const& r) {
            post([=, this] {
                if (host) host->lost(r.lost);
                trouble("not-recording", false, r.text);
            });
        };
        callbacks.event = [=, this](std::string const& name, std::string const& text) {
            post([=, this] {
                if (!stopped) core->command(BootClock::now(), DriverEvent{-1, name, text});
            });
        };
        callbacks.log = [](std::string const& line) { spdlog::warn("logbook: {}", line); };
        callbacks.durable = [=, this](std::uint64_t) {
            post([this] {
                if (host && !stopped) host->settle(BootClock::now());
            });
        };
        writer = std::make_unique<logbook::Writer>(std::move(options), std::move(callbacks));
    }

    void make_server() {
        ServerSettings serve;
        serve.socket = given.state_folder + "/ingled.sock";
        if (auto const& tcp = given.kitchen.serve; tcp.tcp)
            serve.tcp = ServerSettings::Tcp{tcp.address, tcp.port, tcp.token};
        server = std::make_unique<Server>(io, *host, serve);
    }

    void start() {
        server->start();
        probes->start();
        spdlog::info("{}: {} probes, {} vessels, state in {}", settings().name, settings().probes.size(),
                     settings().vessels.size(), given.state_folder);
        manager.ready(settings().name);
        last_ping = BootClock::now();
        next_tick(last_ping);
    }

    void stop() {
        if (std::exchange(stopped, true)) return;
        timer.cancel();
        probes->stop();
        server->stop();
        core->advance(BootClock::now());
        core->remember(BootClock::now());
        notices->stop();
        writer->stop();
        archive.reset();
        io.stop();
    }

    // The next whole second of the core's grid, plus the settling time.
    void next_tick(Instant now) {
        auto const passed = (now - started - settle).count();
        auto const next = passed < 0 ? 0 : (passed / 1000 + 1) * 1000;
        timer.expires_at(started + settle + Span(next));
        timer.async_wait([self = shared_from_this()](boost::system::error_code failed) {
            if (!failed && !self->stopped) self->tick();
        });
    }

    void tick() {
        auto const now = BootClock::now();
        if (auto const anchor = look_at_clock()) {
            writer->anchor(now, *anchor);
            core->command(now, *anchor);
            notices->clock_was_set();
        }
        core->advance(now - settle);
        if (++ticks % remember_every_ticks == 0) core->remember(now);
        host->settle(now);
        if (manager.ping_every() && now - last_ping >= *manager.ping_every() - Span(1000) &&
            probes->all_heard(now)) {
            manager.alive();
            last_ping = now;
        }
        next_tick(now);
    }

    std::optional<ClockAnchor> look_at_clock() {
        auto const wall = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
        return clock.look(BootClock::now(), wall, clock_synchronised());
    }

    void trouble(std::string const& alarm, bool present, std::string const& text) {
        if (stopped) return;
        spdlog::log(present ? spdlog::level::warn : spdlog::level::info, "{}: {}", alarm, text);
        core->command(BootClock::now(), KitchenTrouble{alarm, present, text});
    }

    // One alarm for all channels: it ends when the last of them delivers again.
    void channel_trouble(std::string const& channel, bool present, std::string const& text) {
        if (present)
            failing_channels[channel] = text;
        else
            failing_channels.erase(channel);
        std::string all;
        for (auto const& [name, why] : failing_channels) all += (all.empty() ? "" : "; ") + why;
        trouble("not-delivered", !all.empty(), all.empty() ? text : all);
    }

    void on_reading(int probe, Reading reading) override {
        if (stopped) return;
        probes->heard(probe, BootClock::now());
        core->take(probe, reading);
    }
    void on_driver_event(int probe, std::string_view event, std::string text) override {
        if (!stopped)
            core->command(BootClock::now(), DriverEvent{probe, std::string(event), std::move(text)});
    }
    void on_switch(int probe, Instant at, bool closed) override {
        if (stopped) return;
        probes->heard(probe, BootClock::now());
        for (auto const& command : commands_of_switch(settings(), probe, closed)) core->command(at, command);
    }
};

App::App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager)
    : impl_(std::make_shared<Impl>(io, std::move(settings), manager)) {
    impl_->build();
}
App::~App() {
    impl_->stop();
}
void App::start() {
    impl_->start();
}
void App::stop() {
    impl_->stop();
}
void App::tell(std::string event, std::string text) {
    impl_->on_driver_event(-1, event, std::move(text));
}

}  // namespace ingle
