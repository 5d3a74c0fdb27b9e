#include "daemon/notices/delivery.hpp"

#include <signal.h>

#include <algorithm>
#include <array>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <random>
#include <string_view>
#include <thread>
#include <utility>

namespace ingle {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

// However often an attempt fails, and whatever a receiver asks for (Retry-After), a notice of each priority
// is tried again after this long.
struct Level {
    std::string_view priority;
    milliseconds longest_pause;
};
constexpr Level levels[] = {{"high", std::chrono::minutes(1)},
                            {"medium", std::chrono::minutes(5)},
                            {"low", std::chrono::minutes(15)}};
constexpr std::size_t level_count = std::size(levels);
// A receiver that wants to be left alone for longer is told of at once.
constexpr std::chrono::seconds long_retry_after{60};
constexpr std::size_t most_tests = 4;  // of one channel, waiting

std::size_t level_of(Notice const& notice) {
    auto const found = std::ranges::find(levels, notice.priority, &Level::priority);
    return found == std::end(levels) ? level_count - 1 : static_cast<std::size_t>(found - levels);
}

bool same_subject(Notice const& a, Notice const& b) {
    return a.alarm == b.alarm && a.subject == b.subject;
}

// `newer` says all that somebody needs who never got `older`: the newest state of the same alarm.
bool makes_pointless(Notice const& newer, Notice const& older) {
    auto const is = [](Notice const& notice, auto... kinds) { return ((notice.kind == kinds) || ...); };
    return older.single && same_subject(newer, older) && is(newer, "raised", "reminder", "cleared") &&
           is(older, "raised", "reminder", "cleared");
}

}  // namespace

// One channel: its queue, its thread and its troubles. What is of a higher priority goes first and does not
// wait for what failed before it; of one alarm everything stays in order, so that an all-clear never
// overtakes its alarm.
class Delivery::Lane {
public:
    Lane(Channel channel, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing)
        : channel_(std::move(channel)),
          outbox_(outbox),
          on_trouble_(std::move(on_trouble)),
          timing_(timing),
          trouble_(std::exchange(channel_.trouble, {})),
          thread_([this](std::stop_token stop) { run(stop); }) {}

    std::string const& name() const { return channel_.name; }

    void add(Notice notice, int attempts) {
        std::vector<std::pair<std::string, char const*>> dropped;  // id, why
        {
            std::lock_guard const lock(mutex_);
            // A reminder of what never arrived is the first word of it.
            for (auto job = queue_.begin(); job != queue_.end();) {
                if (job->in_work || !makes_pointless(notice, job->notice)) {
                    ++job;
                    continue;
                }
                if (notice.kind == "reminder" && job->notice.kind == "raised") notice.kind = "raised";
                dropped.emplace_back(job->notice.id, "a newer notice says it");
                job = queue_.erase(job);
            }
            test_stop_.request_stop();  // what somebody tries out does not hold up what has happened
            Job job;
            job.notice = std::move(notice);
            job.attempts = attempts;
            job.since = Clock::now();
            queue_.push_back(std::move(job));
            if (queue_.size() > timing_.most_waiting) {
                auto const oldest = std::ranges::find(queue_, false, &Job::in_work);
                dropped.emplace_back(oldest->notice.id, "too many notices are waiting");
                queue_.erase(oldest);
                ++given_up_;
            }
        }
        changed_.notify_one();
        for (auto const& [id, why] : dropped) outbox_.failed(name(), id, why, true);
    }

    void test(Notice notice, OnTested reply) {
        {
            std::lock_guard const lock(mutex_);
            if (tests_.size() < most_tests) {
                tests_.emplace_back(std::move(notice), std::move(reply));
                reply = {};
            }
        }
        if (reply)
            reply(Attempt::try_again("others are trying this channel out: wait until they are done"));
        else
            changed_.notify_one();
    }

    void try_now() {
        {
            std::lock_guard const lock(mutex_);
            hold_ = {};
            failures_ = 0;
        }
        changed_.notify_one();
    }

    ChannelState state() const {
        std::lock_guard const lock(mutex_);
        return {channel_.name, channel_.kind, trouble_, static_cast<std::int64_t>(queue_.size()),
                delivered_,    given_up_};
    }

    void waiting(std::vector<Waiting>& out) const {
        std::lock_guard const lock(mutex_);
        for (auto const& job : queue_)
            out.push_back({channel_.name, job.notice, job.attempts, job.since, hold_[level_of(job.notice)],
                           job.last_error});
    }

