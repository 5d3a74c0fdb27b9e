// Random lives of alarms and of the three channels that tell them, from the alarm desk to the receivers:
// refusals, hangs, a network that goes away, kills, clocks that step, quiet hours, shelving,
// acknowledgements. Held against what a person must have got.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <map>
#include <random>
#include <set>

#include "daemon/notices/send_queue.hpp"
#include "daemon/run/notice_desk.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/alarms/desk_bench.hpp"

using namespace ingle;
using namespace ingle::test;

namespace {

constexpr int life_s = 2400, unheard_at_most_s = 300, hangs_for_s = 10;
constexpr std::size_t channel_count = 3;

Settings kitchen() {
    auto settings = village_hall();
    settings.channels = {{.name = "mail", .kind = "email"},
                         {.name = "phone", .kind = "webhook", .least = Priority::medium},
                         {.name = "neighbour", .kind = "webhook", .least = Priority::high}};
    settings.channels[2].after = Duration{120};
    return settings;
}

// A receiver and what stands before it. Whoever receives drops a message that he has already.
struct Lane {
    enum class State { answers, refuses, hangs };
    State state = State::answers;
    std::unique_ptr<SendQueue> queue;
    std::map<std::string, Notice> outbox;
    std::optional<SendQueue::Verdict> under_way;
    int busy_until_s = 0;
    bool failing = false;
    std::set<std::string> got;             // identities of messages
    std::map<std::string, int> times_got;  // by notice
};

class Life {
public:
    explicit Life(unsigned seed) : random_(seed) {
        quiet_ = chance(2);
        told_back_ = chance(2);
        for (auto& lane : lanes_) start(lane);
    }

    void run() {
        for (second_ = 0; second_ < life_s; ++second_) {
            wander();
            step_alarms();
            for (auto& lane : lanes_) deliver(lane);
            if (chance(600)) kill();
            check();
        }
        for (auto const& [notice, tells] : tells_of_change_) CHECK(tells <= 1);
    }
    int judged() const { return judged_; }

private:
    int whole(int below) { return std::uniform_int_distribution<int>(0, below - 1)(random_); }
    bool chance(int of) { return whole(of) == 0; }
    SendQueue::Now now() const {
        SendQueue::Now now{SendQueue::Moment(std::chrono::hours(24) + std::chrono::seconds(second_)), minute_,
                           proven_};
        now.open.emplace();
        for (auto const& alarm : bench_.desk.open()) {
            if (alarm.active && alarm.state != AlarmState::suppressed_by_design) now.open->insert(alarm.id);
            if (alarm.state == AlarmState::acknowledged || alarm.state == AlarmState::shelved)
                now.attended[alarm.id] = "somebody attends to it";
        }
        return now;
    }

    void start(Lane& lane) {
        DeliveryPolicy policy;
        if (quiet_) policy.quiet = {22 * 60, 6 * 60};
        lane.queue = std::make_unique<SendQueue>(DeliveryTiming{}, policy, random_());
        lane.under_way.reset();
        lane.busy_until_s = 0;
        lane.failing = false;
        for (auto const& [id, notice] : lane.outbox) {
            auto late = notice;
            late.late = true;
            late.alarms.clear();
            for (auto const& gone : lane.queue->add(late, 0, now().at)) gone_.insert(gone.id);
        }
        std::erase_if(lane.outbox, [&](auto const& one) { return gone_.contains(one.first); });
    }

    void wander() {
        if (chance(90)) minute_ = chance(4) ? std::nullopt : std::optional(whole(24 * 60));
        if (chance(300)) proven_ = !proven_;
        if (chance(400))
            for (auto& lane : lanes_) lane.queue->clock_was_set();
        if (chance(1200)) network_back_s_ = second_ + whole(life_s);
        for (auto& lane : lanes_)
            if (chance(300)) lane.state = static_cast<Lane::State>(whole(3));
        for (auto& one : findings_) {
            if (chance(120)) one.finding.truth = chance(2) ? Truth::present : Truth::absent;
            if (chance(200)) one.finding.priority = static_cast<Priority>(whole(3));
        }
    }

