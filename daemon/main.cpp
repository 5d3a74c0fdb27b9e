// ingled: arguments, the kitchen file, signals; the rest is daemon/run.
#include <curl/curl.h>
#include <fcntl.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <sys/file.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "config/load.hpp"
#include "daemon/notices/notifier.hpp"
#include "daemon/run/app.hpp"
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

// Every time that is printed is in the kitchen's own zone. Before any thread starts; false: no such zone
// here.
bool use_zone(std::string const& zone) {
    if (zone.empty()) return true;
    if (zone.starts_with('/') || zone.find("..") != std::string::npos ||
        !fs::is_regular_file("/usr/share/zoneinfo/" + zone))
        return false;
    setenv("TZ", zone.c_str(), 1);
    tzset();
    return true;
}

int run(fs::path const& kitchen, fs::path const& state) {
    auto loaded = ingle::load_kitchen(kitchen, {kitchen.parent_path() / "../plans"});
    auto errors = loaded.errors;
    if (errors.empty()) {
        errors = ingle::wiring_problems(loaded.settings);
        for (auto& problem : ingle::channel_problems(loaded.settings)) errors.push_back(std::move(problem));
    }
    for (auto const& warning : loaded.warnings) spdlog::warn("{}", warning.text());
    for (auto const& error : errors) std::cerr << error.text() << '\n';
    if (!errors.empty()) return 2;

    if (!use_zone(loaded.settings.zone)) {
        std::cerr << kitchen.string() << ": kitchen.zone: there is no time zone \"" << loaded.settings.zone
                  << "\" on this machine, write a name such as \"Europe/Berlin\" (Debian's package tzdata)\n";
        return 2;
    }
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
    std::ostringstream text;
    text << std::ifstream(kitchen).rdbuf();

    boost::asio::io_context io(1);
    ingle::App app(io, {std::move(loaded.settings), text.str(), state.string()});
    boost::asio::signal_set signals(io, SIGINT, SIGTERM);
    signals.async_wait([&](auto const& failed, int) {
        if (!failed) app.stop();
    });
    app.start();
    io.run();
    return 0;
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
