#include "daemon/notices/delivery.hpp"

#include <filesystem>
#include <fstream>

#include "daemon/notices/buzzer/beeps.hpp"
#include "daemon/notices/transfer.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/support.hpp"

using namespace ingle;
using namespace std::chrono_literals;

namespace {

constexpr DeliveryTiming quick{50ms, 200ms, 60s, 60s, 3, 500};

Delivery::Channel channel(std::string name, std::string kind, FreeKeys keys,
                          std::filesystem::path const& state = {}) {
    auto const* info = find_notifier(kind);
    REQUIRE(info);
    return {std::move(name), kind, info->make(keys, state)};
}
Delivery::Channel webhook(std::string const& url, std::string name = "phone") {
    auto const token = std::filesystem::path(TEST_BUILD) / "unit_notices_token";
    std::ofstream(token) << "s3cret\n";
    std::filesystem::permissions(token,
                                 std::filesystem::perms::owner_read | std::filesystem::perms::owner_write);
    return channel(std::move(name), "webhook", {{"url", {url, {}}}, {"token-file", {token.string(), {}}}});
}
std::vector<Delivery::Channel> one(Delivery::Channel only) {
    std::vector<Delivery::Channel> out;
    out.push_back(std::move(only));
    return out;
}
Notice notice(std::string id) {
    return {std::move(id),
            "raised",
            "above-band",
            "stockpot",
            "high",
            "2026-11-26T16:00:00-05:00",
            "2026-11-26T16:01:00-05:00",
            false,
            "stockpot 192.0 degF, above 190 °F\nturn the burner down"};
}
template <class Condition>
bool within(std::chrono::milliseconds limit, Condition condition) {
    auto const end = std::chrono::steady_clock::now() + limit;
    while (std::chrono::steady_clock::now() < end) {
        if (condition()) return true;
        std::this_thread::sleep_for(5ms);
    }
    return condition();
}
struct Troubles {
    std::mutex mutex;
    std::vector<std::string> lines;
    Delivery::OnTrouble hook() {
        return [this](std::string const&, bool present, std::string const& text) {
            std::lock_guard const lock(mutex);
            lines.push_back((present ? "+" : "-") + text);
        };
    }
    std::vector<std::string> all() {
        std::lock_guard const lock(mutex);
        return lines;
    }
};

}  // namespace

TEST_CASE("a notice is JSON that reads back") {
    auto n = notice("a1");
    n.at.reset();
    auto const text = to_json(n);
    CHECK_THAT(text, INGLE_CONTAINS("\"at\":null") && INGLE_CONTAINS("\"late\":false"));
    auto const back = notice_from_json(text);
    REQUIRE(back);
    CHECK(to_json(*back) == text);
    CHECK_FALSE(notice_from_json("{\"id\":"));
    CHECK_FALSE(notice_from_json("[]"));
    n.text = "\xff broken";
    CHECK_THAT(to_json(n), INGLE_CONTAINS("broken"));
}

TEST_CASE("500, 500, 200: one id in every attempt, stored before and sent after (E6)") {
    HttpReceiver receiver({"500", "500", "200"});
    MemoryOutbox outbox;
    Troubles troubles;
    Delivery delivery(one(webhook(receiver.url())), outbox, troubles.hook(), quick);
    auto seven = notice("n7");
    seven.priority = "medium";  // the first failure of a high one is told
    delivery.send(0, seven);
    REQUIRE(within(5s, [&] { return outbox.count("sent") == 1; }));
    auto const requests = receiver.requests();
    REQUIRE(requests.size() == 3);
    for (auto const& request : requests) {
        CHECK_THAT(request, INGLE_CONTAINS("Idempotency-Key: n7\r\n"));
        CHECK_THAT(request, INGLE_CONTAINS("{\"id\":\"n7\",\"kind\":\"raised\",\"alarm\":\"above-band\""));
        CHECK_THAT(request, INGLE_CONTAINS("Authorization: Bearer s3cret"));
    }
    auto const told = outbox.told();
    CHECK(told.front() == "store phone n7");
    CHECK(told.back() == "sent phone n7");
    CHECK(outbox.count("failed") == 2);
    for (auto const& line : told) CHECK(line.find("s3cret") == std::string::npos);
    CHECK(troubles.all().empty());
    CHECK(delivery.channels()[0].delivered == 1);
}

