// An object's state as a text: the same comes back, moved into this boot, or nothing does.
#include "daemon/model/fields.hpp"

#include <memory>

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

struct Part {
    double level = 0.1;
    float thin = 0.25F;
    std::optional<double> maybe;
    template <class Visit>
    void fields(Visit& visit) {
        visit(level, thin, maybe);
    }
};
struct Whole {
    Part part;
    bool yes = false;
    int count = 0, place = 0;
    Instant at{};
    std::optional<Instant> never;
    std::array<std::pair<double, double>, 2> both{};
    template <class Visit>
    void fields(Visit& visit) {
        visit(part, yes, count, at, never, both);
        visit.index(place, 4);
    }
};

}  // namespace

TEST_CASE("an object comes back from its text as it was, its instants in this boot") {
    Whole before{{1.0 / 3, 0.1F, 7.5}, true, -3, 2, Instant(Span(5000)), {}, {{{1, 2}, {3, -4e-9}}}};
    Memory memory;
    remember_fields(memory, "x", before);
    memory.shift_instants(Span(-7000));
    Whole after;
    REQUIRE(recall_fields(memory, "x", after));
    CHECK(after.part.level == before.part.level);
    CHECK(after.part.thin == before.part.thin);
    CHECK(after.part.maybe == before.part.maybe);
    CHECK(after.yes);
    CHECK(after.count == -3);
    CHECK(after.place == 2);
    CHECK(after.at == Instant(Span(-2000)));
    CHECK_FALSE(after.never);
    CHECK(after.both == before.both);
}

TEST_CASE("a text that is damaged, too short, too long or out of range leaves the object as it was") {
    Memory memory;
    remember_fields(memory, "x", Whole{});
    auto const whole = *memory.text("x");
    std::string place_beyond = whole;
    place_beyond.back() = '4';
    for (std::string const& text :
         {std::string(), whole.substr(0, whole.size() - 2), whole + " 1", "x" + whole,
          whole.substr(0, 3) + "?" + whole.substr(4), place_beyond, std::string("nan inf")}) {
        INFO(text);
        memory.put("x", text);
        Whole object;
        object.count = 77;
        CHECK_FALSE(recall_fields(memory, "x", object));
        CHECK(object.count == 77);
    }
    CHECK_FALSE(recall_fields(Memory(), "x", *std::make_unique<Whole>()));
}
