// The drivers of a kitchen: made from its probes, started, stopped, and heard. io thread.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "drivers/api/driver.hpp"

namespace ingle {

class Probes {
public:
    using Log = std::function<void(Severity, std::string)>;

    // A driver that cannot be made is left out: its probes report why, and the others run.
    Probes(boost::asio::io_context& io, Settings const& settings, ReadingSink& sink, Log log);

    void start();
    void stop();

    // Every probe that should have been heard by now was heard: a reading, or a fault that its driver
    // reports. A contact speaks only when it changes, and a recording that has ended says nothing more.
    bool all_heard(Instant now) const;
    void heard(int probe, Instant at) { heard_[static_cast<std::size_t>(probe)] = at; }
    void has_ended(int probe) { ended_[static_cast<std::size_t>(probe)] = true; }
    std::string const& trouble(int probe) const { return trouble_[static_cast<std::size_t>(probe)]; }

private:
    Settings const& settings_;
    ReadingSink& sink_;
    std::vector<std::shared_ptr<Driver>> drivers_;
    std::vector<std::string> trouble_;
    std::vector<Instant> heard_;
    std::vector<bool> ended_;
};

}  // namespace ingle
