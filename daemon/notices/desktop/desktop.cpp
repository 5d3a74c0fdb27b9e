// Shows a notice on the desktop of the user whom the daemon runs as, with buttons to acknowledge and to
// shelve; it is withdrawn as soon as somebody attends to the alarm, wherever, or the alarm ends. A thread of
// its own holds the bus, for its answers come at any time.
#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <set>
#include <system_error>
#include <thread>

#include "config/quantity.hpp"
#include "daemon/notices/desktop/card.hpp"
#include "daemon/notices/desktop/session_bus.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::desktop {
namespace {

constexpr OptionInfo options[] = {
    {"bus",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "address of the session's D-Bus; else that of the user whom the daemon runs as"},
    {"shelve-for", OptionKind::text, false, "30 min", {}, 0, 0, "for how long its button shelves"},
};
constexpr int look_every_ms = 60'000;  // without a reason
constexpr std::chrono::seconds shelve_least{60}, shelve_most{24 * 3600};

class Desktop final : public Notifier {
public:
    Desktop(std::string address, std::chrono::milliseconds shelve_for)
        : bus_(std::move(address)),
          shelve_for_(shelve_for),
          shelve_label_("Shelve for " + show(Duration{std::chrono::duration<double>(shelve_for).count()})),
          wake_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {
        if (wake_ < 0) throw std::system_error(errno, std::generic_category(), "no eventfd");
    }
    ~Desktop() override {
        if (thread_.joinable()) {
            thread_.request_stop();
            wake();
            thread_.join();
        }
        ::close(wake_);
    }
    Desktop(Desktop const&) = delete;
    Desktop& operator=(Desktop const&) = delete;

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        return ask([this, notice] { return show_on_desktop(notice); }, stop);
    }
    std::optional<Attempt> prove(std::stop_token stop) override {
        return ask(
            [this] {
                Abilities abilities;
                return bus_.reach(abilities);
            },
            stop);
    }
    void answer_to(OnAnswer answered) override { answered_ = std::move(answered); }
    void attended(std::int64_t alarm) override {
        std::lock_guard const lock(mutex_);
        if (!thread_.joinable()) return;  // nothing was ever shown
        attended_.push_back(alarm);
        wake();
    }

private:
    struct Shown {
        std::uint32_t id = 0;
        std::set<std::int64_t> open;  // alarms that nobody attends to yet
        Card card;
    };
    struct Job {
        std::function<Attempt()> act;
        std::optional<Attempt> outcome;
        bool given_up = false;
    };

    void wake() const {
        std::uint64_t const one = 1;
        [[maybe_unused]] auto const written = ::write(wake_, &one, sizeof one);
    }

    // On the bus's thread, and waits for it within the limit.
    Attempt ask(std::function<Attempt()> act, std::stop_token const& stop) {
        auto const job = std::make_shared<Job>(Job{std::move(act), {}, false});
        std::unique_lock lock(mutex_);
        if (!thread_.joinable()) thread_ = std::jthread([this](std::stop_token const& end) { run(end); });
        jobs_.push_back(job);
        wake();
        done_.wait_for(lock, stop, attempt_limit, [&] { return job->outcome.has_value(); });
        job->given_up = true;
        return job->outcome.value_or(Attempt::try_again("the desktop did not answer within " +
                                                        std::to_string(attempt_limit.count()) + " s"));
    }

    void run(std::stop_token const& stop) {
        bus_.listen({[this](std::uint32_t id, std::string const& word) { on_action(id, word); },
                     [this](std::uint32_t id) {
                         std::erase_if(shown_, [id](Shown const& one) { return one.id == id; });
                     }});
        while (!stop.stop_requested()) {
            work();
            bus_.process();
            pollfd places[] = {{wake_, POLLIN, 0}, {bus_.fd(), bus_.events(), 0}};
            ::poll(places, bus_.open() ? 2 : 1, bus_.timeout_ms(look_every_ms));
            std::uint64_t count = 0;
            [[maybe_unused]] auto const read = ::read(wake_, &count, sizeof count);
        }
        // Its buttons would do nothing any more.
        for (auto& one : shown_) {
            one.card.actions.clear();
            bus_.show_without_waiting(one.card, one.id);
        }
    }

