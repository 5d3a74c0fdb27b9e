// Lets a notice be heard through the machine's own speaker, and one of high priority again and again until
// somebody attends to it. A device may hang: it has a thread of its own, which nobody waits for without end.
#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <set>
#include <thread>

#include "daemon/notices/sound/pattern.hpp"
#include "daemon/notices/sound/speaker.hpp"

namespace ingle::sound {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::chrono::seconds again_after{5};  // from end to begin, what is high
constexpr std::chrono::milliseconds end_limit{500};
// Beside what it plays: a device that answers does so at once, and what is high is to be told elsewhere soon.
constexpr std::chrono::seconds answer_limit{3};
constexpr double full = 100;  // per cent

constexpr OptionInfo options[] = {
    {"device",
     OptionKind::text,
     false,
     "default",
     {},
     0,
     0,
     "the sound device by its ALSA name; `aplay -L` lists them"},
    {"loudness",
     OptionKind::integer,
     false,
     "100",
     {},
     1,
     full,
     "of the loudest, which comes 10 min after an alarm, in per cent; a new alarm is a quarter of it"},
};

using Alarms = std::set<std::int64_t>;

struct Job {
    std::function<Attempt(std::function<bool()> const&)> act;
    Alarms open;  // alarms that nobody attends to yet
    bool about_alarms = false;
    std::optional<Attempt> outcome{};
    bool given_up = false;
};

// What goes on after a notice of high priority.
struct Ringing {
    Notice notice;
    std::chrono::steady_clock::time_point began;
    Alarms open;
};

// Shared with the thread, which outlives the channel where a device hangs.
struct Player {
    Player(std::string name, double most) : device(std::move(name)), loudness(most) {}

    std::string const device;
    double const loudness;
    std::mutex mutex;
    std::condition_variable_any changed;
    std::deque<std::shared_ptr<Job>> jobs;
    std::shared_ptr<Job> playing;
    std::optional<Ringing> ringing;
    Clock::time_point next_ring{};
    bool ends = false, ended = false;

    bool enough(Job const& job) {
        std::lock_guard const lock(mutex);
        return ends || job.given_up || (job.about_alarms && job.open.empty());
    }

    void attended(std::int64_t alarm) {
        std::lock_guard const lock(mutex);
        for (auto const& job : jobs) job->open.erase(alarm);
        if (playing) playing->open.erase(alarm);
        if (ringing && ringing->open.erase(alarm) > 0 && ringing->open.empty()) ringing.reset();
    }

    void run() {
        std::unique_lock lock(mutex);
        while (!ends) {
            if (!jobs.empty()) {
                playing = jobs.front();
                jobs.pop_front();
            } else if (ringing && Clock::now() >= next_ring) {
                playing = ring();
            } else {
                auto const until = ringing ? next_ring : Clock::now() + std::chrono::hours(1);
                changed.wait_until(lock, until);
                continue;
            }
            if (playing->given_up) continue;
            auto const job = playing;
            lock.unlock();
            auto attempt = job->act([&] { return enough(*job); });
            lock.lock();
            job->outcome = std::move(attempt);
            next_ring = Clock::now() + again_after;
            playing.reset();
            changed.notify_all();
        }
        ended = true;
        changed.notify_all();
    }

    std::shared_ptr<Job> ring() {
        auto const elapsed = std::chrono::duration_cast<std::chrono::seconds>(Clock::now() - ringing->began);
        auto job = std::make_shared<Job>();
        job->open = ringing->open;
        job->about_alarms = true;
        job->act = play_of(strokes_of(ringing->notice, step_of(ringing->notice, elapsed), loudness));
        return job;
    }

    std::function<Attempt(std::function<bool()> const&)> play_of(std::vector<Stroke> strokes) const {
        return [device = device, strokes = std::move(strokes)](std::function<bool()> const& enough) {
            return play(device, samples_of(strokes), enough);
        };
    }
};

class Sound final : public Notifier {
public:
    Sound(std::string device, double loudness)
        : player_(std::make_shared<Player>(std::move(device), loudness)) {
        std::thread([player = player_] { player->run(); }).detach();
    }
    ~Sound() override {
        std::unique_lock lock(player_->mutex);
        player_->ends = true;
        player_->changed.notify_all();
        player_->changed.wait_for(lock, end_limit, [&] { return player_->ended; });
    }
    Sound(Sound const&) = delete;
    Sound& operator=(Sound const&) = delete;

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        auto strokes = strokes_of(notice, step_of(notice), player_->loudness);
        if (strokes.empty()) return Attempt::delivered();
        Alarms const open(notice.alarms.begin(), notice.alarms.end());
        auto const limit = length_of(strokes) + answer_limit;
        auto job = std::make_shared<Job>();
        job->act = player_->play_of(std::move(strokes));
        job->open = open;
        job->about_alarms = !open.empty();
        auto attempt = ask(job, limit, stop);
        std::lock_guard const lock(player_->mutex);
        bool const rings = notice.priority == "high" && !job->open.empty();
        if (attempt.outcome == Attempt::Outcome::delivered && rings) {
            Ringing next{notice, Clock::now(), job->open};
            if (player_->ringing) next.open.merge(player_->ringing->open);
            player_->ringing = std::move(next);
        }
        player_->changed.notify_all();
        return attempt;
    }

    std::optional<Attempt> prove(std::stop_token stop) override {
        auto job = std::make_shared<Job>();
        job->act = [device = player_->device](auto const&) { return reach(device); };
        return ask(job, answer_limit, stop);
    }

    void attended(std::int64_t alarm) override { player_->attended(alarm); }
    void retire() override {
        std::lock_guard const lock(player_->mutex);
        player_->ringing.reset();
    }

private:
    Attempt ask(std::shared_ptr<Job> const& job, std::chrono::milliseconds limit,
                std::stop_token const& stop) {
        std::unique_lock lock(player_->mutex);
        player_->jobs.push_back(job);
        player_->changed.notify_all();
        player_->changed.wait_for(lock, stop, limit, [&] { return job->outcome.has_value(); });
        job->given_up = true;
        return job->outcome.value_or(Attempt::try_again(
            "the sound device \"" + player_->device + "\" did not answer within " +
            std::to_string(std::chrono::ceil<std::chrono::seconds>(limit).count()) + " s"));
    }

    std::shared_ptr<Player> player_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    auto const loudness = keys.find("loudness");
    auto const* percent =
        loudness == keys.end() ? nullptr : std::get_if<std::int64_t>(&loudness->second.value);
    auto device = text_of(keys, "device", "default");
    if (device.empty()) throw WrongOption("device", "names nothing", "such as \"default\"");
    keep_the_library_quiet();
    return std::make_unique<Sound>(std::move(device), percent ? static_cast<double>(*percent) / full : 1.0);
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{
    "sound",
    "the machine's own speaker: more strokes and louder the more urgent, again until somebody attends",
    options, make};

}  // namespace ingle::sound
