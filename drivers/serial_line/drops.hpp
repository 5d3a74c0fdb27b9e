// How often a port was lost and came back, in words. Pure; owned by one driver.
#pragma once

#include <deque>
#include <optional>
#include <string>

#include "drivers/reading/clock.hpp"

namespace ingle {

class Drops {
public:
    static constexpr Span remembered{60 * 60'000};

    void lost(Instant at);
    // "was gone for 2 s, 5 times in the last 3 min": what is to be said when the port is open again.
    // `supply_is_low`: the board's own word, and the likely cause.
    std::string back(Instant at, bool supply_is_low);

private:
    std::optional<Instant> lost_;
    std::deque<Instant> drops_;
};

}  // namespace ingle