TEST_CASE("404 is a mistake in the configuration: told at once, and good again with the next success") {
    HttpReceiver receiver({"404"});
    MemoryOutbox outbox;
    Troubles troubles;
    Delivery delivery(one(webhook(receiver.url())), outbox, troubles.hook(), quick);
    delivery.send(0, notice("a"));
    REQUIRE(within(5s, [&] { return outbox.count("given up") == 1; }));
    REQUIRE(within(5s, [&] { return troubles.all().size() == 1; }));
    CHECK_THAT(troubles.all()[0],
               INGLE_CONTAINS("+the channel phone does not deliver") && INGLE_CONTAINS("404"));
    CHECK(receiver.requests().size() == 1);
    delivery.send(0, notice("b"));
    CHECK(within(5s, [&] { return troubles.all().size() == 2; }));
    CHECK(delivery.channels()[0].trouble.empty());
}

// field case C8
TEST_CASE(
    "C8: what failed while the clock was wrong is tried at once when it is set, and the reason says so") {
    HttpReceiver receiver({"500"});
    MemoryOutbox outbox;
    Delivery delivery(one(webhook(receiver.url())), outbox, {}, {600s, 600s, 3600s, 3600s, 3, 500});
    delivery.send(0, notice("a"));
    REQUIRE(within(5s, [&] { return outbox.count("failed") == 1; }));
    CHECK(delivery.channels()[0].pending == 1);  // queued, and the next try is ten minutes away
    delivery.clock_was_set();
    CHECK(within(5s, [&] { return outbox.count("sent") == 1; }));
    CHECK(receiver.requests().size() == 2);

    // Certificates are checked whatever the clock says; the board's own idea of the time goes with the
    // reason.
    Transfer const transfer("https://hall.example/notice", {});
    auto const reason = transfer.reason(CURLE_PEER_FAILED_VERIFICATION);
    CHECK_THAT(reason, INGLE_CONTAINS("hall.example") && INGLE_CONTAINS("its clock is not set yet"));
    CHECK_THAT(transfer.reason(CURLE_COULDNT_CONNECT), !INGLE_CONTAINS("clock"));
}

TEST_CASE("429 with Retry-After is waited for, nothing is dropped, order is kept (E10)") {
    HttpReceiver receiver({"429 Retry-After: 1"});
    MemoryOutbox outbox;
    Delivery delivery(one(webhook(receiver.url())), outbox, {}, quick);
    for (auto const* id : {"a", "b", "c"}) delivery.send(0, notice(id));
    REQUIRE(within(8s, [&] { return outbox.count("sent") == 3; }));
    auto const times = receiver.times();
    REQUIRE(times.size() == 4);
    CHECK(times[1] - times[0] >= 1000ms);
    std::vector<std::string> sent;
    for (auto const& line : outbox.told())
        if (line.starts_with("sent")) sent.push_back(line);
    CHECK(sent == std::vector<std::string>{"sent phone a", "sent phone b", "sent phone c"});
}

namespace {

Notice about_pot(char const* id, char const* kind, char const* priority) {
    auto one = notice(id);
    one.kind = kind, one.priority = priority;
    one.alarm = "above-band", one.subject = "stockpot", one.single = true;
    return one;
}

}  // namespace

