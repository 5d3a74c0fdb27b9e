// Brings notices to their channels: one thread and one bounded queue a channel, so that a mute mail server
// delays nobody else. At least once: a notice is stored before the first attempt and marked sent after the
// last; if it cannot be stored it is sent all the same. Owned by daemon/run; send() never blocks.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "daemon/notices/links.hpp"
#include "daemon/notices/send_queue.hpp"

namespace ingle {

// Where notices survive a restart; implemented over the logbook by daemon/run. Called on the channels'
// threads and on the caller of send(): must be safe for that, must not block for long, must not throw.
class Outbox {
public:
    struct Pending {
        std::string channel;
        Notice notice;
        int attempts = 0;
    };
    virtual ~Outbox() = default;
    virtual void store(std::string const& channel, Notice const& notice) = 0;
    virtual void sent(std::string const& channel, std::string const& id) = 0;
    // An attempt failed; `final`: there will be no other.
    virtual void failed(std::string const& channel, std::string const& id, std::string const& reason,
                        bool final) = 0;
    // False: it was delivered or given up meanwhile, by the delivery of the settings before.
    virtual bool is_pending(std::string const& channel, std::string const& id) = 0;
    virtual std::vector<Pending> pending() = 0;  // of earlier runs, oldest first
    struct Sent {
        std::string channel;
        std::chrono::steady_clock::time_point at;
    };
    virtual std::vector<Sent> sent_lately() { return {}; }  // each message of the last hour
};

class Delivery {
public:
    struct Channel {
        std::string name, kind;
        std::unique_ptr<Notifier> notifier;
        DeliveryPolicy policy = {};
        std::string trouble = {};       // that it is already known to have
        bool trouble_of_proof = false;  // and that a proof that succeeds ends
        LinkSigner links = {};          // of its notices
    };
    struct ChannelState {
        std::string name, kind, trouble;  // trouble "" = delivers
        std::int64_t pending = 0, delivered = 0, given_up = 0;
        bool trouble_of_proof = false;
        std::optional<std::chrono::steady_clock::time_point> last_beat;  // of one that gives signs of life
        std::string so_far{};  // what an attempt under way waits for; "" = not known
    };
    struct Waiting : SendQueue::Waiting {
        std::string channel;
    };
    // What the clocks say. Called on the channels' threads; without it the time is not known.
    using Clocks = std::function<SendQueue::Now()>;
    // The channel began to fail or delivers again ("not-delivered"). On the channel's thread: post it on.
    using OnTrouble = std::function<void(std::string const& channel, bool present, std::string const& text)>;
    using OnTested = std::function<void(Attempt const&)>;  // on the channel's thread

    Delivery(std::vector<Channel> channels, Outbox& outbox, OnTrouble on_trouble, DeliveryTiming timing = {},
             Clocks clocks = {});
    ~Delivery();
    Delivery(Delivery const&) = delete;
    Delivery& operator=(Delivery const&) = delete;

    void resume();  // takes up what the outbox holds of earlier runs; once
    void prove();   // tries each channel without sending, until it succeeds or something was delivered
    void send(std::size_t channel, Notice notice);
    // The sampling and the watching went round once more: channels that give signs of life may give one, made
    // by `beat`. None is given without it.
    void went_round(std::function<Notice()> const& beat);
    void attended(std::int64_t alarm);  // somebody attends to it, or it is over
    void show_state(View const& view);
    void retire();  // nothing is shown any more; notices are still delivered
    void test(std::size_t channel, Notice notice, OnTested reply);  // one attempt, not stored
    // What waits for its next attempt is tried at once: the clock was set, and certificates that seemed not
    // yet valid are now.
    void clock_was_set();
    void look_again();  // what the clocks say of the alarms has changed: what waits may be pointless
    std::vector<ChannelState> channels() const;
    std::vector<Waiting> waiting() const;
    void stop();  // breaks off attempts in flight; what is not delivered stays in the outbox. Idempotent

private:
    class Lane;
    std::vector<std::unique_ptr<Lane>> lanes_;
    Outbox& outbox_;
};

}  // namespace ingle
