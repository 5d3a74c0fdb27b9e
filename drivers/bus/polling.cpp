#include "drivers/bus/polling.hpp"

#include <algorithm>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <thread>

namespace ingle {

// What the device thread may touch, and outlives the driver where the thread hangs.
struct PollingDriver::Shared {
    std::unique_ptr<PolledDevice> device;
    std::vector<Span> every;
    std::weak_ptr<PollingDriver> driver;
    boost::asio::io_context* io = nullptr;  // used under the mutex and only while not stopping
    std::mutex mutex;
    std::condition_variable changed;
    bool stopping = false, finished = false;
    std::thread thread;
};

PollingDriver::PollingDriver(DriverContext context, std::vector<ProbeWiring> probes,
                             std::unique_ptr<PolledDevice> device)
    : context_(std::move(context)),
      probes_(std::move(probes)),
      shared_(std::make_shared<Shared>()),
      last_(probes_.size()),
      trouble_(probes_.size()),
      faults_(probes_.size()) {
    shared_->device = std::move(device);
    shared_->io = &context_.io;
    for (auto& probe : probes_) {
        probe.every = std::max(probe.every, Span(1));
        shared_->every.push_back(probe.every);
        timers_.emplace_back(context_.io);
    }
}

PollingDriver::~PollingDriver() {
    stop();
}

void PollingDriver::start() {
    if (std::exchange(started_, true) || stopping_) return;
    shared_->driver = std::static_pointer_cast<PollingDriver>(shared_from_this());
    std::ranges::fill(last_, BootClock::now());
    shared_->thread = std::thread(run, shared_);
    for (std::size_t i = 0; i < probes_.size(); ++i) watch_silence(i);
}

void PollingDriver::stop() {
    if (std::exchange(stopping_, true)) return;
    for (auto& timer : timers_) timer.cancel();
    std::unique_lock lock(shared_->mutex);
    shared_->stopping = true;
    shared_->changed.notify_all();
    if (!shared_->thread.joinable()) return;
    bool const finished = shared_->changed.wait_for(lock, patience, [&] { return shared_->finished; });
    lock.unlock();
    if (finished)
        shared_->thread.join();
    else
        shared_->thread.detach();
}

void PollingDriver::run(std::shared_ptr<Shared> shared) {
    using Clock = std::chrono::steady_clock;
    std::vector<Clock::time_point> due(shared->every.size(), Clock::now());
    std::unique_lock lock(shared->mutex);
    while (!shared->stopping) {
        auto const next = std::ranges::min_element(due);
        if (shared->changed.wait_until(lock, *next, [&] { return shared->stopping; })) break;
        auto const index = static_cast<std::size_t>(next - due.begin());
        lock.unlock();
        Polled polled;
        try {
            polled = shared->device->read(index);
        } catch (std::exception const& error) {
            polled.reading = Reading::faulty(BootClock::now(), FaultKind::unspecified, error.what());
        }
        *next = std::max(*next + shared->every[index], Clock::now());  // late: go on, do not catch up
        lock.lock();
        if (shared->stopping) break;
        boost::asio::post(*shared->io,
                          [driver = shared->driver, index, polled = std::move(polled)]() mutable {
                              if (auto const alive = driver.lock()) alive->deliver(index, std::move(polled));
                          });
    }
    shared->finished = true;
    shared->changed.notify_all();
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
        if (silent >= std::max(probes_[index].every * 2, shortest_silence))
            tell(index, Reading::faulty(now, FaultKind::no_reply,
                                        "the device has not answered for " +
                                            std::to_string(silent.count() / 1000) + " s"));
        if (!stopping_) watch_silence(index);
    });
}

}  // namespace ingle
