#include "drivers/bus/polling.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <exception>
#include <functional>

namespace ingle {

namespace {

using Clock = std::chrono::steady_clock;
using Deliver = std::function<void(std::size_t, Polled)>;

// Reads whichever probe is due; one that is late goes on from now and does not catch up.
void poll_for_ever(DeviceThread::Hands const& hands, PolledDevice& device, std::vector<Span> const& every,
                   Deliver const& deliver) {
    std::vector<Clock::time_point> due(every.size(), Clock::now()), turn = due;
    for (;;) {
        auto const next = std::ranges::min_element(due);
        if (hands.wait_until(*next)) return;
        auto const index = static_cast<std::size_t>(next - due.begin());
        Polled polled;
        try {
            polled = device.read(index);
        } catch (std::exception const& error) {
            polled.reading = Reading::faulty(BootClock::now(), FaultKind::unspecified, error.what());
        }
        auto const now = Clock::now();
        if (!polled.again) turn[index] = std::max(turn[index] + every[index], now);
        *next = polled.again ? now + *polled.again : turn[index];
        hands.post([deliver, index, polled = std::move(polled)] { deliver(index, polled); });
    }
}

}  // namespace

std::string value_now(PolledDevice& device) {
    auto const polled = device.read(0);
    if (!polled.reading) return {};
    if (!polled.reading->ok()) return ", no value now: " + polled.reading->fault().reason;
    auto const tenths = std::lround(polled.reading->celsius() * 10);
    auto const size = std::labs(tenths);
    return std::string(", ") + (tenths < 0 ? "-" : "") + std::to_string(size / 10) + "." +
           std::to_string(size % 10) + " degC now";
}

PollingDriver::PollingDriver(DriverContext context, std::vector<ProbeWiring> probes,
                             std::unique_ptr<PolledDevice> device)
    : context_(std::move(context)),
      probes_(std::move(probes)),
      device_(std::move(device)),
      longest_wait_(device_->longest_wait()),
      thread_(context_.io),
      last_(probes_.size()),
      trouble_(probes_.size()),
      faults_(probes_.size()) {
    for (auto& probe : probes_) {
        probe.every = std::max(probe.every, Span(1));
        timers_.emplace_back(context_.io);
    }
}

void PollingDriver::start() {
    if (std::exchange(started_, true) || stopping_) return;
    std::ranges::fill(last_, BootClock::now());
    std::vector<Span> every;
    for (auto const& probe : probes_) every.push_back(probe.every);
    Deliver deliver = [weak = weak_from_this()](std::size_t index, Polled polled) {
        if (auto const driver = weak.lock())
            std::static_pointer_cast<PollingDriver>(driver)->deliver(index, std::move(polled));
    };
    thread_.start([device = device_, every = std::move(every), deliver = std::move(deliver)](
                      DeviceThread::Hands const& hands) { poll_for_ever(hands, *device, every, deliver); });
    for (std::size_t i = 0; i < probes_.size(); ++i) watch_silence(i);
}

void PollingDriver::stop() {
    stopping_ = true;
    for (auto& timer : timers_) timer.cancel();
    thread_.stop();
}

void PollingDriver::deliver(std::size_t index, Polled polled) {
    if (stopping_) return;
    last_[index] = BootClock::now();
    for (auto& [name, text] : polled.events)
        if (!stopping_) context_.sink.on_driver_event(probes_[index].number, name, std::move(text));
    if (polled.closed && !stopping_)
        context_.sink.on_switch(probes_[index].number, last_[index], *polled.closed);
    if (polled.reading && !stopping_) tell(index, *std::move(polled.reading));
}

void PollingDriver::tell(std::size_t index, Reading reading) {
    auto const& name = probes_[index].name;
    if (!reading.ok()) {
        ++faults_[index];
        auto word = std::string(to_word(reading.fault().kind));
        if (word != trouble_[index]) context_.log(Severity::trouble, name + ": " + reading.fault().reason);
        trouble_[index] = std::move(word);
    } else if (!trouble_[index].empty()) {
        context_.log(Severity::note,
                     name + ": reads again after " + std::to_string(faults_[index]) + " faults");
        trouble_[index].clear();
        faults_[index] = 0;
    }
    context_.sink.on_reading(probes_[index].number, std::move(reading));
}

void PollingDriver::watch_silence(std::size_t index) {
    timers_[index].expires_after(probes_[index].every);
    timers_[index].async_wait([self = shared_from_this(), this, index](boost::system::error_code error) {
        if (error || stopping_) return;
        auto const now = BootClock::now();
        auto const silent = now - last_[index];
        if (silent >= std::max(probes_[index].every * 2, longest_wait_))
            tell(index, Reading::faulty(now, FaultKind::no_reply,
                                        "the device has not answered for " +
                                            std::to_string(silent.count() / 1000) + " s"));
        if (!stopping_) watch_silence(index);
    });
}

}  // namespace ingle
