// A queue and the clocks beside it, for the tests of its decisions.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "daemon/notices/send_queue.hpp"

namespace ingle::test {

using namespace std::chrono_literals;

inline constexpr int noon = 12 * 60;

inline Notice about(std::string id, char const* kind, char const* priority,
                    char const* subject = "stockpot") {
    Notice notice;
    notice.id = std::move(id);
    notice.kind = kind, notice.priority = priority;
    notice.alarm = "above-band", notice.subject = subject, notice.single = true;
    notice.at = "2026-11-26T16:01:00-05:00";
    notice.text = notice.subject + " 192 °F";
    return notice;
}

// A queue and the clocks beside it.
struct Bench {
    explicit Bench(DeliveryPolicy policy = {}, DeliveryTiming timing = {}) : queue(timing, policy, 1) {}
    SendQueue queue;
    SendQueue::Now now{SendQueue::Moment(1h), noon, true};

    std::vector<SendQueue::Dropped> add(Notice notice) { return queue.add(std::move(notice), 0, now.at); }
    SendQueue::Verdict next() { return queue.next(now); }
    SendQueue::Result answer(Attempt attempt) { return queue.finished(std::move(attempt), now); }
    std::string sent() {  // what goes out now, delivered; "" = nothing does
        auto const verdict = next();
        if (verdict.sends()) answer(Attempt::delivered());
        return verdict.notice.id;
    }
    void pass(std::chrono::minutes time) {
        now.at += time;
        if (now.minute) now.minute = static_cast<int>((*now.minute + time.count()) % (24 * 60));
    }
};

inline DeliveryPolicy quiet_at_night() {
    DeliveryPolicy policy;
    policy.quiet = {22 * 60, 6 * 60 + 30};
    return policy;
}

inline Notice of_alarm(std::string id, char const* kind, char const* priority, std::int64_t alarm,
                       char const* subject = "stockpot") {
    auto notice = about(std::move(id), kind, priority, subject);
    notice.link_alarms = {alarm};
    return notice;
}

}  // namespace ingle::test
