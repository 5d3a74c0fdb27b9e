// What one channel sends next, what it holds back and why: the decisions of delivery, without a thread, a
// clock or I/O. The same calls give the same answers. Owned by the channel's lane in delivery.cpp.
#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "daemon/notices/notifier.hpp"
#include "daemon/notices/policy.hpp"

namespace ingle {

struct DeliveryTiming {
    std::chrono::milliseconds first_pause{2'000}, longest_pause{300'000};  // doubled from one to the other
    std::chrono::milliseconds patience{24 * 3'600'000};                    // then a notice is given up
    std::chrono::milliseconds late_after{120'000};                         // then it says that it is late
    int tell_after = 3;  // failed attempts before the channel counts as failing; of a high alarm one suffices
    std::size_t most_waiting = 500;  // a channel's queue
};

class SendQueue {
public:
    using Moment = std::chrono::steady_clock::time_point;
    struct Now {
        Moment at{};
        std::optional<int> minute{};  // since local midnight; empty: the time is not known
        bool clock_proven = false;    // something vouches for the clock: a bad certificate is bad
        std::optional<std::set<std::int64_t>> open{};  // the alarms that are; empty: not known
        // They will be in a moment: what an earlier run left waits for it, to say what of it is open still.
        bool open_awaited = false;
        // Alarms that somebody attends to, and how: "acknowledged by maria".
        std::map<std::int64_t, std::string> attended{};
        std::string date{};                              // "2026-11-26", local; "" = not known
        std::optional<std::chrono::sys_seconds> wall{};  // empty: not known
    };
    // Why this is sent, or nothing is.
    enum class Reason { due, merged_late, merged_held, empty, backing_off, quiet_hours, rate_limit };
    struct Verdict {
        Reason reason = Reason::empty;
        Notice notice{};                 // to send, if `ids` names what it stands for
        std::vector<std::string> ids{};  // of the notices that were added
        Moment look_again = Moment::max();
        bool sends() const { return !ids.empty(); }
    };
    struct Result {
        Attempt attempt;       // as judged: what seemed to be worth another try may be hopeless
        bool failing = false;  // the channel is to count as failing
        std::vector<std::string> ids;
        std::vector<Notice> again{};  // what was refused and is said again later: added, not stored
    };
    struct Dropped {
        std::string id;
        std::string why;
        bool lost = false;  // nothing else says it
    };
    struct Waiting {
        Notice notice;
        int attempts = 0;
        Moment since, next_try;
        std::string last_error;
        std::string held;  // why it is held back: "quiet until 06:30"; "" = it is not
    };

    SendQueue(DeliveryTiming timing, DeliveryPolicy policy, unsigned seed);

    // An end whose begin still waits here tells of both: the begin alone is not sent any more.
    void add_what_never_came(Notice& notice) const;
    // Returns what need not be sent any more.
    std::vector<Dropped> add(Notice notice, int attempts, Moment now);
    // What waits and need not be told any more: somebody attends to it, or it was refused and is over.
    std::vector<Dropped> drop_pointless(Now const& now);
    // What it gives to send is under way until finished() or broken_off() is called.
    Verdict next(Now const& now);
    Result finished(Attempt attempt, Now const& now);
    void broken_off();                   // by us: as if it had not been tried
    void forget(std::string const& id);  // somebody else delivered it
    void sent_before(Moment at);         // a message of an earlier run, or of the settings before these
    void clock_was_set();                // what waits for another try is tried at once
    std::vector<Waiting> waiting(Now const& now) const;
    std::size_t size() const { return jobs_.size(); }

private:
    static constexpr std::size_t level_count = 3;
    struct Job {
        Notice notice;
        int attempts = 0;
        Moment since{};
        std::string last_error{};
        bool in_work = false;   // an attempt is under way
        bool was_held = false;  // it waited for the end of quiet hours or of a rate limit
        bool in_batch = false;  // it goes out with others, in a message that was tried already
        std::uint64_t order{};  // in which it was added; what is said again keeps its place
        int refusals = 0;       // of the messages before that said this
        Moment not_before{};    // as a message that was refused is said again
        bool taken_up = false;  // an earlier run left it
    };

    Reason held(Job const& job, Now const& now) const;  // due, quiet_hours, rate_limit
    static bool waits(Job const& job, Now const& now) {
        return job.not_before > now.at || (job.taken_up && now.open_awaited);
    }
    std::string held_words(Reason why) const;
    Moment held_until(Reason why, Now const& now) const;
    bool is_late(Job const& job, Moment now) const;
    std::vector<Job*> choose(Now const& now, Reason& reason);
    static Notice merged(std::vector<Job*> const& jobs, Now const& now);
    Moment next_try(Job const& job) const;
    void say_again(Job job, Result& result, Now const& now);
    void dissolve_batch();
    std::chrono::milliseconds pause(Attempt const& attempt, std::size_t level);

    DeliveryTiming timing_;
    DeliveryPolicy policy_;
    std::deque<Job> jobs_;
    std::deque<Moment> sent_;                     // of the last hour, where there is a rate limit
    std::array<Moment, level_count> back_off_{};  // nothing of this level is tried before
    // What failed above it put it off once already: the next time, it is tried in between.
    std::array<bool, level_count> owed_{};
    Reason batch_reason_ = Reason::merged_late;
    int failures_ = 0;
    std::uint64_t added_ = 0;
    std::minstd_rand random_;
};

}  // namespace ingle
