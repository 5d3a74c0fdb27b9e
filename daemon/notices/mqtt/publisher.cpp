#include "daemon/notices/mqtt/publisher.hpp"

#include <poll.h>
#include <signal.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <map>
#include <mutex>
#include <optional>
#include <system_error>
#include <thread>
#include <utility>
#include <vector>

#include "daemon/notices/mqtt/state.hpp"

namespace ingle::mqtt {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr milliseconds first_pause{1'000}, longest_pause{30'000};
constexpr milliseconds silent_after{10'000};      // without news of the kitchen it is not live
constexpr milliseconds tidy_for{5'000};           // what a broker keeps comes at once
constexpr std::chrono::seconds let_in_within{7};  // so that whoever waits for attempt_limit learns why
constexpr milliseconds look_every{1'000};
constexpr milliseconds farewell{2'000};    // a stop waits for it
constexpr std::size_t most_waiting = 200;  // messages that have not left: the broker does not read

constexpr char const* on = "online";
constexpr char const* off = "offline";

struct Job {
    std::string payload;  // "" = only to be let in
    std::optional<Attempt> outcome{};
    int message = 0;  // its number with the broker
};

}  // namespace

struct Publisher::Shared {
    Shared(Broker to, std::string name, milliseconds interval)
        : broker(std::move(to)),
          topic(std::move(name)),
          every(interval),
          wake(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {
        if (wake < 0) throw std::system_error(errno, std::generic_category(), "no eventfd");
        broker.will_topic = topic + "/availability";
        broker.will = off;
    }
    ~Shared() { ::close(wake); }
    Shared(Shared const&) = delete;
    Shared& operator=(Shared const&) = delete;
    void call() const {
        std::uint64_t const one = 1;
        [[maybe_unused]] auto const written = ::write(wake, &one, sizeof one);
    }

    Broker broker;
    std::string const topic;
    milliseconds const every;
    int const wake;
    std::mutex mutex;
    std::condition_variable_any changed;
    bool stopping = false, retired = false, finished = false;
    std::deque<std::shared_ptr<Job>> jobs;
    std::vector<Topic> state;
    std::string kitchen;
    std::optional<Clock::time_point> shown;
    std::thread thread;
};

// What runs on the thread. The lock is held but while it waits or connects.
class Publisher::Loop {
public:
    explicit Loop(std::shared_ptr<Shared> shared) : shared_(std::move(shared)) {}

    void run() {
        std::unique_lock lock(shared_->mutex);
        while (!shared_->stopping) {
            if (shared_->retired)
                leave(lock);
            else if (!session_)
                connect(lock);
            else
                converse(lock);
        }
        leave(lock);
        shared_->finished = true;
        shared_->changed.notify_all();
    }

private:
    struct Published {
        std::string payload, standing;
        Clock::time_point at;
    };

    void wait(std::unique_lock<std::mutex>& lock, milliseconds longest) {
        lock.unlock();
        pollfd place{shared_->wake, POLLIN, 0};
        ::poll(&place, 1, static_cast<int>(longest.count()));
        drain();
        lock.lock();
    }
    void drain() const {
        std::uint64_t count = 0;
        [[maybe_unused]] auto const read = ::read(shared_->wake, &count, sizeof count);
    }

    void connect(std::unique_lock<std::mutex>& lock) {
        auto const now = Clock::now();
        bool const asked = !shared_->jobs.empty();
        if (now < retry_at_ && asked && now < opened_ + first_pause) settle_all(why_);
        if (now < retry_at_ && (!asked || now < opened_ + first_pause)) {
            wait(lock, std::chrono::ceil<milliseconds>(retry_at_ - now));
            return;
        }
        session_ = std::make_unique<Session>(
            shared_->broker, Session::Events{[this](int message) { arrived_.push_back(message); },
                                             [this](std::string const& topic, std::string const& payload) {
                                                 kept_.emplace_back(topic, payload);
                                             }});
        opened_ = now;
        published_.clear();
        said_.reset();
        lock.unlock();
        session_->open();
        lock.lock();
        if (session_->lost()) give_up(session_->why());
    }

    void converse(std::unique_lock<std::mutex>& lock) {
        lock.unlock();
        session_->turn(shared_->wake, look_every);
        drain();
        lock.lock();
        for (int const message : std::exchange(arrived_, {})) confirm(message);
        if (!session_->ready() && !session_->lost() && Clock::now() - opened_ > let_in_within)
            give_up(Attempt::try_again(shared_->broker.shown() + " did not let us in within " +
                                       std::to_string(let_in_within.count()) + " s"));
        else if (session_->lost())
            give_up(session_->why());
        else if (session_->ready())
            publish();
    }

    void publish() {
        pause_ = first_pause;
        for (auto const& job : shared_->jobs) {
            if (job->message != 0 || job->outcome) continue;
            if (job->payload.empty())
                settle(*job, Attempt::delivered());
            else
                job->message = session_->publish(shared_->topic + "/notice", job->payload, true, false);
        }
        if (!shared_->shown || shared_->retired) return;
        auto const now = Clock::now();
        bool const live = now - *shared_->shown < silent_after;
        if (live && session_->waiting() < most_waiting)
            for (auto const& topic : shared_->state) publish(topic, now);
        if (said_ != live || (live && now - said_at_ >= shared_->every)) {
            session_->publish(shared_->broker.will_topic, live ? on : off, true, true);
            said_ = live;
            said_at_ = now;
        }
        tidy(now);
    }

    void publish(Topic const& topic, Clock::time_point now) {
        auto& before = published_[topic.name];
        bool const first = before.payload.empty();
        if (!first && before.standing == topic.standing &&
            (before.payload == topic.payload || now - before.at < shared_->every))
            return;
        session_->publish(shared_->topic + "/" + topic.name, topic.payload, false, topic.kept);
        before = {topic.payload, topic.standing, now};
    }

    // What the broker keeps for a vessel or a dish of this kitchen that it has no more. Once: what it holds
    // there must not be able to end each connection.
    void tidy(Clock::time_point now) {
        auto const all = [&](auto const& act) {
            for (auto const* below : {"/vessel/+", "/dish/+"}) act(shared_->topic + below);
        };
        if (!tidying_) all([&](std::string const& topics) { session_->subscribe(topics); }), tidying_ = now;
        for (auto const& [topic, payload] : std::exchange(kept_, {})) {
            auto const name = topic.substr(shared_->topic.size() + 1);
            bool const known =
                std::ranges::any_of(shared_->state, [&](auto const& t) { return t.name == name; });
            if (!known && is_of_kitchen(payload, shared_->kitchen)) session_->publish(topic, "", false, true);
        }
        if (!tidied_ && now - *tidying_ > tidy_for)
            all([&](std::string const& topics) { session_->unsubscribe(topics); }), tidied_ = true;
    }

    void confirm(int message) {
        for (auto const& job : shared_->jobs)
            if (job->message == message && !job->payload.empty()) settle(*job, Attempt::delivered());
    }
    void settle(Job& job, Attempt attempt) {
        if (!job.outcome) job.outcome = std::move(attempt);
        shared_->changed.notify_all();
    }
    void settle_all(Attempt const& attempt) {
        for (auto const& job : shared_->jobs) settle(*job, attempt);
    }

    void give_up(Attempt why) {
        why_ = std::move(why);
        settle_all(why_);
        session_.reset();
        pause();
    }
    void pause() {
        retry_at_ = Clock::now() + pause_;
        pause_ = std::min(pause_ * 2, longest_pause);
    }

    void leave(std::unique_lock<std::mutex>& lock) {
        settle_all(Attempt::try_again("broken off"));
        if (auto const session = std::exchange(session_, nullptr)) {
            lock.unlock();
            if (session->ready()) session->publish(shared_->broker.will_topic, off, true, true);
            session->close();
            lock.lock();
        }
        if (!shared_->stopping) wait(lock, look_every);
    }

    std::shared_ptr<Shared> shared_;
    std::unique_ptr<Session> session_;
    std::map<std::string, Published> published_;  // over this connection
    std::optional<bool> said_;                    // that it is live
    std::vector<int> arrived_;
    std::vector<std::pair<std::string, std::string>> kept_;
    Clock::time_point opened_{}, retry_at_{}, said_at_{};
    std::optional<Clock::time_point> tidying_;
    bool tidied_ = false;
    milliseconds pause_ = first_pause;
    Attempt why_ = Attempt::try_again("not connected yet");
};

Publisher::Publisher(Broker broker, std::string topic, milliseconds every)
    : shared_(std::make_shared<Shared>(std::move(broker), std::move(topic), every)) {}

Publisher::~Publisher() {
    std::unique_lock lock(shared_->mutex);
    shared_->stopping = true;
    shared_->call();
    if (!shared_->thread.joinable()) return;
    bool const finished = shared_->changed.wait_for(lock, farewell, [this] { return shared_->finished; });
    lock.unlock();
    if (finished)
        shared_->thread.join();
    else
        shared_->thread.detach();
}

void Publisher::begin() {
    if (shared_->thread.joinable() || shared_->stopping) return;
    shared_->thread = std::thread([shared = shared_]() mutable {
        sigset_t every;
        sigfillset(&every);
        pthread_sigmask(SIG_BLOCK, &every, nullptr);
        Loop(std::move(shared)).run();
    });
}

Attempt Publisher::hand_over(std::string payload, std::stop_token const& stop) {
    auto const job = std::make_shared<Job>(Job{std::move(payload)});
    std::unique_lock lock(shared_->mutex);
    if (shared_->retired) return Attempt::try_again("other settings have taken over");
    begin();
    shared_->jobs.push_back(job);
    shared_->call();
    shared_->changed.wait_for(lock, stop, attempt_limit, [&] { return job->outcome.has_value(); });
    std::erase(shared_->jobs, job);
    return job->outcome.value_or(Attempt::try_again(shared_->broker.shown() + " did not confirm it within " +
                                                    std::to_string(attempt_limit.count()) + " s"));
}

void Publisher::show(View const& view) {
    auto topics = topics_of(view);
    std::lock_guard const lock(shared_->mutex);
    begin();
    shared_->state = std::move(topics);
    shared_->kitchen = view.kitchen;
    shared_->shown = Clock::now();
    shared_->call();
}

void Publisher::retire() {
    std::lock_guard const lock(shared_->mutex);
    shared_->retired = true;
    shared_->call();
}

}  // namespace ingle::mqtt
