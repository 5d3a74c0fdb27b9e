// One channel of Delivery, with its thread. Included by delivery.cpp only.
#pragma once

#include <signal.h>

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "daemon/notices/delivery.hpp"
#include "daemon/notices/health_words.hpp"
#include "daemon/notices/passing.hpp"
#include "daemon/notices/pulse.hpp"

namespace ingle {

// One channel: its queue, its thread and its troubles. What is sent when is the queue's decision; here is who
// waits for it, tries it and writes down what came of it.
class Delivery::Lane {
    using Outcome = Attempt::Outcome;
    using Clock = std::chrono::steady_clock;
    static constexpr std::size_t most_tests = 4;  // of one channel, waiting
    // The clocks may be put forward or back meanwhile: what waits for a time of the day looks this often.
    static constexpr std::chrono::minutes look_at_clock_every{1};

public:
    Lane(Channel channel, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing, Clocks clocks)
        : channel_(std::move(channel)),
          outbox_(outbox),
          on_trouble_(std::move(on_trouble)),
          clocks_(std::move(clocks)),
          timing_(timing),
          trouble_(std::exchange(channel_.trouble, {})),
          trouble_of_proof_(channel_.trouble_of_proof),
          queue_(timing, channel_.policy, std::random_device{}()),
          pulse_(pulse_of(channel_.notifier->beats_every(), timing)),
          thread_([this](std::stop_token stop) { run(stop); }) {}

    std::string const& name() const { return channel_.name; }
    template <class Act>
    void with_notifier(Act const& act) const {
        std::lock_guard const lock(mutex_);
        if (channel_.notifier) act(*channel_.notifier);
    }

    void add(Notice notice) {
        std::vector<SendQueue::Dropped> dropped;
        {
            std::lock_guard const lock(mutex_);
            queue_.add_what_never_came(notice);
            outbox_.store(name(), notice);
            add_to_queue(std::move(notice), 0, dropped);
        }
        changed_.notify_one();
        drop(dropped);
    }

    // Of what an earlier run left, its own; all of it at once, so that what was one message is one again.
    void take_up(std::vector<Outbox::Pending> const& left) {
        std::vector<SendQueue::Dropped> dropped;
        {
            std::lock_guard const lock(mutex_);
            for (auto const& [channel, notice, attempts] : left)
                if (channel == name()) {
                    auto late = notice;
                    late.late = true;
                    queue_.add_what_never_came(late);
                    add_to_queue(std::move(late), attempts, dropped);
                }
        }
        changed_.notify_one();
        drop(dropped);
    }

    void test(Notice notice, OnTested reply) {
        {
            std::lock_guard const lock(mutex_);
            if (tests_.size() < most_tests) {
                tests_.emplace_back(std::move(notice), std::move(reply));
                reply = {};
                changes_ = true;
            }
        }
        if (reply)
            reply(Attempt::try_again("others are trying this channel out: wait until they are done"));
        else
            changed_.notify_one();
    }

    void went_round(std::function<Notice()> const& beat) {
        {
            std::lock_guard const lock(mutex_);
            if (!pulse_ || beat_ || beating_ || !pulse_->due(Clock::now())) return;
            beat_ = beat();
            changes_ = true;
        }
        changed_.notify_one();
    }

    void prove() {
        change([this] { proof_due_ = Clock::now(); });
    }

    void sent_before(Outbox::Sent const& sent) {
        std::lock_guard const lock(mutex_);
        if (sent.channel == name()) queue_.sent_before(sent.at);
    }

    void clock_was_set() {
        change([this] { queue_.clock_was_set(); });
    }
    void look_again() {
        change([] {});
    }

    ChannelState state() const {
        std::lock_guard const lock(mutex_);
        auto const waiting = static_cast<std::int64_t>(queue_.size());
        auto const beat = pulse_ ? pulse_->last() : std::nullopt;
        auto const far = channel_.notifier ? channel_.notifier->so_far() : std::string();
        return {name(),    channel_.kind,     trouble_, waiting, delivered_,
                given_up_, trouble_of_proof_, beat,     far};
    }

    void waiting(std::vector<Waiting>& out) const {
        std::lock_guard const lock(mutex_);
        for (auto& job : queue_.waiting(now())) out.push_back({std::move(job), channel_.name});
    }

