#include <filesystem>
#include <fstream>

#include "daemon/notices/delivery.hpp"
#include "daemon/notices/passing.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/notices/support.hpp"

using namespace ingle;
using namespace std::chrono_literals;

namespace {

std::vector<Delivery::Channel> one(std::string kind, FreeKeys keys) {
    std::vector<Delivery::Channel> out;
    out.push_back({"phone", kind, find_notifier(kind)->make(keys, TEST_BUILD)});
    return out;
}
Notice notice(std::string id, std::string priority) {
    Notice notice;
    notice.id = std::move(id);
    notice.kind = "raised";
    notice.subject = notice.id;
    notice.priority = std::move(priority);
    notice.text = notice.id + " is told";
    return notice;
}
std::vector<std::string> ids(HttpReceiver const& receiver) {
    std::vector<std::string> out;
    for (auto const& request : receiver.requests()) {
        auto const at = request.find("Idempotency-Key: ") + 17;
        out.push_back(request.substr(at, request.find("\r\n", at) - at));
    }
    return out;
}
template <class Condition>
bool within(std::chrono::milliseconds limit, Condition condition) {
    auto const end = std::chrono::steady_clock::now() + limit;
    while (std::chrono::steady_clock::now() < end && !condition()) std::this_thread::sleep_for(2ms);
    return condition();
}

}  // namespace

TEST_CASE("a high notice passes a lower one that hangs, which is told afterwards with its identity") {
    HttpReceiver receiver({"mute"});
    MemoryOutbox outbox;
    Delivery delivery(one("webhook", {{"url", {receiver.url(), {}}}}), outbox, {});
    delivery.send(0, notice("slow", "medium"));
    REQUIRE(within(5s, [&] { return receiver.requests().size() == 1; }));
    delivery.send(0, notice("urgent", "high"));
    REQUIRE(within(5s, [&] { return outbox.count("sent") == 2; }));
    CHECK(ids(receiver) == std::vector<std::string>{"slow", "urgent", "slow"});
    CHECK(outbox.count("failed") == 0);
}

TEST_CASE("an attempt of high priority is not broken off for another one, nor one that ends by itself") {
    auto const file = std::filesystem::path(TEST_BUILD) / "unit_passing";
    std::filesystem::remove(file);
    auto const script = "echo began >>" + file.string() + "; sleep 1; echo ended >>" + file.string();
    MemoryOutbox outbox;
    Delivery delivery(one("command", {{"command", {std::vector<std::string>{"/bin/sh", "-c", script}, {}}}}),
                      outbox, {});
    delivery.send(0, notice("first", "high"));
    REQUIRE(within(5s, [&] { return std::filesystem::exists(file); }));
    delivery.send(0, notice("second", "high"));
    REQUIRE(within(8s, [&] { return outbox.count("sent") == 2; }));
    std::ifstream in(file);
    CHECK(std::string(std::istreambuf_iterator<char>(in), {}) == "began\nended\nbegan\nended\n");

    Passing passing;
    auto const ends = passing.begins("medium");
    passing.waits("high");
    passing.ends();
    CHECK_FALSE(ends.stop_requested());
}