    void step_alarms() {
        bench_.effects.clear();
        bench_.run(bench_.now + 1, findings_);
        for (auto const& alarm : bench_.desk.open()) {
            if (chance(900)) bench_.command(Acknowledge{alarm.id, "maria"});
            if (chance(1500)) bench_.command(Shelve{alarm.id, std::chrono::minutes(5), "jonas"});
        }
        note_effects();
    }

    void note_effects() {
        for (auto const& effect : bench_.effects) {
            if (auto const* change = std::get_if<AlarmChanged>(&effect);
                change && change->transition != Transition::updated)
                ++changes_[change->alarm.id];
            auto const* tell = std::get_if<Tell>(&effect);
            if (!tell) continue;
            auto const channel = static_cast<std::size_t>(tell->channel);
            auto notice = notice_of(bench_.settings, *tell, {}, TimeZone{}, "n" + std::to_string(++number_));
            for (auto const& alarm : tell->alarms) {
                if (alarm.priority == Priority::high) tells_high_[notice.id].insert(alarm.id);
                // A change of an alarm is told once in a channel; a reminder is asked for by time.
                if (tell->kind == "raised") {
                    auto const key = std::to_string(channel) + '/' + std::to_string(alarm.id) + '/' +
                                     std::to_string(changes_[alarm.id]) + '/' + std::to_string(restarts_);
                    ++tells_of_change_[key];
                }
            }
            auto& lane = lanes_[channel];
            lane.queue->add_what_never_came(notice);
            lane.outbox[notice.id] = notice;
            for (auto const& gone : lane.queue->add(notice, 0, now().at)) {
                CHECK_FALSE(gone.lost);
                // What it would have said of a high alarm is now said by the newer one.
                for (auto const alarm : tells_high_[gone.id]) tells_high_[notice.id].insert(alarm);
                lane.outbox.erase(gone.id);
            }
        }
    }

    void deliver(Lane& lane) {
        if (second_ < lane.busy_until_s) return;
        if (lane.under_way) finish(lane);
        for (auto const& gone : lane.queue->drop_pointless(now())) lane.outbox.erase(gone.id);
        for (int i = 0; i < 20 && !lane.under_way; ++i) {
            auto verdict = lane.queue->next(now());
            if (!verdict.sends()) return;
            lane.under_way = std::move(verdict);
            lane.busy_until_s = second_ + (lane.state == Lane::State::hangs ? hangs_for_s : whole(2));
            if (second_ >= lane.busy_until_s) finish(lane);
        }
    }

    void finish(Lane& lane) {
        auto const verdict = *std::exchange(lane.under_way, std::nullopt);
        bool const away = second_ < network_back_s_;
        auto const attempt = away                                 ? Attempt::try_again("no network")
                             : lane.state == Lane::State::answers ? Attempt::delivered()
                             : lane.state == Lane::State::hangs   ? Attempt::try_again("no answer")
                             : chance(6)                          ? Attempt::give_up("404")
                             : chance(3) ? Attempt::try_again("429", std::chrono::seconds(whole(4000)))
                                         : Attempt::try_again("500");
        // A receiver that hangs may have it all the same.
        bool const seems_lost = lane.state == Lane::State::hangs && !told_back_ && chance(3);
        if (!away && (lane.state == Lane::State::answers || seems_lost)) receive(lane, verdict);
        auto const result = lane.queue->finished(attempt, now());
        if (result.attempt.outcome == Attempt::Outcome::delivered)
            lane.failing = false;
        else
            lane.failing = lane.failing || result.failing;
        if (result.attempt.outcome == Attempt::Outcome::try_again) return;
        for (auto const& notice : result.again) {
            lane.outbox[notice.id] = notice;
            for (auto const& id : result.ids)
                tells_high_[notice.id].insert(tells_high_[id].begin(), tells_high_[id].end());
        }
        for (auto const& id : result.ids) {
            if (result.attempt.outcome == Attempt::Outcome::give_up)
                stated_.insert(tells_high_[id].begin(), tells_high_[id].end());
            lane.outbox.erase(id);
        }
    }

