#include "daemon/run/app.hpp"

#include <spdlog/spdlog.h>

#include <chrono>
#include <filesystem>
#include <future>

#include "daemon/run/archive.hpp"
#include "daemon/run/core.hpp"
#include "daemon/run/failing.hpp"
#include "daemon/run/host.hpp"
#include "daemon/run/left_behind.hpp"
#include "daemon/run/log_sink.hpp"
#include "daemon/run/logbook_hold.hpp"
#include "daemon/run/notice_desk.hpp"
#include "daemon/run/other_logbook.hpp"
#include "daemon/run/probes.hpp"
#include "daemon/run/recording.hpp"
#include "daemon/run/serving.hpp"
#include "daemon/run/switches.hpp"
#include "daemon/run/wall_clock.hpp"
#include "daemon/web/server.hpp"
#include "daemon/wiring/state_folder.hpp"

namespace ingle {
namespace {

// The core's whole seconds are stepped this much late, so that a reading stamped within a second is in before
// it is judged: a recording of the same readings then gives the same alarms.
constexpr Span settle{250};
// The durable state goes with every change at once; this is for what only grows, such as accumulated minutes.
constexpr int remember_every_ticks = 60;
// Of a logbook that is closed while another one goes on: its readings are kept in memory for a day.
constexpr Span close_limit{86'400'000};
constexpr Span catch_up_slice{20};
constexpr Span patience_with_logbook{30'000};           // a slow card is no trouble before
constexpr std::int64_t release_ms = 1'782'864'000'000;  // 2026-07-01: no clock that says earlier is right

}  // namespace

struct App::Impl final : ReadingSink, std::enable_shared_from_this<App::Impl> {
    boost::asio::io_context& io;
    AppSettings given;
    Instant started = BootClock::now();  // with this kitchen file
    Instant running_since = started;     // the program, however often a file was read
    std::string logbook_file;
    std::shared_ptr<LogbookHold> logbook_hold;
    WallClock clock{release_ms};
    std::unique_ptr<logbook::Writer> writer;
    std::unique_ptr<NoticeDesk> notices;
    std::unique_ptr<Archive> archive, planner;  // a schedule takes long, and no other question waits for it
    std::promise<void> logbook_closed;          // the logbook is
    std::shared_future<void> when_closed = logbook_closed.get_future().share();
    std::unique_ptr<Core> core;
    std::unique_ptr<Probes> probes;
    std::unique_ptr<Host> host;
    std::unique_ptr<Server> server;
    ServiceManager& manager;
    Background& background;
    boost::asio::basic_waitable_timer<BootClock> timer;
    Failing failing_channels, lost_switches;
    Instant last_ping{};
    int ticks = 0;
    bool began = false, stopped = false, logbook_missed = false;
    bool logbook_trouble_inherited = false;  // until the first commit
    std::uint64_t handed_ticket = 0;  // of what was handed over; then the logbook is the one to look for

    Impl(boost::asio::io_context& context, AppSettings settings, ServiceManager& service_manager,
         Background& bg)
        : io(context), given(std::move(settings)), manager(service_manager), background(bg), timer(context) {}

    Settings const& settings() const { return given.kitchen; }  // not the core's, which go with it

    void build() {
        auto const other = not_the_logbook_of_before(given.state_folder,
                                                     logbook_path(given.state_folder, given.kitchen.logbook));
        make_parts(nullptr);
        auto resumed = writer->resume();
        if (!resumed.text.empty()) spdlog::warn("{}", resumed.text);
        notices->resume(resumed);
        auto const anchor = clock.anchor();
        core->recall(std::move(resumed), anchor.value_or(ClockAnchor{}));
        if (anchor) core->command(started, *anchor);
        if (auto const refused = writer->trouble()) not_recording(refused->text);
        if (!other.empty()) trouble("logbook-new", true, other, other);
    }

