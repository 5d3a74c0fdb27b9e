// What a desktop is asked to show of a notice, as a table.
#include "daemon/notices/desktop/card.hpp"
#include "daemon/notices/desktop/screen.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::desktop;

namespace {

Notice notice(std::string kind, std::string priority, std::string text) {
    Notice notice{"n1", std::move(kind), "above-band",   "stockpot", std::move(priority), {},
                  {},   false,           std::move(text)};
    notice.alarms = {7};
    return notice;
}

}  // namespace

TEST_CASE("the first sentence is the summary, the rest the body, escaped where the desktop reads markup") {
    auto const told = notice("raised", "high", "stockpot is at 85.0 °C. It rises.\nTurn <it> down & stir.");
    auto const plain = card_of(told, {true, false}, "Shelve for 30 min");
    CHECK(plain.summary == "stockpot is at 85.0 °C");
    CHECK(plain.body == "It rises.\nTurn <it> down & stir.");
    CHECK(card_of(told, {true, true}, "").body == "It rises.\nTurn &lt;it&gt; down &amp; stir.");
    CHECK(plain.actions ==
          std::vector<std::string>{"acknowledge", "Acknowledge", "shelve", "Shelve for 30 min"});
    auto const one = card_of(notice("raised", "low", "peel: the time is up."), {}, "");
    CHECK(one.summary == "peel: the time is up");
    CHECK(one.body.empty());
}

TEST_CASE("urgency, how long it stays and whether it has buttons") {
    struct Row {
        char const *kind, *priority;
        int urgency, expires_ms;
        bool buttons;
    };
    for (auto const& row : {Row{"raised", "high", 2, 0, true}, Row{"reminder", "medium", 1, 0, true},
                            Row{"raised", "low", 0, -1, true}, Row{"cleared", "high", 0, -1, false},
                            Row{"summary", "high", 2, 0, true}, Row{"test", "low", 0, -1, false}}) {
        INFO(row.kind << ' ' << row.priority);
        auto const card = card_of(notice(row.kind, row.priority, "a. b"), {true, false}, "Shelve");
        CHECK(card.urgency == row.urgency);
        CHECK(card.expires_ms == row.expires_ms);
        CHECK(card.actions.empty() != row.buttons);
        CHECK(card_of(notice(row.kind, row.priority, "a. b"), {}, "Shelve").actions.empty());
    }
}

TEST_CASE(
    "a notice of an earlier run has no buttons, for nobody knows its alarms any more; and says that it is "
    "late") {
    auto told = notice("raised", "high", "stockpot is hot.");
    told.alarms.clear();
    told.late = true;
    auto const card = card_of(told, {true, false}, "Shelve");
    CHECK(card.actions.empty());
    CHECK(card.body == "This notice is late: it could not be shown before.");
}

TEST_CASE("what is shown is known after a restart, to the same desktop only") {
    Shown const pot{7, {12, 13}, {"pot <b>", "is \"hot\"", 2, 0, {acknowledge_word, "Acknowledge"}}};
    auto const text = to_text("me", "bus:1.5", {pot});
    auto const again = shown_in(text, "bus:1.5");
    REQUIRE(again.size() == 1);
    CHECK(again[0].id == 7);
    CHECK(by_whom(text) == "me");
    CHECK(by_whom("{").empty());
    CHECK(again[0].open == pot.open);
    CHECK(again[0].card.summary == pot.card.summary);
    CHECK(again[0].card.body == pot.card.body);
    CHECK(again[0].card.urgency == 2);
    CHECK(again[0].card.expires_ms == 0);
    CHECK(again[0].card.actions == pot.card.actions);
    CHECK(shown_in(text, "bus:1.6").empty());
    CHECK(shown_in(text.substr(0, 20), "bus:1.5").empty());
    CHECK(shown_in("[1]", "bus:1.5").empty());
    CHECK(shown_in("", "bus:1.5").empty());
}
