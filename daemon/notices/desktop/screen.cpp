#include "daemon/notices/desktop/screen.hpp"

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <fstream>
#include <iterator>
#include <mutex>
#include <random>
#include <system_error>
#include <thread>
#include <utility>

#include <nlohmann/json.hpp>

#include "daemon/notices/desktop/session_bus.hpp"

namespace ingle::desktop {
namespace {

using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

constexpr int look_every_ms = 60'000;  // without a reason

// A thread of its own holds the bus, for its answers come at any time.
class BusScreen final : public Screen {
public:
    BusScreen(std::string address, fs::path file)
        : bus_(std::move(address)), file_(std::move(file)), wake_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {
        if (wake_ < 0) throw std::system_error(errno, std::generic_category(), "no eventfd");
        std::random_device device;
        for (int i = 0; i < 4; ++i) own_ += std::to_string(device()) + '-';
    }
    ~BusScreen() override {
        if (thread_.joinable()) {
            thread_.request_stop();
            wake();
            thread_.join();
        }
        ::close(wake_);
    }
    BusScreen(BusScreen const&) = delete;
    BusScreen& operator=(BusScreen const&) = delete;

    void answer_to(Answered answered) override {
        std::lock_guard const lock(mutex_);
        answered_ = std::move(answered);
    }
    void retire() override {
        std::lock_guard const lock(mutex_);
        answered_ = {};
        retired_ = true;
    }
    Attempt reach(std::stop_token const& stop) override {
        return ask(
            [this] {
                Abilities abilities;
                return take_up(abilities);
            },
            stop);
    }
    Attempt show(Notice const& notice, std::string const& shelve_label,
                 std::stop_token const& stop) override {
        return ask([this, notice, shelve_label] { return show_now(notice, shelve_label); }, stop);
    }
    void attended(std::int64_t alarm) override {
        std::lock_guard const lock(mutex_);
        attended_.push_back(alarm);
        wake();
    }

private:
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
                         changed_ |=
                             std::erase_if(shown_, [id](Shown const& one) { return one.id == id; }) > 0;
                     }});
        while (!stop.stop_requested()) {
            work();
            bus_.process();
            if (std::exchange(changed_, false)) keep();
            pollfd places[] = {{wake_, POLLIN, 0}, {bus_.fd(), bus_.events(), 0}};
            ::poll(places, bus_.open() ? 2 : 1, bus_.timeout_ms(look_every_ms));
            std::uint64_t count = 0;
            [[maybe_unused]] auto const read = ::read(wake_, &count, sizeof count);
        }
        if (is_taken_up()) return;
        // Its buttons would do nothing any more. In the file they stay, for the next run.
        for (auto const& one : shown_) {
            auto card = one.card;
            card.actions.clear();
            bus_.show_without_waiting(card, one.id);
        }
    }

    void work() {
        std::unique_lock lock(mutex_);
        while (!jobs_.empty() || !attended_.empty()) {
            // What was shown before is known once the desktop was reached.
            if (!attended_.empty() && (jobs_.empty() || known_)) {
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

    // Who shows the notices now, and what of ours is there.
    Attempt take_up(Abilities& abilities) {
        auto reached = bus_.reach(abilities);
        if (reached.outcome != Attempt::Outcome::delivered) return reached;
        auto session = bus_.session();
        if (session != session_) shown_.clear();  // another one numbers them anew
        session_ = std::move(session);
        if (std::exchange(known_, true)) return reached;
        for (auto& one : shown_in(kept(), session_)) {
            std::erase_if(one.open, [&](auto alarm) { return over_meanwhile_.contains(alarm); });
            if (one.open.empty())
                bus_.withdraw(one.id);
            else if (bus_.show(one.card, &one.id).outcome == Attempt::Outcome::delivered)
                shown_.push_back(std::move(one));
        }
        over_meanwhile_.clear();
        changed_ = true;
        return reached;
    }

    Attempt show_now(Notice const& notice, std::string const& shelve_label) {
        Abilities abilities;
        if (auto reached = take_up(abilities); reached.outcome != Attempt::Outcome::delivered) return reached;
        Shown next{0, {notice.alarms.begin(), notice.alarms.end()}, card_of(notice, abilities, shelve_label)};
        bool const asks = !next.card.actions.empty() || next.card.expires_ms == 0;
        // A reminder takes the place of what it reminds of.
        auto const before = std::ranges::find_if(
            shown_, [&](Shown const& one) { return !one.open.empty() && one.open == next.open; });
        if (before != shown_.end()) next.id = before->id;
        auto attempt = bus_.show(next.card, &next.id);
        if (attempt.outcome != Attempt::Outcome::delivered) return attempt;
        if (before != shown_.end()) shown_.erase(before);
        if (asks) shown_.push_back(std::move(next));
        changed_ = true;
        return attempt;
    }

    void forget(std::int64_t alarm) {
        if (!known_) over_meanwhile_.insert(alarm);
        std::erase_if(shown_, [&](Shown& one) {
            if (one.open.erase(alarm) == 0) return false;
            changed_ = true;
            if (!one.open.empty()) return false;
            bus_.withdraw(one.id);
            return true;
        });
    }

    void on_action(std::uint32_t id, std::string const& word) {
        auto const found = std::ranges::find(shown_, id, &Shown::id);
        bool const shelve = word == shelve_word;
        if (found == shown_.end() || (!shelve && word != acknowledge_word)) return;
        std::unique_lock lock(mutex_);
        auto const answered = answered_;
        lock.unlock();
        if (answered) answered(found->open, shelve);
    }

    std::string kept() const {
        std::ifstream in(file_);
        return {std::istreambuf_iterator<char>(in), {}};
    }
    // By the channel of the settings after these.
    bool is_taken_up() {
        {
            std::lock_guard const lock(mutex_);
            if (!retired_) return false;
        }
        auto const by = by_whom(kept());
        return !by.empty() && by != own_;
    }

    // Best effort: without it a restart leaves what is shown as it is.
    void keep() {
        if (is_taken_up()) return;
        auto const fresh = file_.string() + ".new";
        std::error_code none;
        {
            std::ofstream out(fresh, std::ios::trunc);
            fs::permissions(fresh, fs::perms::owner_read | fs::perms::owner_write, none);
            if (!(out << to_text(own_, session_, shown_) << std::flush)) return;
        }
        fs::rename(fresh, file_, none);
    }

    SessionBus bus_;
    fs::path file_;
    int wake_;
    // Of the bus's thread.
    std::vector<Shown> shown_;
    std::set<std::int64_t> over_meanwhile_;  // before it was known what is shown
    std::string session_;
    bool changed_ = false, known_ = false;  // known: what was shown before was looked through
    std::string own_;                       // unlike that of any other channel and run
    std::mutex mutex_;
    Answered answered_;
    bool retired_ = false;
    std::condition_variable_any done_;
    std::deque<std::shared_ptr<Job>> jobs_;
    std::deque<std::int64_t> attended_;
    std::jthread thread_;
};

std::string file_name(std::string const& address) {
    std::string name = "desktop";
    for (char const c : address) name += std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '-';
    return name.substr(0, 120) + ".shown";
}

}  // namespace

std::string to_text(std::string const& by, std::string const& session, std::vector<Shown> const& shown) {
    auto cards = Json::array();
    for (auto const& one : shown)
        cards.push_back({{"id", one.id},
                         {"open", one.open},
                         {"summary", one.card.summary},
                         {"body", one.card.body},
                         {"urgency", one.card.urgency},
                         {"expires", one.card.expires_ms},
                         {"actions", one.card.actions}});
    return Json{{"by", by}, {"session", session}, {"cards", cards}}.dump(-1, ' ', false,
                                                                         Json::error_handler_t::replace);
}

std::vector<Shown> shown_in(std::string const& text, std::string const& session) try {
    std::vector<Shown> shown;
    auto const json = Json::parse(text);
    if (json.at("session") != session) return shown;
    for (auto const& card : json.at("cards"))
        shown.push_back({card.at("id"),
                         card.at("open"),
                         {card.at("summary"), card.at("body"), card.at("urgency"), card.at("expires"),
                          card.at("actions")}});
    return shown;
} catch (Json::exception const&) {
    return {};
}

std::string by_whom(std::string const& text) {
    auto const json = Json::parse(text, nullptr, false);
    return json.is_object() && json.contains("by") && json["by"].is_string() ? json["by"].get<std::string>()
                                                                             : "";
}

std::unique_ptr<Screen> Screen::of(std::string const& address, fs::path const& state) {
    return std::make_unique<BusScreen>(address, state / file_name(address));
}

}  // namespace ingle::desktop
