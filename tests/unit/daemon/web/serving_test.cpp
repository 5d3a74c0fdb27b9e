// The order of a serving time as the page sends it.
#include "config/load.hpp"
#include "daemon/web/commands.hpp"
#include "tests/support/catch.hpp"
#include "tests/unit/daemon/web/fake_host.hpp"

using namespace ingle;
using test::FakeHost;

namespace {

std::int64_t ms_of(char const* iso) {
    return parse_iso_time(iso)->time_since_epoch().count();
}

}  // namespace

TEST_CASE("a serving time is one instant, or what the kitchen's clock shows then") {
    FakeHost host;
    auto const zone = TimeZone::from_tz("CET-1CEST,M3.5.0,M10.5.0/3").value();
    auto const name = host.settings().dishes[0].name;
    auto const read = [&](std::string const& at) {
        return read_command("serve", R"({"dish": ")" + name + R"(", "at": )" + at + "}", host.settings(), 0,
                            zone);
    };
    auto const at = [&](std::string const& text) {
        return std::get<ServeAt>(std::get<Command>(read('"' + text + '"'))).at;
    };
    CHECK(at("2026-11-26T17:00:00-05:00") == ms_of("2026-11-26T22:00:00Z"));
    CHECK(at("2026-11-26T17:00") == ms_of("2026-11-26T16:00:00Z"));
    CHECK(at("2026-07-26T17:00") == ms_of("2026-07-26T15:00:00Z"));
    CHECK(at("2026-10-25T02:30") == ms_of("2026-10-25T00:30:00Z"));  // it comes twice: the first
    CHECK_FALSE(std::get<ServeAt>(std::get<Command>(read("null"))).at);
    auto const refused = [&](std::string const& text) {
        auto const found = read(text);
        REQUIRE(std::holds_alternative<BadCommand>(found));
        return std::get<BadCommand>(found).text;
    };
    CHECK_THAT(refused("\"2026-03-29T02:30\""), INGLE_CONTAINS("put forward"));
    CHECK_THAT(refused("\"at five\""), INGLE_CONTAINS("ISO 8601"));
    CHECK_THAT(refused("17"), INGLE_CONTAINS("must be a string"));
}
