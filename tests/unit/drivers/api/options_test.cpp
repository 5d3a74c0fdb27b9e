#include "drivers/api/options.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

namespace {

constexpr std::string_view parities[] = {"none", "even", "odd"};
constexpr OptionInfo known[] = {
    {"port", OptionKind::text, true, "", {}, 0, 0, "the serial device"},
    {"baud", OptionKind::integer, false, "9600", {}, 300, 4'000'000, "bit/s"},
    {"parity", OptionKind::text, false, "none", parities, 0, 0, ""},
    {"scale", OptionKind::number, false, "1", {}, 0, 0, ""},
    {"fault-values", OptionKind::integers, false, "", {}, 0, 0, ""},
    {"flag", OptionKind::boolean, false, "", {}, 0, 0, ""},
};

Options sound() {
    Options options;
    options.set("port", "/dev/x");
    return options;
}

}  // namespace

TEST_CASE("sound options have no problems and read back") {
    auto options = sound();
    options.set("baud", std::int64_t{9600});
    options.set("scale", std::int64_t{2});
    options.set("fault-values", std::int64_t{32767});
    CHECK(problems(known, options).empty());
    CHECK(options.number("scale") == 2);
    CHECK(options.integers("fault-values") == std::vector<std::int64_t>{32767});
    CHECK(options.integer("absent", 7) == 7);
    options.set("port", std::int64_t{3});
    CHECK(options.text("port") == "3");
}

TEST_CASE("every problem is told, not only the first") {
    Options options;
    options.set("bauds", std::int64_t{9600});
    options.set("baud", std::int64_t{1});
    options.set("parity", "sometimes");
    options.set("scale", "2");
    options.set("flag", std::int64_t{1});
    auto const found = problems(known, options);
    REQUIRE(found.size() == 6);
    CHECK_THAT(found[0].right, INGLE_CONTAINS("did you mean \"baud\"?"));
    CHECK((found[1].key == "port" && found[1].wrong == "is missing"));
    CHECK_THAT(found[2].right, INGLE_CONTAINS("from 300 to"));
    CHECK_THAT(found[3].right, INGLE_CONTAINS("\"even\""));
    CHECK(found[4].key == "scale");
    CHECK(found[5].key == "flag");
}
