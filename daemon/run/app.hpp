// Everything put together: drivers, core, logbook, notices, API. One object per set of settings, owned by
// main, on the io thread. What may hang (devices, the disk, mail servers) has its own threads and never holds
// this one up.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "config/civil_time/time_zone.hpp"
#include "config/load.hpp"
#include "daemon/run/background.hpp"
#include "daemon/run/service_manager.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

struct AppSettings {
    Settings kitchen;
    KitchenTexts texts;        // the files as they were read
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
    Settings const& settings() const;
    // What is known now goes to the disk; says whether it is there. Not beyond this object's life.
    std::function<bool()> remember();
    // Raises one of the alarms "kitchen-file-...", or ends it (""), with an event if there is more to say.
    // `anew`: what is not known yet is told although somebody has seen the alarm.
    void kitchen_file(std::string const& alarm, std::string const& in_short, std::string const& event = "",
                      bool anew = false);

private:
    struct Impl;
    std::shared_ptr<Impl> impl_;
};

}  // namespace ingle
