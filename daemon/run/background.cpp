#include "daemon/run/background.hpp"

#include <chrono>
#include <thread>
#include <utility>

namespace ingle {

void Background::run(std::function<void()> work) {
    {
        std::lock_guard const lock(shared_->mutex);
        ++shared_->running;
    }
    // Detached: what hangs for good must not keep the program from ending.
    std::thread([shared = shared_, work = std::move(work)]() mutable {
        work();
        work = nullptr;  // what it held goes before it counts as done
        std::lock_guard const lock(shared->mutex);
        --shared->running;
        shared->changed.notify_all();
    }).detach();
}

bool Background::wait(Span limit) {
    std::unique_lock lock(shared_->mutex);
    return shared_->changed.wait_for(lock, limit, [this] { return shared_->running == 0; });
}

}  // namespace ingle
