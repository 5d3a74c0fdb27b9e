// Whether the tests take as long as the kitchen's mishaps did: INGLE_LONG=1.
#pragma once

#include <cstdlib>

namespace ingle::test {

inline bool long_form() {
    auto const* wish = std::getenv("INGLE_LONG");
    return wish && *wish == '1';
}

}  // namespace ingle::test