    void make_parts(Impl const* earlier) {
        make_logbook_folder(given.state_folder, given.kitchen.logbook);
        logbook_file = logbook_path(given.state_folder, given.kitchen.logbook).string();
        logbook_hold = earlier && same_logbook(earlier->logbook_file, logbook_file)
                           ? earlier->logbook_hold
                           : LogbookHold::take(given.state_folder, logbook_file);
        if (earlier) clock = earlier->clock, running_since = earlier->running_since;
        look_at_clock();
        make_writer(earlier);
        std::weak_ptr<Impl> const weak = weak_from_this();
        core = std::make_unique<Core>(
            given.kitchen, started, *writer,
            Core::Neighbours{[this](Tell const& tell) { notices->tell(tell, clock.anchor(), given.zone); },
                             [this](Effects const& effects) {
                                 log_what_is_not_restored(effects);
                                 if (server) server->publish(effects);
                                 if (server) notices->note(effects);
                             }});
        notices = std::make_unique<NoticeDesk>(
            io, settings(), given.state_folder, *writer, given.zone,
            [weak](std::string const& channel, bool present, std::string const& text) {
                if (auto const self = weak.lock()) self->channel_trouble(channel, present, text);
            },
            earlier ? earlier->notices.get() : nullptr);
        if (auto const anchor = clock.anchor()) notices->know_the_time(*anchor);
        for (auto* each : {&archive, &planner}) *each = std::make_unique<Archive>(io, logbook_file);
        probes = std::make_unique<Probes>(io, settings(), *this, log_line);
        host = std::make_unique<Host>(Host::Parts{*core, *archive, *planner, *writer, *notices, *probes,
                                                  running_since, given.zone, given.state_folder});
    }

    void make_writer(Impl const* earlier) {
        auto options = recording_of(given.kitchen, given.texts.text);
        options.path = logbook_file;
        options.started = started;
        options.clock = clock.anchor().value_or(ClockAnchor{});
        if (earlier && same_logbook(earlier->logbook_file, logbook_file))
            options.after = earlier->when_closed;
        logbook::Callbacks callbacks;
        // On the writer's thread, which may outlive this.
        auto const post = [&context = io, weak = weak_from_this()](auto what) {
            boost::asio::post(context, [weak, what] {
                if (auto const self = weak.lock(); self && !self->stopped) what(*self);
            });
        };
        callbacks.trouble = [post](logbook::Trouble const& t) {
            post([t](Impl& self) { self.not_recording(t.text); });
        };
        callbacks.recovered = [post](logbook::Recovered const& r) {
            post([r](Impl& self) { self.trouble("not-recording", false, r.text); });
        };
        callbacks.event = [post](std::string const& name, std::string const& text) {
            post([=](Impl& self) {
                self.core->command(BootClock::now(), DriverEvent{-1, name, text});
                if (name == "logbook-damaged") self.trouble(name, true, text, text);
                self.core->remember(BootClock::now());  // the file may be another one now
            });
        };
        callbacks.log = [](std::string const& line) { spdlog::warn("logbook: {}", line); };
        callbacks.durable = [post](std::uint64_t) {
            post([](Impl& self) {
                if (std::exchange(self.logbook_trouble_inherited, false))
                    self.trouble("not-recording", false, "recording again");
                if (self.handed_ticket != 0 && self.writer->durable() >= self.handed_ticket) {
                    self.handed_ticket = 0;
                    keep_logbook_path(self.given.state_folder, self.logbook_file);
                }
                self.host->settle(BootClock::now());
            });
        };
        callbacks.opened = [post](logbook::Resumed const& resumed) {
            post([resumed](Impl& self) { self.logbook_opened(resumed); });
        };
        writer = std::make_unique<logbook::Writer>(std::move(options), std::move(callbacks));
    }

    // Later than the core could wait for.
    void logbook_opened(logbook::Resumed const& resumed) {
        if (core->knows_the_past()) return;  // handed over: newer than what the file held
        notices->resume(resumed);
        core->recall(resumed, clock.anchor().value_or(ClockAnchor{}));
        if (!writer->trouble()) trouble("not-recording", false, "the logbook is open");
        catch_up();
    }

    // A second kitchen gets the thread for a short while at a time, so that the first one goes on watching.
    void catch_up() {
        if (stopped || !core->catch_up(catch_up_slice)) return;
        boost::asio::post(io, [self = shared_from_this()] { self->catch_up(); });
    }

    void start() {
        server = std::make_unique<Server>(io, *host, serving(settings(), given.state_folder));
        server->start();
        keep_logbook_path(given.state_folder, logbook_file);
        begin();
    }

