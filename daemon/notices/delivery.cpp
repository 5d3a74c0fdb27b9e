#include "daemon/notices/delivery.hpp"

#include <signal.h>

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <random>
#include <thread>

namespace ingle {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

// What a receiver may ask us to wait at most: longer is a mistake of its clock.
constexpr std::chrono::seconds longest_retry_after{3600};

}  // namespace

// One channel: its queue, its thread and its troubles. In order, so that an all-clear never overtakes its
// alarm.
class Delivery::Lane {
public:
    Lane(Channel channel, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing)
        : channel_(std::move(channel)),
          outbox_(outbox),
          on_trouble_(std::move(on_trouble)),
          timing_(timing),
          thread_([this](std::stop_token stop) { run(stop); }) {}

    std::string const& name() const { return channel_.name; }

    void add(Notice notice, int attempts) {
        Job dropped;
        {
            std::lock_guard const lock(mutex_);
            Job job;
            job.notice = std::move(notice);
            job.attempts = attempts;
            job.since = Clock::now();
            queue_.push_back(std::move(job));
            if (queue_.size() > timing_.most_waiting) {
                // The head may be under way; the one behind it is the oldest that is not.
                dropped = std::move(queue_[1]);
                queue_.erase(queue_.begin() + 1);
                ++given_up_;
            }
        }
        changed_.notify_one();
        if (!dropped.notice.id.empty())
            outbox_.failed(name(), dropped.notice.id, "too many notices are waiting", true);
    }

    void test(Notice notice, OnTested reply) {
        {
            std::lock_guard const lock(mutex_);
            tests_.emplace_back(std::move(notice), std::move(reply));
        }
        changed_.notify_one();
    }

    void try_now() {
        {
            std::lock_guard const lock(mutex_);
            not_before_ = {};
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
            out.push_back({channel_.name, job.notice, job.attempts, job.since, not_before_, job.last_error});
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
    };

    void run(std::stop_token stop) {
        // Signals are the main thread's; a receiver that closes early must not end us by SIGPIPE.
        sigset_t all;
        sigfillset(&all);
        pthread_sigmask(SIG_BLOCK, &all, nullptr);
        std::unique_lock lock(mutex_);
        while (!stop.stop_requested()) {
            if (!tests_.empty()) {
                auto [notice, reply] = std::move(tests_.front());
                tests_.pop_front();
                lock.unlock();
                auto const attempt = channel_.notifier->deliver(notice, stop);
                reply(attempt);
                lock.lock();
                note(attempt, lock, attempt.outcome != Attempt::Outcome::delivered);
            } else if (!queue_.empty() && Clock::now() >= not_before_) {
                work(lock, stop);
            } else if (queue_.empty()) {
                changed_.wait(lock, stop, [&] { return !queue_.empty() || !tests_.empty(); });
            } else {
                auto const until = not_before_;  // the wait itself reads its end without our lock
                changed_.wait_until(lock, stop, until,
                                    [&] { return !tests_.empty() || not_before_ < until; });
            }
        }
    }

    void work(std::unique_lock<std::mutex>& lock, std::stop_token stop) {
        auto notice = queue_.front().notice;
        auto const age = Clock::now() - queue_.front().since;
        notice.late = notice.late || age > timing_.late_after;
        lock.unlock();
        auto attempt = channel_.notifier->deliver(notice, stop);
        if (attempt.outcome == Attempt::Outcome::try_again && stop.stop_requested()) {
            lock.lock();
            return;  // broken off by us: it stays in the outbox as it was
        }
        if (attempt.outcome == Attempt::Outcome::try_again && age > timing_.patience)
            attempt = Attempt::give_up("given up after " +
                                       show(Duration{std::chrono::duration<double>(age).count()}) + ": " +
                                       attempt.reason);
        bool const final = attempt.outcome == Attempt::Outcome::give_up;
        if (attempt.outcome == Attempt::Outcome::delivered)
            outbox_.sent(name(), notice.id);
        else
            outbox_.failed(name(), notice.id, attempt.reason, final);
        lock.lock();
        auto& job = queue_.front();
        ++job.attempts;
        job.last_error = attempt.reason;
        bool const failing = final || job.attempts >= timing_.tell_after;
        if (attempt.outcome == Attempt::Outcome::try_again) {
            not_before_ = Clock::now() + pause(attempt);
            ++failures_;
        } else {
            (final ? given_up_ : delivered_) += 1;
            queue_.pop_front();
            failures_ = 0;
            not_before_ = {};
        }
        note(attempt, lock, failing);
    }

    // Doubling, with up to a quarter more or less so that several senders do not come in step.
    milliseconds pause(Attempt const& attempt) {
        auto const doubled = timing_.first_pause * (std::int64_t{1} << std::min(failures_, 20));
        auto const base = std::min<milliseconds>(doubled, timing_.longest_pause);
        std::uniform_real_distribution<double> jitter(0.75, 1.25);
        milliseconds const own(
            static_cast<std::int64_t>(static_cast<double>(base.count()) * jitter(random_)));
        if (!attempt.retry_after) return own;
        return std::max<milliseconds>(own, std::min(*attempt.retry_after, longest_retry_after));
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
    Clock::time_point not_before_{};
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