TEST_CASE("what a receiver asks for holds back nothing that is more urgent, and is a failure at once") {
    HttpReceiver receiver({"429 Retry-After: 3600"});
    MemoryOutbox outbox;
    std::atomic<int> troubles = 0;
    Delivery delivery(
        one(webhook(receiver.url())), outbox,
        [&](std::string const&, bool present, std::string const&) { troubles += present; }, quick);
    auto low = notice("low");
    low.priority = "low";
    delivery.send(0, low);
    REQUIRE(within(5s, [&] { return outbox.count("failed") == 1; }));
    CHECK(within(2s, [&] { return troubles == 1; }));
    // Even so it waits for minutes, and not for the hour that was asked for.
    auto const waiting = delivery.waiting();
    REQUIRE(waiting.size() == 1);
    CHECK(waiting[0].next_try - std::chrono::steady_clock::now() <= 15min);
    auto high = notice("high");
    high.priority = "high";
    delivery.send(0, high);
    CHECK(within(5s, [&] { return outbox.count("sent phone high") == 1; }));
    CHECK(within(5s, [&] { return outbox.count("sent phone low") == 1; }));  // it takes them again
}

TEST_CASE("the first try of a high alarm that fails is told of; of another one the third") {
    HttpReceiver receiver({"500", "500", "500"});
    MemoryOutbox outbox;
    std::atomic<int> troubles = 0;
    auto const priority = GENERATE("high", "medium");
    Delivery delivery(
        one(webhook(receiver.url())), outbox,
        [&](std::string const&, bool present, std::string const&) {
            if (present && troubles == 0) troubles = static_cast<int>(outbox.count("failed"));
        },
        quick);
    delivery.send(0, about_pot("a", "raised", priority));
    REQUIRE(within(8s, [&] { return outbox.count("sent") == 1; }));
    CHECK(troubles == (std::string_view(priority) == "high" ? 1 : 3));
}

TEST_CASE("after an outage one message of an alarm is told, the newest") {
    HttpReceiver receiver({"500"});
    MemoryOutbox outbox;
    Delivery delivery(one(webhook(receiver.url())), outbox, {}, {600s, 600s, 3600s, 3600s, 3, 500});
    delivery.send(0, about_pot("raised", "raised", "medium"));
    REQUIRE(within(5s, [&] { return outbox.count("failed") == 1; }));
    delivery.send(0, about_pot("again", "reminder", "medium"));
    REQUIRE(delivery.waiting().size() == 1);
    CHECK(delivery.waiting()[0].notice.kind == "raised");  // the first word of it that arrives
    auto other = about_pot("other", "raised", "medium");
    other.subject = "smoker";
    delivery.send(0, other);
    delivery.send(0, about_pot("over", "cleared", "medium"));
    delivery.clock_was_set();
    REQUIRE(within(5s, [&] { return outbox.count("sent") == 2; }));
    CHECK(outbox.count("sent phone over") == 1);
    CHECK(outbox.count("sent phone other") == 1);
    CHECK(receiver.requests().size() == 3);
    CHECK(outbox.count("given up phone raised: a newer notice says it") == 1);
}

TEST_CASE("a mute receiver delays nobody else, is given up in 10 s, and stopping is prompt (E7)") {
    HttpReceiver mute({"mute"}), good({});
    MemoryOutbox outbox;
    std::vector<Delivery::Channel> channels;
    channels.push_back(webhook(mute.url(), "mute"));
    channels.push_back(webhook(good.url(), "good"));
    Delivery delivery(std::move(channels), outbox, {}, quick);
    auto const begin = std::chrono::steady_clock::now();
    delivery.send(0, notice("a"));
    delivery.send(1, notice("a"));
    CHECK(std::chrono::steady_clock::now() - begin < 100ms);
    CHECK(within(2s, [&] { return outbox.count("sent good") == 1; }));
    REQUIRE(within(14s, [&] { return outbox.count("sent mute") == 1; }));
    CHECK(std::chrono::steady_clock::now() - begin > 9s);
    CHECK(outbox.count("failed mute") == 1);
}