    void request_stop() { thread_.request_stop(); }
    void join() {
        if (thread_.joinable()) thread_.join();
        // Here and not with the lane: one that has a thread of its own may take a while to end.
        std::unique_ptr<Notifier> ended;
        std::lock_guard const lock(mutex_);
        ended.swap(channel_.notifier);
    }

private:
    void add_to_queue(Notice notice, int attempts, std::vector<SendQueue::Dropped>& dropped) {
        passing_.waits(notice.priority);
        for (auto& one : queue_.add(std::move(notice), attempts, Clock::now())) {
            given_up_ += one.lost ? 1 : 0;
            dropped.push_back(std::move(one));
        }
        changes_ = true;
        test_stop_.request_stop();  // what somebody tries out does not hold up what has happened
    }
    template <class Act>
    void change(Act const& act) {
        {
            std::lock_guard const lock(mutex_);
            act();
            changes_ = true;
        }
        changed_.notify_one();
    }

    SendQueue::Now now() const {
        auto now = clocks_ ? clocks_() : SendQueue::Now{};
        now.at = Clock::now();
        return now;
    }

    void run(std::stop_token stop) {
        // Signals are the main thread's; a receiver that closes early must not end us by SIGPIPE.
        sigset_t all;
        sigfillset(&all);
        pthread_sigmask(SIG_BLOCK, &all, nullptr);
        std::unique_lock lock(mutex_);
        while (!stop.stop_requested()) {
            changes_ = false;
            auto const now = this->now();
            drop(queue_.drop_pointless(now));
            auto const verdict = queue_.next(now);
            if (verdict.sends())
                work(verdict, lock, stop);
            else if (!tests_.empty())
                try_out(lock, stop);
            else if (proof_due_ <= Clock::now())
                try_proof(lock, stop);
            else if (beat_)
                give_beat(lock, stop);
            else if (auto const until = next_look(verdict); until == Clock::time_point::max())
                changed_.wait(lock, stop, [&] { return changes_; });
            else
                changed_.wait_until(lock, stop, until, [&] { return changes_; });
        }
    }

    void drop(std::vector<SendQueue::Dropped> const& dropped) {
        for (auto const& [id, why, lost] : dropped) outbox_.failed(name(), id, why, true);
    }

    Clock::time_point next_look(SendQueue::Verdict const& verdict) const {
        auto until = std::min(verdict.look_again, proof_due_);
        if (verdict.reason == SendQueue::Reason::quiet_hours)
            until = std::min(until, Clock::now() + look_at_clock_every);
        return until;
    }

    // What takes the lock is called and left with it held. Empty: it was broken off, because something has to
    // be told.
    std::optional<Attempt> interruptible(std::unique_lock<std::mutex>& lock, std::stop_token const& stop,
                                         std::function<Attempt(std::stop_token)> const& act) {
        std::stop_source broken_off;
        test_stop_ = broken_off;
        lock.unlock();
        std::stop_callback const with_us(stop, [&] { broken_off.request_stop(); });
        std::optional attempt(act(broken_off.get_token()));
        if (attempt->outcome != Outcome::delivered && broken_off.stop_requested()) attempt.reset();
        lock.lock();
        return attempt;
    }

    // A mistake of a channel's own ends that notice there, and not the watching.
    template <class Act>
    static Attempt guarded(Act const& act) {
        try {
            return act();
        } catch (std::exception const& failure) {
            return Attempt::give_up(std::string("a mistake within the program: ") + failure.what());
        }
    }
    Attempt deliver(Notice notice, std::stop_token stop) {
        return guarded([&] {
            notice.links = channel_.links.links(notice, channel_.name, now().wall);
            return channel_.notifier->deliver(notice, stop);
        });
    }

    void try_out(std::unique_lock<std::mutex>& lock, std::stop_token const& stop) {
        auto const notice = std::move(tests_.front().first);
        auto const reply = std::move(tests_.front().second);
        tests_.pop_front();
        auto const attempt = interruptible(
            lock, stop, [&](std::stop_token token) { return deliver(notice, std::move(token)); });
        lock.unlock();
        reply(attempt
                  ? *attempt
                  : Attempt::try_again(stop.stop_requested()
                                           ? "broken off by a change of the kitchen file: try it again"
                                           : "broken off, because something had to be told: try it again"));
        lock.lock();
        if (attempt) note(*attempt, lock, attempt->outcome != Outcome::delivered);
    }