    void request_stop() { thread_.request_stop(); }
    void join() {
        if (thread_.joinable()) thread_.join();
    }

private:
    struct Job {
        Notice notice;
        int attempts = 0;
        Clock::time_point since;
        std::string last_error;
        bool in_work = false;  // an attempt is under way
    };

    // With the lock: the oldest of the most urgent that may be tried now. An earlier one of the same alarm
    // goes before it.
    Job* next_job(Clock::time_point now) {
        Job* best = nullptr;
        for (auto& job : queue_)
            if (hold_[level_of(job.notice)] <= now &&
                (!best || level_of(job.notice) < level_of(best->notice)))
                best = &job;
        if (!best) return nullptr;
        return &*std::ranges::find_if(queue_,
                                      [&](Job const& job) { return same_subject(job.notice, best->notice); });
    }

    Clock::time_point next_try() const {  // with the lock
        auto next = Clock::time_point::max();
        for (auto const& job : queue_) next = std::min(next, hold_[level_of(job.notice)]);
        return next;
    }

    void run(std::stop_token stop) {
        // Signals are the main thread's; a receiver that closes early must not end us by SIGPIPE.
        sigset_t all;
        sigfillset(&all);
        pthread_sigmask(SIG_BLOCK, &all, nullptr);
        std::unique_lock lock(mutex_);
        while (!stop.stop_requested()) {
            if (auto* job = next_job(Clock::now()))
                work(*job, lock, stop);
            else if (!tests_.empty())
                try_out(lock, stop);
            else if (queue_.empty())
                changed_.wait(lock, stop, [&] { return !queue_.empty() || !tests_.empty(); });
            else {
                auto const until = next_try();  // the wait itself reads its end without our lock
                changed_.wait_until(lock, stop, until, [&] { return !tests_.empty() || next_try() < until; });
            }
        }
    }

    // Called and left with the lock held.
    void try_out(std::unique_lock<std::mutex>& lock, std::stop_token const& stop) {
        auto [notice, reply] = std::move(tests_.front());
        tests_.pop_front();
        std::stop_source broken_off;
        test_stop_ = broken_off;
        lock.unlock();
        std::stop_callback const with_us(stop, [&] { broken_off.request_stop(); });
        auto attempt = channel_.notifier->deliver(notice, broken_off.get_token());
        bool const judged = attempt.outcome == Attempt::Outcome::delivered || !broken_off.stop_requested();
        if (!judged)
            attempt = Attempt::try_again("broken off, because something had to be told: try it again");
        reply(attempt);
        lock.lock();
        if (judged) note(attempt, lock, attempt.outcome != Attempt::Outcome::delivered);
    }

    void work(Job& job, std::unique_lock<std::mutex>& lock, std::stop_token stop) {
        auto notice = job.notice;
        auto const age = Clock::now() - job.since;
        notice.late = notice.late || age > timing_.late_after;
        job.in_work = true;
        lock.unlock();
        bool const wanted = outbox_.is_pending(name(), notice.id);
        auto attempt = wanted ? channel_.notifier->deliver(notice, stop) : Attempt::delivered();
        if (attempt.outcome == Attempt::Outcome::try_again && stop.stop_requested()) {
            lock.lock();
            return;  // broken off by us: it stays in the outbox as it was
        }
        if (attempt.outcome == Attempt::Outcome::try_again && age > timing_.patience)
            attempt = Attempt::give_up("given up after " +
                                       show(Duration{std::chrono::duration<double>(age).count()}) + ": " +
                                       attempt.reason);
        bool const final = attempt.outcome == Attempt::Outcome::give_up;
        if (!wanted)
            ;  // the settings before these delivered it
        else if (attempt.outcome == Attempt::Outcome::delivered)
            outbox_.sent(name(), notice.id);
        else
            outbox_.failed(name(), notice.id, attempt.reason, final);
        lock.lock();
        auto const found = std::ranges::find(queue_, true, &Job::in_work);
        ++found->attempts;
        found->last_error = attempt.reason;
        found->in_work = false;
        bool const failing = final || found->attempts >= timing_.tell_after || level_of(notice) == 0 ||
                             attempt.retry_after.value_or(std::chrono::seconds(0)) > long_retry_after;
        if (attempt.outcome == Attempt::Outcome::try_again) {
            // Whatever is not more urgent than this one would fail as it did.
            for (auto level = level_of(notice); level < level_count; ++level)
                hold_[level] = std::max(hold_[level], Clock::now() + pause(attempt, level));
            ++failures_;
        } else {
            (final ? given_up_ : delivered_) += wanted ? 1 : 0;
            queue_.erase(found);
            failures_ = 0;
            hold_ = {};
        }
        if (wanted) note(attempt, lock, failing);
    }

