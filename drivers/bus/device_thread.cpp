#include "drivers/bus/device_thread.hpp"

#include <condition_variable>
#include <mutex>
#include <thread>
#include <utility>

namespace ingle {

struct DeviceThread::Shared {
    boost::asio::io_context* io = nullptr;  // used under the mutex and only while not stopping
    std::mutex mutex;
    std::condition_variable changed;
    bool stopping = false, finished = false;
    std::thread thread;
};

DeviceThread::DeviceThread(boost::asio::io_context& io) : shared_(std::make_shared<Shared>()) {
    shared_->io = &io;
}

DeviceThread::~DeviceThread() {
    stop();
}

void DeviceThread::start(std::function<void(Hands const&)> body) {
    shared_->thread = std::thread([hands = Hands(shared_), body = std::move(body)]() mutable {
        body(hands);
        body = nullptr;  // what it owned goes before the thread counts as finished
        std::lock_guard const lock(hands.shared_->mutex);
        hands.shared_->finished = true;
        hands.shared_->changed.notify_all();
    });
}

void DeviceThread::stop() {
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

bool DeviceThread::Hands::stopping() const {
    std::lock_guard const lock(shared_->mutex);
    return shared_->stopping;
}

bool DeviceThread::Hands::wait_until(std::chrono::steady_clock::time_point when) const {
    std::unique_lock lock(shared_->mutex);
    return shared_->changed.wait_until(lock, when, [&] { return shared_->stopping; });
}

void DeviceThread::Hands::post(std::function<void()> call) const {
    std::lock_guard const lock(shared_->mutex);
    if (!shared_->stopping) boost::asio::post(*shared_->io, std::move(call));
}

}  // namespace ingle
