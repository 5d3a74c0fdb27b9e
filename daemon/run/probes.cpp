#include "daemon/run/probes.hpp"

#include <sys/stat.h>

#include <algorithm>
#include <exception>
#include <utility>

namespace ingle {
namespace {

// A driver reports silence itself after some periods; only one that is dead altogether stays quiet for this
// long.
constexpr double quiet_periods = 20;
constexpr double quiet_least_s = 60;

// To be compared with itself only: which files these are, and as of when.
std::string files_of(DriverInfo const& driver, std::vector<ProbeWiring> const& probes) {
    std::string files;
    for (auto const& option : driver.options) {
        if (!names_a_file(option.kind)) continue;
        for (auto const& probe : probes) {
            struct stat file {};
            auto const path = probe.options.text(option.name);
            if (path.empty() || ::stat(path.c_str(), &file) != 0) continue;
            files += std::to_string(file.st_dev) + ":" + std::to_string(file.st_ino) + ":" +
                     std::to_string(file.st_size) + ":" + std::to_string(file.st_mtim.tv_sec) + "." +
                     std::to_string(file.st_mtim.tv_nsec) + " ";
        }
    }
    return files;
}

}  // namespace

void Probes::Relay::on_reading(int probe, Reading reading) {
    to->on_reading(number.at(probe), std::move(reading));
}

void Probes::Relay::on_driver_event(int probe, std::string_view event, std::string text) {
    to->on_driver_event(probe < 0 ? probe : number.at(probe), event, std::move(text));
}

void Probes::Relay::on_switch(int probe, Instant at, bool closed) {
    to->on_switch(number.at(probe), at, closed);
}

Probes::Probes(boost::asio::io_context& io, Settings const& settings, ReadingSink& sink, Log log)
    : settings_(settings),
      sink_(sink),
      trouble_(settings.probes.size()),
      heard_(settings.probes.size(), BootClock::now()),
      ended_(settings.probes.size(), false) {
    auto const commons = std::make_shared<Commons>();
    for (auto& group : group_probes(settings)) {
        auto const probes = group.probes;
        auto relay = std::make_unique<Relay>(sink);
        for (auto const& probe : probes) relay->number[probe.number] = probe.number;
        auto const shared = commons->asked();
        try {
            auto driver = group.driver->make({io, *relay, log, commons}, std::move(group.probes));
            sources_.push_back({group.driver, probes, files_of(*group.driver, probes),
                                commons->asked() > shared, std::move(relay), std::move(driver)});
        } catch (std::exception const& error) {
            log(Severity::trouble, std::string(group.driver->name) + ": " + error.what());
            for (auto const& probe : probes) trouble_[static_cast<std::size_t>(probe.number)] = error.what();
        }
    }
}

bool Probes::alike(Source const& one, Source const& other) {
    return one.info == other.info && one.files == other.files &&
           std::ranges::equal(one.wirings, other.wirings, [](ProbeWiring const& a, ProbeWiring const& b) {
               return a.name == b.name && a.every == b.every && a.options.all() == b.options.all();
           });
}

void Probes::take_from(Probes& earlier) {
    auto const counterpart = [](std::vector<Source>& among, Source const& source) {
        return std::ranges::find_if(among, [&](Source const& other) { return alike(source, other); });
    };
    auto const all_shared_are_in = [&](std::vector<Source>& some, std::vector<Source>& among) {
        return std::ranges::all_of(some, [&](Source const& source) {
            return !source.shares || counterpart(among, source) != among.end();
        });
    };
    bool const shared_goes_on =
        all_shared_are_in(sources_, earlier.sources_) && all_shared_are_in(earlier.sources_, sources_);
    for (auto& source : sources_) {
        auto const before = counterpart(earlier.sources_, source);
        if (before == earlier.sources_.end() || !before->started || (source.shares && !shared_goes_on))
            continue;
        std::map<int, int> renumbered;
        for (std::size_t i = 0; i < source.wirings.size(); ++i) {
            int const now = source.wirings[i].number, then = before->wirings[i].number;
            renumbered[then] = now;
            ended_[static_cast<std::size_t>(now)] = earlier.ended_[static_cast<std::size_t>(then)];
        }
        for (auto& [own, number] : before->relay->number) number = renumbered.at(number);
        before->relay->to = &sink_;
        before->wirings = source.wirings;
        source = std::move(*before);
        earlier.sources_.erase(before);
    }
}

bool Probes::goes_on(std::string const& name) const {
    return std::ranges::any_of(sources_, [&](Source const& source) {
        return source.started &&
               std::ranges::find(source.wirings, name, &ProbeWiring::name) != source.wirings.end();
    });
}

void Probes::start() {
    for (auto& source : sources_)
        if (!std::exchange(source.started, true)) source.driver->start();
    for (std::size_t probe = 0; probe < trouble_.size(); ++probe)
        if (!trouble_[probe].empty())
            sink_.on_reading(static_cast<int>(probe),
                             Reading::faulty(BootClock::now(), FaultKind::absent, trouble_[probe]));
}

void Probes::stop() {
    for (auto const& source : sources_) source.driver->stop();
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