    void receive(Lane& lane, SendQueue::Verdict const& verdict) {
        if (!lane.got.insert(verdict.notice.id).second) return;
        for (auto const& id : verdict.ids) {
            ++lane.times_got[id];
            // Another identity only where the first message seemed not to have come.
            if (told_back_) CHECK(lane.times_got[id] == 1);
            reached_.insert(tells_high_[id].begin(), tells_high_[id].end());
        }
    }

    // What is under way may have arrived; what was to be written down of it is lost.
    void kill() {
        for (auto& lane : lanes_)
            if (lane.under_way && !told_back_ && chance(2)) receive(lane, *lane.under_way);
        auto next = bench_.restarted(Span(1000));
        ++restarts_;
        bench_.desk = std::move(next.desk);
        bench_.now = next.now;
        bench_.effects = std::move(next.effects);
        note_effects();
        for (auto& lane : lanes_) start(lane);
    }

    void check() {
        for (auto& lane : lanes_)
            if (lane.failing)
                for (auto const& [id, notice] : lane.outbox)
                    stated_.insert(tells_high_[id].begin(), tells_high_[id].end());
        std::map<std::int64_t, int> still;
        for (auto const& alarm : bench_.desk.open()) {
            bool const high =
                alarm.priority == Priority::high && alarm.active && alarm.state == AlarmState::unacknowledged;
            bool const present = std::ranges::any_of(findings_, [&](Judged const& one) {
                return one.finding.type == alarm.type && one.finding.truth == Truth::present;
            });
            if (high && present) still[alarm.id] = unheard_[alarm.id] + 1;
        }
        unheard_ = std::move(still);
        for (auto const& [alarm, s] : unheard_) {
            if (s != unheard_at_most_s) continue;
            ++judged_;
            INFO("alarm " << alarm << " at " << second_ << " s");
            CHECK((reached_.contains(alarm) || stated_.contains(alarm)));
        }
    }

    std::mt19937 random_;
    Bench bench_{kitchen()};
    std::vector<Judged> findings_{judged_high(boil_over, pot), judged_high(above, smoker),
                                  judged_high(silent, probe(2))};
    static Judged judged_high(AlarmType const& type, Subject subject) {
        auto one = ingle::test::judged(type, subject, false);
        one.finding.priority = Priority::high;
        return one;
    }
    std::array<Lane, channel_count> lanes_;
    std::optional<int> minute_ = 12 * 60;
    bool quiet_ = false, proven_ = false;
    bool told_back_ = false;  // what a receiver has is always known here
    int second_ = 0, network_back_s_ = 0, number_ = 0, restarts_ = 0, judged_ = 0;
    std::map<std::int64_t, int> changes_, unheard_;
    std::map<std::string, int> tells_of_change_;
    std::map<std::string, std::set<std::int64_t>> tells_high_;  // by notice
    std::set<std::int64_t> reached_, stated_;
    std::set<std::string> gone_;
};

}  // namespace

TEST_CASE(
    "in 1000 random lives of channels what is high for 5 min reached somebody or is stated as undelivered") {
    int judged = 0;
    unsigned const lives = std::getenv("INGLE_LONG") ? 20'000 : 1000;
    for (unsigned seed = 1; seed <= lives; ++seed) {
        INFO("seed " << seed);
        Life life(seed);
        life.run();
        judged += life.judged();
    }
    CHECK(judged > 1000);
    WARN(judged << " alarms stood high and unacknowledged for 5 min");
}
