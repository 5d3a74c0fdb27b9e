// The daemon as it is shipped, on a disk that loses power: for power_cut_test.py. All of it runs in earnest;
// only SQLite's calls to the file system go through a shim that forgets, tears or keeps each write that no
// sync has made durable, writes down what the disk would hold, and ends the process in that very call.
// Usage: cut_daemon KITCHEN STATE WRITES SURVIVORS SEED. WRITES: the cut is at that write; SIGUSR1: at the
// next one.
#include <curl/curl.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <cstdio>
#include <utility>

#include "config/load.hpp"
#include "daemon/run/app.hpp"
#include "tests/unit/daemon/logbook/shim_vfs.hpp"

int main(int argc, char** argv) {
    if (argc != 6) return std::fprintf(stderr, "cut_daemon KITCHEN STATE WRITES SURVIVORS SEED\n"), 2;
    ingle::logbook::testing::ShimVfs disk("losing-power");
    disk.keep_images();
    disk.make_default();
    disk.die_at_the_cut(argv[4], static_cast<unsigned>(std::atoi(argv[5])));
    disk.cut_power_at(std::atoll(argv[3]));

    curl_global_init(CURL_GLOBAL_DEFAULT);
    spdlog::set_default_logger(spdlog::stderr_logger_mt("cut_daemon"));
    auto loaded = ingle::load_kitchen(argv[1], {});
    for (auto const& error : loaded.errors) std::fprintf(stderr, "%s\n", error.text().c_str());
    if (!loaded.errors.empty()) return 2;
    boost::asio::io_context io(1);
    ingle::ServiceManager manager;
    ingle::Background background;
    ingle::App app(io, {std::move(loaded.settings), std::move(loaded.texts), argv[2]}, manager, background);
    boost::asio::signal_set power(io, SIGUSR1);
    power.async_wait([&](auto const& failed, int) {
        if (!failed) disk.cut_power_at(1);
    });
    app.start();
    io.run();
}