    void begin() {
        began = true;
        probes->start();
        notices->prove();
        spdlog::info("{}: {} probes, {} vessels, state in {}", settings().name, settings().probes.size(),
                     settings().vessels.size(), given.state_folder);
        manager.ready(settings().name);
        last_ping = BootClock::now();
        next_tick(last_ping);
    }

    void take_over(Impl& earlier) {
        check_running_cooks(earlier.core->view(), earlier.settings(), settings());
        earlier.server->go_on(*host, serving(settings(), given.state_folder));
        server = std::move(earlier.server);
        probes->take_from(*earlier.probes);
        lost_switches = earlier.lost_switches;
        lost_switches.keep_only([&](auto const& name) { return probes->goes_on(name); });
        earlier.stop_watching();
        notices->take_over();
        core->go_on(handed_over(earlier.core->state(), BootClock::now()), clock.anchor());
        core->inherit(*earlier.core);
        catch_up();
        if (!same_logbook(earlier.logbook_file, logbook_file)) core->record_running_cooks();
        handed_ticket = core->remember(BootClock::now());
        failing_channels = earlier.failing_channels;
        failing_channels.keep_only(
            [&](auto const& channel) { return number_of(settings().channels, channel) >= 0; });
        if (!earlier.failing_channels.empty())
            tell_channel_trouble("the channel that did not deliver is not there any more");
        if (auto const why = earlier.writer->trouble())
            logbook_trouble_inherited = true, not_recording(why->text);
        earlier.close(close_limit, true);
        begin();
        // The socket's time says since when this kitchen answers there.
        background.run([socket = serving(settings(), given.state_folder).socket] {
            std::error_code none;
            std::filesystem::last_write_time(socket, std::filesystem::file_time_type::clock::now(), none);
        });
    }

    void stop_watching() {
        timer.cancel();
        host->retire();
        probes->stop();
        core->advance(BootClock::now());
        core->remember(BootClock::now());
        stopped = true;
    }

    // What waits for a disk or a mail server ends on its own time: the logbook first, for the next one waits
    // for it. Who asked this kitchen something before another one came still gets its answer.
    void close(Span limit, bool answers) {
        background.run([self = shared_from_this(), limit, answers]() mutable {
            self->writer->stop(limit);
            self->logbook_closed.set_value();
            if (answers) boost::asio::post(self->io, [self] { self->host->settle_all(); });
            self->notices->stop();
            for (auto* each : {self->archive.get(), self->planner.get()})
                answers ? each->finish() : each->stop();
            // The rest goes on the io thread, after what the closed connections still have to do there.
            boost::asio::post(self->io, [self] {
                self->notices->leave_tests();
                self->timer.expires_after(std::chrono::seconds(2));
                self->timer.async_wait([self](boost::system::error_code) {});
            });
            self.reset();
        });
    }

    void stop() {
        if (stopped) return;
        if (server) server->stop();
        stop_watching();
        close(began ? close_limit : Span(0), false);
    }

    // The next whole second of the core's grid, plus the settling time.
    void next_tick(Instant now) {
        auto const passed = (now - started - settle).count();
        timer.expires_at(started + settle + Span(passed < 0 ? 0 : (passed / 1000 + 1) * 1000));
        timer.async_wait([self = shared_from_this()](boost::system::error_code failed) {
            if (!failed && !self->stopped) self->tick();
        });
    }

    void tick() {
        auto const now = BootClock::now();
        if (auto const anchor = look_at_clock()) {
            writer->anchor(now, *anchor);
            core->command(now, *anchor);
            notices->know_the_time(*anchor);
            catch_up();
        }
        core->advance(now - settle);
        if (!core->knows_the_past() && now - started >= patience_with_logbook &&
            !std::exchange(logbook_missed, true) && !writer->trouble())
            not_recording("the logbook " + logbook_file + " does not open: readings wait in memory");
        // The writer of before has not let go of it.
        if (!logbook_trouble_inherited && !writer->counts().last_commit)
            if (auto const waits = writer->trouble())
                logbook_trouble_inherited = true, not_recording(waits->text);
        if (++ticks % remember_every_ticks == 0) core->remember(now);
        host->settle(now);
        if (server) server->look_after_socket();
        notices->show();
        notices->give_signs_of_life([this, now] { return host->sign_of_life(now); });
        next_tick(now);
        if (!probes->all_heard(now)) return;
        notices->went_round([this, now] { return host->sign_of_life(now); });
        if (manager.ping_every() && now - last_ping >= *manager.ping_every() - Span(1000))
            manager.alive(), last_ping = now;
    }

