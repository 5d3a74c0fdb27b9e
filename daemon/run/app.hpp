// Everything put together: drivers, core, logbook, notices, API. One object per set of settings, owned by
// main, on the io thread. What may hang (devices, the disk, mail servers) has its own threads and never holds
// this one up.
#pragma once

#include <memory>
#include <string>

#include "config/settings.hpp"
#include "daemon/run/service_manager.hpp"
#include "drivers/api/asio.hpp"

namespace ingle {

struct AppSettings {
    Settings kitchen;
    std::string kitchen_text;  // the file as it was read, for the record
    std::string state_folder;  // exists and is writable
};

class App {
public:
    // Throws std::runtime_error with a sentence where it cannot start.
    App(boost::asio::io_context& io, AppSettings settings, ServiceManager& manager);
    ~App();

    void start();
    void stop();                                     // idempotent; the io_context runs out of work soon after
    void tell(std::string event, std::string text);  // an event of the kitchen, for the record

private:
    struct Impl;
    std::shared_ptr<Impl> impl_;
};

}  // namespace ingle
