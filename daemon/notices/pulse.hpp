// When a channel that gives signs of life gives the next one, and when it counts as failing: the decisions,
// without a thread, a clock or I/O. Owned by the channel's lane in delivery.cpp.
#pragma once

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <optional>
#include <utility>

#include "daemon/notices/notifier.hpp"
#include "daemon/notices/send_queue.hpp"

namespace ingle {

class Pulse {
public:
    using Moment = std::chrono::steady_clock::time_point;

    Pulse(std::chrono::milliseconds every, DeliveryTiming timing) : every_(every), timing_(timing) {}

    bool due(Moment now) const { return now >= due_; }
    // From begin to begin, so that a slow watcher does not stretch the interval; what failed is tried again
    // sooner. True: it counts as failing.
    bool finished(Attempt const& attempt, Moment began, Moment now) {
        if (attempt.outcome == Attempt::Outcome::delivered) {
            failures_ = 0;
            last_ = now;
            due_ = std::max(began + every_, now);
            return false;
        }
        auto const pause = timing_.first_pause * (std::int64_t{1} << std::min(failures_, 20));
        due_ = now + std::min<std::chrono::milliseconds>(pause, every_);
        ++failures_;
        return attempt.outcome == Attempt::Outcome::give_up || failures_ >= timing_.tell_after;
    }
    std::optional<Moment> last() const { return last_; }  // that arrived

private:
    std::chrono::milliseconds every_;
    DeliveryTiming timing_;
    Moment due_{};
    int failures_ = 0;
    std::optional<Moment> last_;
};

inline std::optional<Pulse> pulse_of(std::optional<std::chrono::milliseconds> every,
                                     DeliveryTiming const& timing) {
    return every ? std::optional<Pulse>(std::in_place, *every, timing) : std::nullopt;
}

}  // namespace ingle
