#include "daemon/run/probes.hpp"

#include <algorithm>
#include <exception>

#include "daemon/wiring/wiring.hpp"

namespace ingle {
namespace {

// A driver reports silence itself after some periods; only one that is dead altogether stays quiet for this
// long.
constexpr double quiet_periods = 20;
constexpr double quiet_least_s = 60;

}  // namespace

Probes::Probes(boost::asio::io_context& io, Settings const& settings, ReadingSink& sink, Log log)
    : settings_(settings),
      sink_(sink),
      trouble_(settings.probes.size()),
      heard_(settings.probes.size(), BootClock::now()),
      ended_(settings.probes.size(), false) {
    auto const commons = std::make_shared<Commons>();
    for (auto& group : group_probes(settings)) {
        auto const probes = group.probes;
        try {
            drivers_.push_back(group.driver->make({io, sink, log, commons}, std::move(group.probes)));
        } catch (std::exception const& error) {
            log(Severity::trouble, std::string(group.driver->name) + ": " + error.what());
            for (auto const& probe : probes) trouble_[static_cast<std::size_t>(probe.number)] = error.what();
        }
    }
}

void Probes::start() {
    for (auto const& driver : drivers_) driver->start();
    for (std::size_t probe = 0; probe < trouble_.size(); ++probe)
        if (!trouble_[probe].empty())
            sink_.on_reading(static_cast<int>(probe),
                             Reading::faulty(BootClock::now(), FaultKind::absent, trouble_[probe]));
}

void Probes::stop() {
    for (auto const& driver : drivers_) driver->stop();
}

bool Probes::all_heard(Instant now) const {
    for (std::size_t probe = 0; probe < heard_.size(); ++probe) {
        if (settings_.probes[probe].contact || ended_[probe]) continue;
        auto const limit = std::max(quiet_least_s, quiet_periods * settings_.probes[probe].every.seconds);
        if (trouble_[probe].empty() && seconds(now - heard_[probe]) > limit) return false;
    }
    return true;
}

}  // namespace ingle
