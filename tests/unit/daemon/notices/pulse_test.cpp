// When a sign of life is due and when a channel that gives them fails, as tables; and that none is given
// without a round.
#include "daemon/notices/pulse.hpp"

#include "daemon/notices/delivery.hpp"
#include "daemon/notices/policy.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/support.hpp"

using namespace ingle;
using namespace std::chrono_literals;

namespace {

constexpr DeliveryTiming timing{2s, 300s, 24h, 120s, 3, 500};
Pulse::Moment const noon{1000h};

std::vector<Delivery::Channel> heartbeat(std::string const& url) {
    std::vector<Delivery::Channel> out;
    FreeKeys const keys{{"url", {url, {}}}, {"every", {std::string("1 s"), {}}}};
    out.push_back({"outside", "heartbeat", find_notifier("heartbeat")->make(keys, {})});
    return out;
}

}  // namespace

TEST_CASE("from begin to begin, and at once if the watcher was slower than that") {
    Pulse pulse(60s, timing);
    CHECK(pulse.due(noon));
    CHECK_FALSE(pulse.finished(Attempt::delivered(), noon, noon + 8s));
    CHECK_FALSE(pulse.due(noon + 59s));
    CHECK(pulse.due(noon + 60s));
    CHECK(pulse.last() == noon + 8s);
    pulse.finished(Attempt::delivered(), noon + 60s, noon + 130s);
    CHECK(pulse.due(noon + 130s));
}

TEST_CASE("what failed is tried again after 2, 4, 8 s, and never later than the interval") {
    Pulse pulse(10s, timing);
    auto now = noon;
    std::vector<std::chrono::seconds> pauses;
    std::vector<bool> failing;
    for (int i = 0; i < 5; ++i) {
        failing.push_back(pulse.finished(Attempt::try_again("no answer"), now, now));
        auto const began = now;
        while (!pulse.due(now)) now += 1s;
        pauses.push_back(std::chrono::duration_cast<std::chrono::seconds>(now - began));
    }
    CHECK(pauses == std::vector<std::chrono::seconds>{2s, 4s, 8s, 10s, 10s});
    CHECK(failing == std::vector{false, false, true, true, true});
    CHECK_FALSE(pulse.last());
    CHECK_FALSE(pulse.finished(Attempt::delivered(), now, now));
    CHECK_FALSE(pulse.finished(Attempt::try_again("no answer"), now, now));
    CHECK(pulse.finished(Attempt::give_up("wrong token"), now, now));
}

TEST_CASE("a channel gives its sign of life when a round is done, once an interval, and not otherwise") {
    HttpReceiver receiver({});
    MemoryOutbox outbox;
    Delivery delivery(heartbeat(receiver.url()), outbox, {});
    int made = 0;
    auto const beat = [&] {
        ++made;
        return Notice{"b1", "heartbeat", "", "hall", "low", {}, {}, false, "hall is watched"};
    };
    delivery.prove();
    std::this_thread::sleep_for(200ms);
    CHECK(receiver.requests().empty());
    delivery.went_round(beat);
    delivery.went_round(beat);
    auto const end = std::chrono::steady_clock::now() + 5s;
    while (!delivery.channels().front().last_beat && std::chrono::steady_clock::now() < end)
        std::this_thread::sleep_for(5ms);
    delivery.went_round(beat);
    CHECK(receiver.requests().size() == 1);
    CHECK(made == 1);
    CHECK(outbox.told().empty());
}

TEST_CASE(
    "a daily sign of life is due from its minute on for an hour, later where earlier ones are not known") {
    constexpr int eight = 8 * 60, late = 23 * 60 + 50;
    for (bool const known : {true, false}) {
        CHECK_FALSE(sign_of_life_due(eight, eight - 1, known));
        CHECK(sign_of_life_due(eight, eight, known) == known);
        CHECK(sign_of_life_due(eight, eight + 2, known));
        CHECK(sign_of_life_due(eight, eight + 59, known));
        CHECK_FALSE(sign_of_life_due(eight, eight + 60, known));
        CHECK(sign_of_life_due(late, late + 9, known));
        CHECK_FALSE(sign_of_life_due(late, 0, known));  // of another day
    }
}
