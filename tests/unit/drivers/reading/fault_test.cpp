#include "drivers/reading/fault.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("every kind of fault has a word that reads back") {
    for (int k = 0; k <= static_cast<int>(FaultKind::unspecified); ++k) {
        auto const kind = static_cast<FaultKind>(k);
        CHECK(fault_kind_from(to_word(kind)) == kind);
    }
    CHECK_FALSE(fault_kind_from("fine"));
}
