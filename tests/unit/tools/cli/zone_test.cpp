// All tests of this program run in one zone, in which the clock goes back on 2026-11-01 at 02:00: it is
// looked up once, so it is set before any of them begins.
#include <cstdlib>

#include "tests/support/catch.hpp"
#include "tools/cli/time/local_time.hpp"

namespace {

[[maybe_unused]] int const zone_is_set = setenv("TZ", "EST5EDT,M3.2.0,M11.1.0", 1);

}  // namespace

TEST_CASE("local times are those of TZ") {
    CHECK(ingle::cli::local_iso(ingle::WallTime{}) == "1969-12-31T19:00:00-05:00");
}
