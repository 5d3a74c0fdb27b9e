// What a kitchen file that was cut off lacks.
#include "daemon/run/missing_parts.hpp"

#include "config/load.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr char const* whole = R"([kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "pot"
driver = "serial-line"
port = "/dev/ttyS0"
unit = "degC"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"
band = ["60 degC", "70 degC"]

[[vessel]]
name = "larder"
kind = "room"

[serve]
port = 8094

[[channel]]
name = "phone"
kind = "command"
command = ["true"]
)";

Settings parsed(std::string const& text) {
    auto loaded = parse_kitchen(text, "kitchen.toml");
    REQUIRE(loaded.errors.empty());
    return loaded.settings;
}

std::string without(std::string text, std::string const& from, std::string const& to = "") {
    auto const begin = text.find(from);
    REQUIRE(begin != std::string::npos);
    auto const end = to.empty() ? text.size() : text.find(to, begin);
    return text.erase(begin, end - begin);
}

}  // namespace

TEST_CASE(
    "a file that was cut off where any line ends has mistakes, or lacks something, or lost keys alone") {
    auto const before = parsed(whole);
    std::string const text = whole;
    int told = 0;
    for (auto end = text.find('\n'); end != std::string::npos; end = text.find('\n', end + 1)) {
        auto const cut = parse_kitchen(text.substr(0, end + 1), "kitchen.toml");
        if (!cut.errors.empty()) continue;
        bool const all = text.find("[[channel]]") < end;
        CAPTURE(text.substr(0, end + 1));
        CHECK(missing_parts(before, cut.settings).empty() == all);
        told += all ? 0 : 1;
    }
    CHECK(told >= 10);
}

TEST_CASE("what is missing is named") {
    auto const before = parsed(whole);
    CHECK(missing_parts(before, before).empty());
    CHECK(missing_parts(before, parsed(without(whole, "[[channel]]"))) ==
          "There is no channel phone any more. Is the kitchen file whole, and is there what it names?");
    CHECK(missing_parts(before, parsed(without(whole, "[[vessel]]\nname = \"larder\""))) ==
          "There is no vessel larder, no channel phone and no page any more. Is the kitchen file whole, and "
          "is there what it names?");
    CHECK(missing_parts(before, parsed(without(whole, "[serve]", "[[channel]]"))) ==
          "There is no page any more. Is the kitchen file whole, and is there what it names?");
}

TEST_CASE("another name, or more than before, is no loss") {
    auto const before = parsed(whole);
    std::string renamed = whole;
    renamed.replace(renamed.find("larder"), 6, "cellar");
    CHECK(missing_parts(before, parsed(renamed)).empty());
    CHECK(missing_parts(parsed(without(whole, "[[channel]]")), before).empty());
}