TEST_CASE("stopping breaks off an attempt and leaves the notice in the outbox") {
    HttpReceiver mute({"mute"});
    MemoryOutbox outbox;
    Delivery delivery(one(webhook(mute.url())), outbox, {}, quick);
    delivery.send(0, notice("a"));
    REQUIRE(within(3s, [&] { return mute.requests().size() == 1; }));
    auto const begin = std::chrono::steady_clock::now();
    delivery.stop();
    CHECK(std::chrono::steady_clock::now() - begin < 2s);
    CHECK(outbox.told() == std::vector<std::string>{"store phone a"});
}

TEST_CASE("what the last run left is delivered, marked late; a closed port is tried again") {
    std::string url;
    { url = HttpReceiver({}).url(); }
    MemoryOutbox outbox;
    Troubles troubles;
    outbox.left = {{"gone", notice("x"), 2}, {"phone", notice("a"), 2}};
    HttpReceiver receiver({});
    Delivery delivery(one(webhook(receiver.url())), outbox, troubles.hook(), quick);
    delivery.resume();
    REQUIRE(within(5s, [&] { return outbox.count("sent phone a") == 1; }));
    CHECK_THAT(receiver.requests()[0], INGLE_CONTAINS("\"late\":true"));
    CHECK(outbox.count("given up gone x") == 1);

    Delivery closed(one(webhook(url)), outbox, troubles.hook(), quick);
    auto b = notice("b");
    b.priority = "medium";
    closed.send(0, b);
    REQUIRE(within(5s, [&] { return troubles.all().size() == 1; }));  // after the third attempt
    CHECK(outbox.count("failed phone b") >= 3);
    CHECK(closed.waiting().size() == 1);
}

