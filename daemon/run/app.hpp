// Everything put together: drivers, core, logbook, notices, API. One object per set of settings, owned by
// main, on the io thread. What may hang (devices, the disk, mail servers) has its own threads and never holds
// this one up.
#pragma once

#include <memory>
#include <string>

#include "config/civil_time/time_zone.hpp"
#include "config/settings.hpp"
#include "daemon/run/background.hpp"
#include "daemon/run/service_manager.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

struct AppSettings {
    Settings kitchen;
    std::string kitchen_text;  // the file as it was read, for the record
    std::string state_folder;  // exists and is writable
    TimeZone zone;             // in which times are told
};

class App {
public:
    // Throws std::runtime_error with a sentence where it cannot start. What hangs at the end of its life is
    // left to `background`.
    App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager, Background& background);
    // With other settings, to take over from `earlier`, which goes on watching until then.
    App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager, Background& background,
        App const& earlier);
    ~App();

    void start();
    // Takes over cooks, alarms, notices and the logbook within one turn of the thread; nothing that can hang
    // is waited for. Throws where it cannot (a port that another program has): `earlier` goes on.
    void take_over(App& earlier);
    void stop();                       // idempotent; what may hang ends in the background
    std::string not_recorded() const;  // of what it saw, as a sentence; "" = nothing is lost
    bool knows_the_past() const;       // what the logbook held; else nothing may take over
    // The changed kitchen file cannot be used, and why ("": it can): an event, and an alarm until it can.
    void change_refused(std::string const& why, std::string const& in_short);

private:
    struct Impl;
    std::shared_ptr<Impl> impl_;
};

}  // namespace ingle