    std::optional<ClockAnchor> look_at_clock() {
        auto const wall = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
        return clock.look(BootClock::now(), wall, clock.proven() || clock_proven(wall));
    }

    void trouble(std::string const& alarm, bool present, std::string const& text,
                 std::string const& joined = "", std::vector<std::string> channels = {}) {
        if (stopped) return;
        spdlog::log(present ? spdlog::level::warn : spdlog::level::info, "{}: {}", alarm, text);
        core->command(BootClock::now(), KitchenTrouble{alarm, present, text, joined, std::move(channels)});
    }

    void not_recording(std::string const& why) {
        trouble("not-recording", true, "Nothing is recorded: " + why);
    }
    void channel_trouble(std::string const& channel, bool present, std::string const& text) {
        bool const joins = present && failing_channels.add(channel, text);
        if (!present) failing_channels.remove(channel);
        tell_channel_trouble(text, joins ? channel : "");
    }
    void tell_channel_trouble(std::string const& text, std::string const& joined = "") {
        auto channels = failing_channels.names();
        for (auto const& channel : settings().channels)
            if (!carries_notices(channel)) channels.push_back(channel.name);
        tell_all("not-delivered", failing_channels, text, joined, std::move(channels));
    }
    // One alarm for all that fail: it ends with the last of them, for the reason `over`.
    void tell_all(std::string const& alarm, Failing const& failing, std::string const& over,
                  std::string const& joined, std::vector<std::string> channels = {}) {
        trouble(alarm, !failing.empty(), failing.empty() ? over : failing.text(), joined,
                std::move(channels));
    }
    void switch_event(int probe, bool lost, std::string const& text) {
        auto const& name = settings().probes[static_cast<std::size_t>(probe)].name;
        bool const changed = lost ? lost_switches.add(name, name + ": " + text) : lost_switches.remove(name);
        if (changed) tell_all("switch-lost", lost_switches, name + ": " + text, lost ? name : "");
    }

    void on_reading(int probe, Reading reading) override {
        if (stopped) return;
        probes->heard(probe, BootClock::now());
        core->take(probe, reading);
    }
    void on_driver_event(int probe, std::string_view event, std::string text) override {
        if (stopped) return;
        if (event == "recording-ended" && probe >= 0) probes->has_ended(probe);
        if (event == "switch-lost" || event == "switch-found")
            switch_event(probe, event == "switch-lost", text);
        core->command(BootClock::now(), DriverEvent{probe, std::string(event), std::move(text)});
    }
    void on_switch(int probe, Instant at, bool closed) override {
        if (stopped) return;
        probes->heard(probe, BootClock::now());
        for (auto const& command : commands_of_switch(settings(), probe, closed)) core->command(at, command);
    }
};

App::App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager, Background& background)
    : impl_(std::make_shared<Impl>(io, std::move(settings), manager, background)) {
    impl_->build();
}
App::App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager, Background& background,
         App const& earlier)
    : impl_(std::make_shared<Impl>(io, std::move(settings), manager, background)) {
    impl_->make_parts(earlier.impl_.get());
}
App::~App() {
    impl_->stop();
}
void App::start() {
    impl_->start();
}
void App::take_over(App& earlier) {
    impl_->take_over(*earlier.impl_);
}
void App::stop() {
    impl_->stop();
}
std::string App::not_recorded() const {
    return ingle::not_recorded(*impl_->writer, knows_the_past(), BootClock::now());
}
bool App::knows_the_past() const {
    return impl_->core->knows_the_past();
}
Settings const& App::settings() const {
    return impl_->settings();
}
std::function<bool()> App::remember() {
    return [&writer = *impl_->writer, ticket = impl_->core->remember(BootClock::now())] {
        return writer.durable() >= ticket;
    };
}
void App::kitchen_file(std::string const& alarm, std::string const& in_short, std::string const& event,
                       bool anew) {
    if (!event.empty()) impl_->on_driver_event(-1, "reload-refused", event);
    impl_->core->command(BootClock::now(),
                         KitchenTrouble{alarm, !in_short.empty(), in_short, anew ? in_short : ""});
}

}  // namespace ingle