TEST_CASE("a command gets JSON on its input and a scrubbed environment, without a shell") {
    auto const folder = std::filesystem::path(TEST_BUILD) / "unit_notices";
    std::filesystem::remove_all(folder);
    std::filesystem::create_directories(folder);
    auto const command = [&](std::vector<std::string> argv) {
        return channel("log", "command", {{"command", {std::move(argv), {}}}}, folder);
    };
    std::stop_source stop;
    CHECK(command({"/usr/bin/tee", "-a", "a b;$(x).log"})
              .notifier->deliver(notice("n"), stop.get_token())
              .outcome == Attempt::Outcome::delivered);
    std::string line;
    std::ifstream in(folder / "a b;$(x).log");
    std::getline(in, line);
    CHECK(line == to_json(notice("n")));
    ::setenv("NOTIFY_SOCKET", "/run/x", 1);
    CHECK(command({"/bin/sh", "-c", "env > env.txt"})
              .notifier->deliver(notice("n"), stop.get_token())
              .outcome == Attempt::Outcome::delivered);
    std::ifstream env(folder / "env.txt");
    std::string const seen(std::istreambuf_iterator<char>(env), {});
    CHECK_THAT(seen, INGLE_CONTAINS("INGLE_ALARM=above-band"));
    CHECK(seen.find("NOTIFY_SOCKET") == std::string::npos);

    CHECK(command({"/bin/false"}).notifier->deliver(notice("n"), stop.get_token()).outcome ==
          Attempt::Outcome::try_again);
    auto long_one = notice("n");
    long_one.text.assign(100'000, 'x');  // more than a pipe holds: the program ends while we still write
    CHECK(command({"/bin/sh", "-c", "exec 0<&-; exec sleep 0.2"})
              .notifier->deliver(long_one, stop.get_token())
              .outcome == Attempt::Outcome::delivered);
    CHECK_THROWS_WITH(command({"/no/such"}), "there is no program /no/such");
    auto const gone = folder / "gone.sh";
    std::filesystem::copy_file("/bin/true", gone);
    auto const removed = command({gone.string()});
    std::filesystem::remove(gone);
    CHECK(removed.notifier->deliver(notice("n"), stop.get_token()).outcome == Attempt::Outcome::give_up);
    CHECK_THROWS(command({"tee"}));
    std::jthread later([&] {
        std::this_thread::sleep_for(200ms);
        stop.request_stop();
    });
    auto const begin = std::chrono::steady_clock::now();
    CHECK(command({"/bin/sleep", "60"}).notifier->deliver(notice("n"), stop.get_token()).outcome ==
          Attempt::Outcome::try_again);
    CHECK(std::chrono::steady_clock::now() - begin < 2s);
}

TEST_CASE("a token is read at each delivery, and refused where others can read it") {
    auto const token = std::filesystem::path(TEST_BUILD) / "unit_notices_open_token";
    std::ofstream(token) << "s3cret\n";
    std::filesystem::permissions(token, std::filesystem::perms(0644));
    auto const phone = channel("phone", "webhook",
                               {{"url", {"http://127.0.0.1:1/", {}}}, {"token-file", {token.string(), {}}}});
    std::stop_source stop;
    auto const refused = phone.notifier->deliver(notice("n"), stop.get_token());
    CHECK(refused.outcome == Attempt::Outcome::give_up);
    CHECK(refused.reason == "the token: everybody on this machine can get at " + token.string());
    std::filesystem::permissions(token, std::filesystem::perms(0600));
    CHECK(phone.notifier->deliver(notice("n"), stop.get_token()).outcome == Attempt::Outcome::try_again);
}

TEST_CASE("a channel's own keys are checked") {
    Settings settings;
    settings.channels.push_back(
        {"phone", "webhook", {}, {}, {{"ulr", {"http://x", {"k", 4, 1}}}}, {"k", 1, 1}});
    settings.channels.push_back({"desk", "pigeon", {}, {}, {}, {"k", 7, 1}});
    settings.channels.push_back(
        {"horn", "buzzer", {}, {}, {{"line", {std::int64_t{17}, {"k", 11, 1}}}}, {"k", 9, 1}});
    auto const errors = channel_problems(settings);
    REQUIRE(errors.size() == 4);
    CHECK(errors[0].text() == "k:4:1: channel.phone.ulr: unknown key, did you mean \"url\"?");
    CHECK_THAT(errors[1].text(), INGLE_CONTAINS("channel.phone.url: is missing"));
    CHECK_THAT(errors[2].text(), INGLE_CONTAINS("\"pigeon\" is no way to send a notice"));
    CHECK_THAT(errors[2].text(), INGLE_CONTAINS("write \"webhook\""));
    CHECK_THAT(errors[3].text(), INGLE_CONTAINS("channel.horn.chip: is missing"));
    settings.channels[1].kind = "webhok";
    CHECK_THAT(channel_problems(settings)[2].text(), INGLE_CONTAINS("did you mean \"webhook\"?"));
}

TEST_CASE("a buzzer sounds as often as it is urgent, and says why it cannot") {
    Notice low{"1", "raised", "x", "y", "low", {}, {}, false, ""};
    auto high = low, over = low;
    high.priority = "high";
    over.kind = "cleared";
    CHECK(buzzer::beeps_of(low).size() == 1);
    CHECK(buzzer::beeps_of(high).size() == 8);
    CHECK(buzzer::beeps_of(over).empty());
    std::chrono::milliseconds whole{};
    for (auto const& beep : buzzer::beeps_of(high)) whole += beep.sound + beep.pause;
    CHECK(whole < attempt_limit);

    auto const* info = find_notifier("buzzer");
    REQUIRE(info);
    auto const silent =
        info->make({{"chip", {std::string("no-such-chip"), {}}}, {"line", {std::int64_t{17}, {}}}}, {});
    auto const attempt = silent->deliver(high, {});
    CHECK(attempt.outcome == Attempt::Outcome::try_again);
    CHECK_THAT(attempt.reason, INGLE_CONTAINS("the buzzer: "));
    CHECK(silent->deliver(over, {}).outcome == Attempt::Outcome::delivered);
}
