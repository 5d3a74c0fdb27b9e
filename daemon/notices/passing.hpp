// What is of high priority passes what is lower and under way on the same channel. Owned by the channel's
// lane; each function is called with its lock.
#pragma once

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string_view>
#include <thread>

namespace ingle {

class Passing {
public:
    // A receiver that works has answered by then; beyond it an attempt is broken off, to be tried again.
    static constexpr std::chrono::milliseconds grace{300};

    // An attempt begins; its stop is asked for where it is to make way.
    std::stop_source begins(std::string_view priority) {
        std::stop_source attempt;
        if (priority != high) lower_ = attempt;
        return attempt;
    }
    void waits(std::string_view priority) {
        if (priority != high || !lower_ || breaker_.joinable()) return;
        breaker_ = std::jthread([attempt = *lower_](std::stop_token const& ended) mutable {
            std::mutex mutex;
            std::unique_lock lock(mutex);
            std::condition_variable_any().wait_for(lock, ended, grace, [] { return false; });
            if (!ended.stop_requested()) attempt.request_stop();
        });
    }
    void ends() {
        lower_.reset();
        breaker_ = {};
    }

private:
    static constexpr std::string_view high = "high";
    std::optional<std::stop_source> lower_;
    std::jthread breaker_;
};

}  // namespace ingle
