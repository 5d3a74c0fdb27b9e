#include "daemon/run/guest_pass.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("a pass is good as it was signed, and in no other form nor with another key") {
    auto const pass = guest_pass("key", 1'795'712'400);
    CHECK(pass.starts_with("1795712400."));
    CHECK(guest_until("key", pass) == 1'795'712'400);
    CHECK_FALSE(guest_until("other", pass));
    CHECK_FALSE(guest_until("", pass));
    CHECK_FALSE(guest_until("key", ""));
    CHECK_FALSE(guest_until("", ""));
    CHECK(guest_pass("", 1).empty());
    auto later = pass;
    later[0] = '2';
    CHECK_FALSE(guest_until("key", later));
    for (auto const& wrong : {"0" + pass, "+" + pass, pass + "0", pass.substr(0, pass.size() - 1),
                              std::string("99999999999999999999.x")})
        CHECK_FALSE(guest_until("key", wrong));
}
