// ingled: arguments, the kitchen file, signals; the rest is daemon/run.
#include <curl/curl.h>
#include <fcntl.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <sys/file.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iostream>
#include <optional>
#include <sstream>
#include <utility>

#include "config/settings.hpp"
#include "daemon/run/app.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "daemon/wiring/wiring.hpp"

namespace {

namespace fs = std::filesystem;

fs::path default_state() {
    for (auto const& [name, below] : {std::pair{"INGLE_STATE", ""},
                                      {"STATE_DIRECTORY", ""},
                                      {"XDG_STATE_HOME", "ingle"},
                                      {"HOME", ".local/state/ingle"}})
        if (char const* value = std::getenv(name); value && *value) return fs::path(value) / below;
    return "/var/lib/ingle";
}

// Holds the state directory for this process; -1 if another one has it.
int lock_state(fs::path const& folder) {
    int const fd = open((folder / "ingled.lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (fd < 0) return -1;
    return flock(fd, LOCK_EX | LOCK_NB) == 0 ? fd : -1;
}

// Every time that is printed is in the kitchen's own zone. Only while no other thread runs.
void use_zone(std::string const& zone) {
    if (!zone.empty()) setenv("TZ", zone.c_str(), 1);
    tzset();
}

std::string text_of(fs::path const& file) {
    std::ostringstream text;
    text << std::ifstream(file).rdbuf();
    return text.str();
}

// Signals wait while there is nobody to hear them: at the start, and between two sets of settings. Threads
// that are made meanwhile never take them.
void handle_signals(bool now) {
    sigset_t set;
    sigemptyset(&set);
    for (int const signal : {SIGINT, SIGTERM, SIGHUP}) sigaddset(&set, signal);
    pthread_sigmask(now ? SIG_UNBLOCK : SIG_BLOCK, &set, nullptr);
}

// The kitchen file with all that can be wrong with it, told to `complain`; empty: it cannot be used.
std::optional<ingle::Settings> read_kitchen(fs::path const& kitchen,
                                            std::function<void(std::string const&)> const& complain) {
    auto loaded = ingle::load_kitchen_for_use(kitchen);
    for (auto const& warning : loaded.warnings) spdlog::warn("{}", warning.text());
    for (auto const& error : loaded.errors) complain(error.text());
    if (!loaded.errors.empty()) return std::nullopt;
    mark_contacts(loaded.settings);
    return std::move(loaded.settings);
}

// One life of the daemon on one set of settings; returns the next set if a changed file ended it.
std::optional<ingle::AppSettings> serve(ingle::AppSettings settings, fs::path const& kitchen,
                                        ingle::ServiceManager& manager) {
    std::optional<ingle::AppSettings> next;
    use_zone(settings.kitchen.zone);
    boost::asio::io_context io(1);
    ingle::App app(io, settings, manager);
    boost::asio::signal_set quit(io, SIGINT, SIGTERM), reload(io, SIGHUP);
    quit.async_wait([&](auto const& failed, int) {
        if (failed) return;
        manager.stopping();
        app.stop();
    });
    std::function<void()> const await_reload = [&] {
        reload.async_wait([&](auto const& failed, int) {
            if (failed) return;
            std::string complaints;
            auto read = read_kitchen(kitchen, [&](std::string const& sentence) {
                spdlog::error("{}", sentence);
                complaints += (complaints.empty() ? "" : "; ") + sentence;
            });
            if (read) {
                next = ingle::AppSettings{std::move(*read), text_of(kitchen), settings.state_folder};
                manager.reloading();
                app.stop();
                return;
            }
            app.tell("reload-refused",
                     "The changed kitchen file has mistakes, the earlier one goes on: " + complaints);
            await_reload();
        });
    };
    await_reload();
    app.start();
    handle_signals(true);
    io.run();
    handle_signals(false);
    return next;
}

int run(fs::path const& kitchen, fs::path const& state) {
    auto settings = read_kitchen(kitchen, [](std::string const& sentence) { std::cerr << sentence << '\n'; });
    if (!settings) return 2;
    std::error_code error;
    fs::create_directories(state, error);
    if (error || access(state.c_str(), W_OK) != 0) {
        std::cerr << "ingled: the state directory " << state.string()
                  << " cannot be written; choose one with --state\n";
        return 1;
    }
    if (lock_state(state) < 0) {
        std::cerr << "ingled: another ingled runs on " << state.string()
                  << "; stop it, or choose another --state\n";
        return 1;
    }
    ingle::AppSettings current{std::move(*settings), text_of(kitchen), state.string()};
    ingle::ServiceManager manager;
    bool proven = false;  // `current` has run before
    ingle::AppSettings earlier = current;
    for (;;) {
        try {
            auto next = serve(current, kitchen, manager);
            if (!next) return 0;
            spdlog::info("{} was read again; going on with it", kitchen.string());
            earlier = std::exchange(current, std::move(*next));
            proven = true;
        } catch (std::exception const& failure) {
            if (!proven) throw;
            spdlog::error("the changed kitchen file cannot be used, the earlier one goes on: {}",
                          failure.what());
            current = earlier;
            proven = false;
        }
    }
}

}  // namespace

int main(int argc, char* argv[]) {
    CLI::App options("Watches the temperatures of a kitchen.\nExample: ingled --kitchen kitchen.toml",
                     "ingled");
    std::string kitchen, state = default_state().string();
    options.add_option("--kitchen", kitchen, "the kitchen file (TOML)")->required();
    options.add_option("--state", state, "folder of the logbook and the socket")->capture_default_str();
    options.set_version_flag("--version", INGLE_VERSION);
    try {
        options.parse(argc, argv);
    } catch (CLI::ParseError const& error) {
        return options.exit(error) == 0 ? 0 : 2;
    }
    handle_signals(false);
    curl_global_init(CURL_GLOBAL_DEFAULT);  // before any thread
    spdlog::set_default_logger(spdlog::stderr_logger_mt("ingled"));
    spdlog::set_pattern("%Y-%m-%dT%H:%M:%S%z %l: %v");
    try {
        return run(kitchen, state);
    } catch (std::exception const& error) {
        std::cerr << "ingled: " << error.what() << '\n';
        return 1;
    }
}
