// Random lives of one channel against a model of what a person must have got: failures of each kind, kills,
// clocks that step, quiet hours, a rate limit, a sender that is killed after the receiver had the message.
#include <cstdlib>
#include <map>
#include <random>
#include <set>

#include "daemon/notices/send_queue.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace std::chrono_literals;

namespace {

struct Told {  // by the core, of one alarm
    std::string id;
    bool said_again = false;  // if it is refused
};

class Life {
public:
    explicit Life(unsigned seed) : random_(seed) {
        if (chance(3)) policy_.quiet = {whole(24 * 60), whole(24 * 60)};
        if (policy_.quiet && policy_.quiet->from == policy_.quiet->to) policy_.quiet.reset();
        if (chance(3)) policy_.most_per_hour = 1 + whole(6);
        timing_.patience = 6h;
        start();
    }

    void run() {
        for (int step = 0; step < 400; ++step) {
            now_.at += std::chrono::seconds(whole(240));
            if (now_.minute) now_.minute = whole(24 * 60);  // the wall clock goes where it likes
            if (chance(20)) now_.minute = chance(2) ? std::optional(whole(24 * 60)) : std::nullopt;
            now_.clock_proven = now_.minute && (now_.clock_proven || chance(20));
            if (chance(40)) outage_ = !outage_;
            if (chance(50)) start();
            if (chance(30)) queue_->clock_was_set();
            if (chance(4)) tell();
            deliver();
        }
        outage_ = false, certain_ = true, now_.minute.reset();  // quiet hours end, the receiver is back
        for (int hour = 0; hour < 30; ++hour) now_.at += 1h, deliver();
        for (auto const& [alarm, told] : newest_)
            if (!received_.contains(told.id))
                CHECK((told.said_again ? expired_ : given_up_).contains(told.id));
        CHECK(queue_->size() == 0);
    }

private:
    int whole(int below) { return std::uniform_int_distribution<int>(0, below - 1)(random_); }
    bool chance(int of) { return !certain_ && whole(of) == 0; }

    // A start: the outbox is all that is left.
    void start() {
        queue_ = std::make_unique<SendQueue>(timing_, policy_, random_());
        for (auto notice : outbox_) {
            notice.late = true;
            drop(queue_->add(notice, 0, now_.at));
        }
    }

    void tell() {
        Notice notice;
        notice.id = "n" + std::to_string(++number_);
        notice.kind = chance(3) ? "cleared" : chance(2) ? "reminder" : "raised";
        notice.alarm = "above-band", notice.subject = std::string(1, static_cast<char>('a' + whole(6)));
        constexpr char const* priorities[] = {"low", "medium", "high"};
        notice.priority = priorities[whole(3)];
        notice.single = true;
        notice.text = notice.subject + ' ' + notice.id;
        outbox_.push_back(notice);
        told_at_[notice.id] = now_.at;
        newest_[notice.subject] = {notice.id, notice.priority != "low" && notice.kind != "cleared"};
        drop(queue_->add(notice, 0, now_.at));
    }

    void drop(std::vector<SendQueue::Dropped> const& dropped) {
        for (auto const& one : dropped) {
            // Only what something newer of the same alarm says may go.
            CHECK_FALSE(one.lost);
            take_out(one.id);
        }
    }
    void take_out(std::string const& id) {
        std::erase_if(outbox_, [&](Notice const& notice) { return notice.id == id; });
    }

    void deliver() {
        for (int i = 0; i < 50; ++i) {
            auto const verdict = queue_->next(now_);
            if (!verdict.sends()) {
                // Nothing that is high waits longer than its minute, or, said again, than ten.
                for (auto const& job : queue_->waiting(now_)) {
                    bool const again = job.notice.id != base(job.notice.id);
                    if (job.notice.priority == "high")
                        CHECK(job.next_try <= now_.at + (again ? 10min : 1min));
                }
                return;
            }
            auto const& told = verdict.notice;
            bool const quiet = policy_.quiet && now_.minute && policy_.quiet->holds(*now_.minute);
            if (quiet && told.priority != "high") CHECK(tried_.contains(told.id));
            // One identity, one content: the same notices. Which of them are over is said as it is by then; a
            // reminder of what never arrived is told as raised.
            std::string all;
            for (auto const& id : verdict.ids) all += id + ' ';
            auto const content = told.kind == "summary" ? all : told.subject;
            auto const [first, fresh] = contents_.emplace(told.id, content);
            CHECK((fresh || first->second == content));
            tried_.insert(told.id);
            int const what = outage_ ? 1 + whole(3) : certain_ ? 0 : whole(8);
            if (what == 4 || what == 5) {  // it has it, and we are killed before we write it down
                receive(verdict);
                start();
                return;
            }
            auto const attempt = what == 1   ? Attempt::try_again("500")
                                 : what == 2 ? Attempt::try_again("429", std::chrono::seconds(whole(4000)))
                                 : what == 3 ? Attempt::try_again("tls", {}, Attempt::Cause::certificate)
                                 : what == 6 ? Attempt::give_up("404")
                                             : Attempt::delivered();
            auto const result = queue_->finished(attempt, now_);
            CHECK(result.ids == verdict.ids);
            if (result.attempt.outcome == Attempt::Outcome::try_again) continue;
            if (result.attempt.outcome == Attempt::Outcome::delivered) receive(verdict);
            outbox_.insert(outbox_.end(), result.again.begin(), result.again.end());
            for (auto const& id : result.ids) {
                if (result.attempt.outcome == Attempt::Outcome::give_up) given_up_.insert(base(id));
                if (now_.at - told_at_[base(id)] > timing_.patience) expired_.insert(base(id));
                take_out(id);
            }
        }
        FAIL("it never rests");
    }

    // A receiver drops what has an identity that it knows.
    void receive(SendQueue::Verdict const& verdict) {
        if (!identities_.insert(verdict.notice.id).second) return;
        for (auto const& id : verdict.ids) received_.insert(base(id));
    }
    // What was refused is said again under this one's identity and a number.
    static std::string base(std::string const& id) { return id.substr(0, id.find('~')); }

    std::mt19937 random_;
    DeliveryTiming timing_;
    DeliveryPolicy policy_;
    std::unique_ptr<SendQueue> queue_;
    SendQueue::Now now_{SendQueue::Moment(24h), 0, false};
    std::vector<Notice> outbox_;
    std::map<std::string, Told> newest_;
    std::map<std::string, SendQueue::Moment> told_at_;
    std::map<std::string, std::string> contents_;
    std::set<std::string> received_, given_up_, expired_, tried_, identities_;
    bool outage_ = false, certain_ = false;
    int number_ = 0;
};

}  // namespace

TEST_CASE("in 1000 random lives the newest word of each alarm arrives or is given up with a reason") {
    unsigned const lives = std::getenv("INGLE_LONG") ? 20'000 : 1000;
    for (unsigned seed = 1; seed <= lives; ++seed) {
        INFO("seed " << seed);
        Life(seed).run();
    }
}
