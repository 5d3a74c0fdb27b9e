// A serving time that was said while the daemon ran: over a restart, and beside the kitchen file's own.
#include "tests/unit/daemon/run/past_lives.hpp"

using namespace ingle;
using namespace ingle::past_lives;
using logbook::testing::Scratch;

namespace {

constexpr std::int64_t hour_ms = 3'600'000;

std::optional<std::int64_t> serving_time(Life const& life) {
    return life.core->settings().dishes[0].serve_at;
}

std::string refusal_of(Life& life, ServeAt const& serve) {
    for (auto const& effect : life.core->command(life.now, serve))
        if (auto const* event = std::get_if<Event>(&effect); event && event->name == "refused")
            return event->text;
    return {};
}

}  // namespace

TEST_CASE("a serving time that was said is remembered over a restart until the kitchen file says another") {
    Scratch dir;
    auto const path = dir / "l.db";
    auto filed = settings();
    bool const has_one = GENERATE(false, true);
    if (has_one) filed.dishes[0].serve_at = midnight + 3 * hour_ms;
    auto const said = GENERATE(std::optional(midnight + 5 * hour_ms), std::optional<std::int64_t>());
    if (!has_one && !said) return;
    {
        Life life(path, "boot-a", start, right, filed);
        life.recall();
        life.command(right);
        life.command(ServeAt{0, said});
        CHECK(serving_time(life) == said);
        CHECK(life.count("note") == 1);
        life.run(5, 65);
        life.end();
    }
    {
        Life life(path, "boot-a", start + Span(60'000), right, filed);
        life.recall();
        life.command(right);
        CHECK(serving_time(life) == said);
        life.run(5, 65);
        life.end();
    }
    {  // and once more: what was said is not taken for the file's
        Life life(path, "boot-a", start + Span(120'000), right, filed);
        life.recall();
        CHECK(serving_time(life) == said);
        life.end();
    }
    filed.dishes[0].serve_at = midnight + 4 * hour_ms;
    Life life(path, "boot-a", start + Span(180'000), right, filed);
    life.recall();
    CHECK(serving_time(life) == midnight + 4 * hour_ms);
}

TEST_CASE("a serving time that was said before the logbook opened is remembered, too") {
    Scratch dir;
    auto const path = dir / "l.db";
    first_life(path);
    {
        Life life(path, "boot-a", start + Span(200'000), right);
        life.command(right);
        life.command(ServeAt{0, midnight + 5 * hour_ms});
        life.run(5, 65);
        life.recall();
        while (life.core->catch_up(Span(1))) {
        }
        CHECK(life.count("not-taken-up") == 0);
        CHECK(serving_time(life) == midnight + 5 * hour_ms);
        life.run(5, 65);
        life.end();
    }
    Life life(path, "boot-a", start + Span(400'000), right);
    life.recall();
    CHECK(serving_time(life) == midnight + 5 * hour_ms);
}

TEST_CASE("what is over, too far ahead or by no clock is no serving time") {
    Scratch dir;
    Life life(dir / "l.db", "boot-a", start, right);
    life.recall();
    CHECK_THAT(refusal_of(life, {0, midnight + hour_ms}), INGLE_CONTAINS("the time is not known yet"));
    life.command(right);
    CHECK_THAT(refusal_of(life, {0, midnight}), INGLE_CONTAINS("is over already"));
    CHECK_THAT(refusal_of(life, {0, midnight + 367 * 24 * hour_ms}), INGLE_CONTAINS("more than a year"));
    CHECK_THAT(refusal_of(life, {0, std::nullopt}), INGLE_CONTAINS("has no serving time"));
    CHECK_THAT(refusal_of(life, {7, midnight + hour_ms}), INGLE_CONTAINS("there is no dish"));
    CHECK_FALSE(serving_time(life));
}
