// Which part of the readings of the last five minutes was lost. Fixed memory.
#pragma once

#include <array>
#include <cstdint>

#include "drivers/reading/clock.hpp"

namespace ingle {

class FaultRate {
public:
    static constexpr Span span = std::chrono::minutes(5);

    void count(Instant at, bool lost);
    // 0 to 1; 0 if there were fewer than five readings: one fault of one reading is not a rate.
    double share(Instant now) const;

private:
    static constexpr int slots_ = 60;
    static constexpr Span slot_ = span / slots_;
    struct Slot {
        std::int64_t number = -1;
        std::uint32_t all = 0, lost = 0;
    };
    std::array<Slot, slots_> ring_{};
};

}  // namespace ingle
