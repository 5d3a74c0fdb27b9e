// What an alarm asks of the cook: which two of them undo each other.
#include "daemon/model/alarm.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr Action all[] = {Action::none,  Action::raise_heat, Action::lower_heat,
                          Action::chill, Action::reheat,     Action::discard};

}  // namespace

TEST_CASE("actions that undo each other") {
    CHECK(opposed(Action::raise_heat, Action::lower_heat));
    CHECK(opposed(Action::raise_heat, Action::chill));
    CHECK(opposed(Action::reheat, Action::chill));
    CHECK(opposed(Action::reheat, Action::lower_heat));
    CHECK(opposed(Action::discard, Action::reheat));
    CHECK(opposed(Action::discard, Action::chill));
    CHECK_FALSE(opposed(Action::raise_heat, Action::reheat));
    CHECK_FALSE(opposed(Action::lower_heat, Action::chill));
    for (auto const a : all) {
        CHECK_FALSE(opposed(a, a));
        CHECK_FALSE(opposed(a, Action::none));
        for (auto const b : all) CHECK(opposed(a, b) == opposed(b, a));
    }
}

TEST_CASE("an action is written as a word and read again") {
    for (auto const a : all) CHECK(action_from(to_word(a)) == a);
    CHECK_FALSE(action_from("stir").has_value());
}