    void work() {
        std::unique_lock lock(mutex_);
        while (!jobs_.empty() || !attended_.empty()) {
            if (!attended_.empty()) {
                auto const alarm = attended_.front();
                attended_.pop_front();
                lock.unlock();
                forget(alarm);
                lock.lock();
                continue;
            }
            auto const job = jobs_.front();
            jobs_.pop_front();
            if (job->given_up) continue;
            lock.unlock();
            auto outcome = job->act();
            lock.lock();
            job->outcome = std::move(outcome);
            done_.notify_all();
        }
    }

    Attempt show_on_desktop(Notice const& notice) {
        if (!bus_.open()) shown_.clear();  // another session numbers them anew
        Abilities abilities;
        if (auto reached = bus_.reach(abilities); reached.outcome != Attempt::Outcome::delivered)
            return reached;
        Shown next{
            0, {notice.alarms.begin(), notice.alarms.end()}, card_of(notice, abilities, shelve_label_)};
        bool const asks = !next.card.actions.empty() || next.card.expires_ms == 0;
        // A reminder takes the place of what it reminds of.
        auto const before = std::ranges::find_if(
            shown_, [&](Shown const& one) { return !one.open.empty() && one.open == next.open; });
        if (before != shown_.end()) next.id = before->id;
        auto attempt = bus_.show(next.card, &next.id);
        if (attempt.outcome != Attempt::Outcome::delivered) return attempt;
        if (before != shown_.end()) shown_.erase(before);
        if (asks) shown_.push_back(std::move(next));
        return attempt;
    }

    void forget(std::int64_t alarm) {
        std::erase_if(shown_, [&](Shown& one) {
            if (one.open.erase(alarm) == 0 || !one.open.empty()) return false;
            bus_.withdraw(one.id);
            return true;
        });
    }

    void on_action(std::uint32_t id, std::string const& word) {
        auto const found = std::ranges::find(shown_, id, &Shown::id);
        bool const shelve = word == shelve_word;
        if (found == shown_.end() || !answered_ || (!shelve && word != acknowledge_word)) return;
        answered_(
            {{found->open.begin(), found->open.end()}, shelve ? std::optional(shelve_for_) : std::nullopt});
    }

    SessionBus bus_;
    std::chrono::milliseconds shelve_for_;
    std::string shelve_label_;
    int wake_;
    OnAnswer answered_;
    std::vector<Shown> shown_;  // of the bus's thread
    std::mutex mutex_;
    std::condition_variable_any done_;
    std::deque<std::shared_ptr<Job>> jobs_;
    std::deque<std::int64_t> attended_;
    std::jthread thread_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    auto const parsed = parse_duration(text_of(keys, "shelve-for", "30 min"));
    auto const* length = std::get_if<Duration>(&parsed);
    auto const in = [](std::chrono::seconds limit) { return static_cast<double>(limit.count()); };
    if (!length || length->seconds < in(shelve_least) || length->seconds > in(shelve_most))
        throw WrongOption("shelve-for", "is no time from 1 min to 1 day", "such as \"30 min\"");
    auto address = text_of(keys, "bus");
    if (!address.empty() && address.find(':') == std::string::npos)
        throw WrongOption("bus", "is no address of a D-Bus", "such as \"unix:path=/run/user/1000/bus\"");
    return std::make_unique<Desktop>(
        std::move(address), std::chrono::milliseconds(static_cast<std::int64_t>(length->seconds * 1000)));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"desktop", "a notification on the desktop of the daemon's user, with buttons",
                        options, &make};

}  // namespace ingle::desktop