    // Doubling, with up to a quarter more or less so that several senders do not come in step.
    milliseconds pause(Attempt const& attempt, std::size_t level) {
        auto const doubled = timing_.first_pause * (std::int64_t{1} << std::min(failures_, 20));
        auto const base = std::min<milliseconds>(doubled, timing_.longest_pause);
        std::uniform_real_distribution<double> jitter(0.75, 1.25);
        milliseconds own(static_cast<std::int64_t>(static_cast<double>(base.count()) * jitter(random_)));
        if (attempt.retry_after) own = std::max<milliseconds>(own, *attempt.retry_after);
        return std::min(own, levels[level].longest_pause);
    }

    // The channel's health, told when it changes. Called and left with the lock held.
    void note(Attempt const& attempt, std::unique_lock<std::mutex>& lock, bool failing) {
        bool const good = attempt.outcome == Attempt::Outcome::delivered;
        bool const was_bad = !trouble_.empty();
        if (good)
            trouble_.clear();
        else if (failing)
            trouble_ = attempt.reason;
        bool const is_bad = !trouble_.empty();
        if (was_bad == is_bad || !on_trouble_) return;
        auto const text = is_bad ? "the channel " + name() + " does not deliver: " + trouble_
                                 : "the channel " + name() + " delivers again";
        lock.unlock();
        on_trouble_(name(), is_bad, text);
        lock.lock();
    }

    Channel channel_;
    Outbox& outbox_;
    OnTrouble on_trouble_;
    DeliveryTiming const timing_;
    mutable std::mutex mutex_;
    std::condition_variable_any changed_;
    std::deque<Job> queue_;
    std::deque<std::pair<Notice, OnTested>> tests_;
    std::stop_source test_stop_;                         // of the test that is under way
    std::array<Clock::time_point, level_count> hold_{};  // nothing of this level is tried before
    std::string trouble_;
    std::int64_t delivered_ = 0, given_up_ = 0;
    int failures_ = 0;
    std::minstd_rand random_{std::random_device{}()};
    std::jthread thread_;  // last: it uses all of the above
};

Delivery::Delivery(std::vector<Channel> channels, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing)
    : outbox_(outbox) {
    for (auto& channel : channels)
        lanes_.push_back(std::make_unique<Lane>(std::move(channel), outbox, on_trouble, timing));
}

Delivery::~Delivery() {
    stop();
}

void Delivery::resume() {
    for (auto& pending : outbox_.pending()) {
        auto const lane =
            std::ranges::find(lanes_, pending.channel, [](auto const& each) { return each->name(); });
        if (lane == lanes_.end()) {
            outbox_.failed(pending.channel, pending.notice.id, "there is no such channel any more", true);
            continue;
        }
        pending.notice.late = true;
        (*lane)->add(std::move(pending.notice), pending.attempts);
    }
}

void Delivery::send(std::size_t channel, Notice notice) {
    if (channel >= lanes_.size()) return;
    outbox_.store(lanes_[channel]->name(), notice);
    lanes_[channel]->add(std::move(notice), 0);
}

void Delivery::test(std::size_t channel, Notice notice, OnTested reply) {
    if (channel >= lanes_.size())
        reply(Attempt::give_up("there is no such channel"));
    else
        lanes_[channel]->test(std::move(notice), std::move(reply));
}

void Delivery::clock_was_set() {
    for (auto const& lane : lanes_) lane->try_now();
}

std::vector<Delivery::ChannelState> Delivery::channels() const {
    std::vector<ChannelState> out;
    for (auto const& lane : lanes_) out.push_back(lane->state());
    return out;
}

std::vector<Delivery::Waiting> Delivery::waiting() const {
    std::vector<Waiting> out;
    for (auto const& lane : lanes_) lane->waiting(out);
    return out;
}

void Delivery::stop() {
    for (auto const& lane : lanes_) lane->request_stop();
    for (auto const& lane : lanes_) lane->join();
}

}  // namespace ingle
