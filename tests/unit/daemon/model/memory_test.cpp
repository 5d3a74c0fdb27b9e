#include "daemon/model/memory.hpp"

#include "daemon/model/alarm.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("what is put in a memory comes out unchanged") {
    Memory memory;
    for (double const value : {0.1, -273.15, 1e-300, 82.22222222222223}) {
        memory.put("x", value);
        CHECK(memory.number("x") == value);
    }
    memory.put("n", std::int64_t{-9'007'199'254'740'993});
    CHECK(memory.integer("n") == -9'007'199'254'740'993);
    memory.put("t", std::string("any, text\n"));
    CHECK(memory.text("t") == "any, text\n");
    CHECK_FALSE(memory.number("t"));
    CHECK_FALSE(memory.integer("none"));
    memory.put("bad", std::string("12x"));
    CHECK_FALSE(memory.integer("bad"));
    CHECK_FALSE(memory.instant("n"));
}

TEST_CASE("instants move into the next boot") {
    Memory memory;
    memory.put("at", Instant(Span(5000)));
    CHECK(memory.text("at") == "@5000");
    memory.shift_instants(Span(-7000));
    CHECK(memory.instant("at") == Instant(Span(-2000)));
}

TEST_CASE("alarm states have the words of IEC 62682") {
    CHECK(to_word(AlarmState::returned_unacknowledged) == "returned-unacknowledged");
    CHECK(to_word(Priority::medium) == "medium");
    CHECK(to_word(SubjectKind::vessel) == "vessel");
}