    void try_proof(std::unique_lock<std::mutex>& lock, std::stop_token const& stop) {
        auto const attempt = interruptible(lock, stop, [&](std::stop_token token) {
            return guarded([&] { return channel_.notifier->prove(token).value_or(Attempt::delivered()); });
        });
        if (!attempt) return;
        if (attempt->outcome == Outcome::delivered) {
            proof_due_ = Clock::time_point::max();
            if (trouble_of_proof_) note(*attempt, lock, false);
            return;
        }
        auto const pause = std::min<std::chrono::milliseconds>(
            timing_.first_pause * (std::int64_t{1} << std::min(proofs_failed_, 20)), timing_.longest_pause);
        proof_due_ = Clock::now() + pause;
        ++proofs_failed_;
        bool const hopeless = attempt->outcome == Outcome::give_up ||
                              (attempt->cause == Attempt::Cause::certificate && now().clock_proven);
        if (!hopeless && proofs_failed_ < timing_.tell_after) return;
        trouble_of_proof_ = trouble_.empty() || trouble_of_proof_;
        note(*attempt, lock, trouble_of_proof_);
    }

    void give_beat(std::unique_lock<std::mutex>& lock, std::stop_token const& stop) {
        auto const beat = *std::exchange(beat_, std::nullopt);
        auto const began = Clock::now();
        beating_ = true;
        lock.unlock();
        auto const attempt = guarded([&] { return channel_.notifier->deliver(beat, stop); });
        lock.lock();
        beating_ = false;
        if (attempt.outcome == Outcome::try_again && stop.stop_requested()) return;
        bool const failing = pulse_->finished(attempt, began, Clock::now());
        note(attempt, lock, failing);
    }

    // Empty: the settings before these delivered it.
    std::optional<Attempt> attempt(SendQueue::Verdict const& verdict, std::stop_token stop) {
        for (auto const& id : verdict.ids) {
            if (outbox_.is_pending(name(), id)) continue;
            std::lock_guard const lock(mutex_);
            queue_.forget(id);
            return std::nullopt;
        }
        return deliver(verdict.notice, std::move(stop));
    }

    void work(SendQueue::Verdict const& verdict, std::unique_lock<std::mutex>& lock,
              std::stop_token const& stop) {
        auto broken_off = passing_.begins(verdict.notice.priority);
        lock.unlock();
        std::stop_callback const with_us(stop, [&] { broken_off.request_stop(); });
        auto const tried = attempt(verdict, broken_off.get_token());
        lock.lock();
        passing_.ends();
        if (!tried) return;
        if (tried->outcome == Outcome::try_again && broken_off.stop_requested())
            return queue_.broken_off();  // by us: it stays in the outbox as it was
        auto const result = queue_.finished(*tried, now());
        bool const delivered = result.attempt.outcome == Outcome::delivered;
        bool const final = result.attempt.outcome == Outcome::give_up;
        (final ? given_up_ : delivered_) +=
            delivered || final ? static_cast<std::int64_t>(result.ids.size()) : 0;
        lock.unlock();
        // Before what was refused is: killed in between, it is told twice and not never.
        for (auto const& notice : result.again) outbox_.store(name(), notice);
        for (auto const& id : result.ids)
            delivered ? outbox_.sent(name(), id) : outbox_.failed(name(), id, result.attempt.reason, final);
        lock.lock();
        if (delivered) proof_due_ = Clock::time_point::max();
        if (result.failing && !delivered) trouble_of_proof_ = false;
        note(result.attempt, lock, result.failing);
    }

    // The channel's health, told when it changes.
    void note(Attempt const& attempt, std::unique_lock<std::mutex>& lock, bool failing) {
        bool const good = attempt.outcome == Outcome::delivered;
        bool const was_bad = !trouble_.empty();
        if (good)
            trouble_.clear(), trouble_of_proof_ = false;
        else if (failing)
            trouble_ = attempt.reason;
        bool const is_bad = !trouble_.empty();
        if (was_bad == is_bad || !on_trouble_) return;
        auto const text = health_words(name(), trouble_, pulse_.has_value(), delivered_ > 0);
        lock.unlock();
        on_trouble_(name(), is_bad, text);
        lock.lock();
    }

    Channel channel_;
    Outbox& outbox_;
    OnTrouble on_trouble_;
    Clocks clocks_;
    DeliveryTiming const timing_;
    mutable std::mutex mutex_;
    std::condition_variable_any changed_;
    bool changes_ = false;  // there may be something to do
    std::deque<std::pair<Notice, OnTested>> tests_;
    std::stop_source test_stop_;  // of the test or proof that is under way
    Passing passing_;
    Clock::time_point proof_due_ = Clock::time_point::max();
    int proofs_failed_ = 0;
    std::string trouble_;
    bool trouble_of_proof_;
    std::int64_t delivered_ = 0, given_up_ = 0;
    SendQueue queue_;
    std::optional<Pulse> pulse_;
    std::optional<Notice> beat_;  // to be given
    bool beating_ = false;
    std::jthread thread_;  // last: it uses all of the above
};

}  // namespace ingle
