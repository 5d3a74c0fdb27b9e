#include "daemon/run/core.hpp"

#include <algorithm>
#include <utility>

namespace ingle {
namespace {

// To be compared with itself only.
std::string text_of(std::vector<CalibrationPoint> const& points) {
    std::string text;
    for (auto const& point : points)
        text += show(point.reads, TemperatureUnit::celsius, 6) + " is " +
                show(point.is, TemperatureUnit::celsius, 6) + "; ";
    return text;
}

std::string key_of(ProbeSettings const& probe) {
    return "file." + probe.name + ".calibration";
}

bool same_point(CalibrationPoint const& a, CalibrationPoint const& b) {
    return a.reads.celsius == b.reads.celsius && a.is.celsius == b.is.celsius;
}

}  // namespace

Core::Core(Settings settings, Instant start, logbook::Writer& writer, Neighbours neighbours)
    : kitchen_(std::move(settings), start),
      writer_(writer),
      neighbours_(std::move(neighbours)),
      counts_(kitchen_.settings().probes.size()),
      cooks_(kitchen_.settings().dishes.size()) {}

void Core::recall(logbook::Resumed const& resumed) {
    Effects effects;
    kitchen_.recall(resumed.memory, resumed.off_since, effects);
    obey_edited_calibrations(resumed.memory, effects);
    auto const view = kitchen_.view();
    for (auto const& dish : view.dishes) cooks_[static_cast<std::size_t>(dish.number)] = dish.cook;
    // The logbook began with the kitchen file's calibrations; the core may have recalled a newer one.
    for (auto const& probe : view.probes) {
        auto const& file = settings().probes[static_cast<std::size_t>(probe.number)].calibration;
        if (!std::ranges::equal(probe.calibration, file, same_point))
            writer_.calibrated(view.at, probe.number, probe.calibration);
    }
    dispatch(effects);
}

// A calibration made at run time outlives the restart, but not a later word in the kitchen file.
void Core::obey_edited_calibrations(Memory const& memory, Effects& effects) {
    auto const now = kitchen_.view().at;
    auto const& probes = settings().probes;
    for (std::size_t number = 0; number < probes.size(); ++number) {
        auto const before = memory.text(key_of(probes[number]));
        if (before && *before != text_of(probes[number].calibration))
            kitchen_.command(now, Calibrate{static_cast<int>(number), probes[number].calibration}, effects);
    }
}

Memory Core::state() const {
    auto memory = kitchen_.remember();
    for (auto const& probe : settings().probes) memory.put(key_of(probe), text_of(probe.calibration));
    return memory;
}

void Core::take(int probe, Reading const& reading) {
    auto& count = counts_[static_cast<std::size_t>(probe)];
    ++(reading.ok() ? count.good : count.faulty);
    count.newest = reading;
    effects_.clear();
    kitchen_.take(probe, reading, effects_);
    dispatch(effects_);
}

Effects Core::command(Instant at, Command const& command, std::uint64_t* ticket) {
    Effects effects;
    kitchen_.command(at, command, effects);
    auto last = dispatch(effects);
    if (std::holds_alternative<Begin>(command) || std::holds_alternative<Next>(command) ||
        std::holds_alternative<End>(command))
        follow_cooks(at);
    if (auto const* calibrate = std::get_if<Calibrate>(&command); calibrate && calibrate->probe >= 0)
        last = writer_.calibrated(at, calibrate->probe, calibrate->points);
    if (ticket) *ticket = std::max(last, writer_.remember(state()));
    writer_.commit_now();
    return effects;
}

void Core::advance(Instant now) {
    effects_.clear();
    kitchen_.advance(now, effects_);
    dispatch(effects_);
}

std::uint64_t Core::remember(Instant now) {
    follow_cooks(now);
    return writer_.remember(state());
}

std::uint64_t Core::dispatch(Effects const& effects) {
    std::uint64_t ticket = 0;
    bool remember = false, lasting = false;
    for (auto const& effect : effects) {
        if (auto const* reading = std::get_if<Recorded>(&effect)) {
            writer_.record(*reading);
        } else if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            lasting = true;
            if (change->transition != Transition::updated) ticket = writer_.record(*change);
        } else if (auto const* event = std::get_if<Event>(&effect)) {
            lasting = true;
            ticket = writer_.record(*event);
        } else if (std::holds_alternative<MemoryChanged>(effect)) {
            remember = true;
        }
    }
    // The state goes in with the alarms that it belongs to, before anybody is told of them.
    if (remember) ticket = writer_.remember(state());
    if (remember || lasting) follow_cooks(kitchen_.view().at);
    for (auto const& effect : effects)
        if (auto const* tell = std::get_if<Tell>(&effect)) neighbours_.tell(*tell);
    if (!effects.empty()) neighbours_.publish(effects);
    return ticket;
}

void Core::follow_cooks(Instant now) {
    auto const& settings = kitchen_.settings();
    for (auto const& dish : kitchen_.view().dishes) {
        auto& running = cooks_[static_cast<std::size_t>(dish.number)];
        auto const cook = dish.begun ? dish.cook : 0;
        if (cook == running) continue;
        auto const& plan = settings.dishes[static_cast<std::size_t>(dish.number)].plan;
        if (running != 0) writer_.cook_ended(running, now);
        if (cook != 0) writer_.cook_begun({cook, dish.name, dish.food, plan, dish.began.value_or(now)});
        running = cook;
    }
}

}  // namespace ingle
