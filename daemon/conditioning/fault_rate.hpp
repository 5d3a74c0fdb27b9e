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
    bool any_lost() const;
    template <class Visit>
    void fields(Visit& visit) {
        auto const before = ring_;
        ring_ = {};
        for (Slot slot : before) {
            Instant at(slot.number * slot_);  // another boot counts from another zero
            visit(at, slot.all, slot.lost);
            slot.number = slot_of(at);
            if (slot.all > 0) place(slot.number) = slot;
        }
    }

private:
    static std::int64_t slot_of(Instant at);
    static constexpr int slots_ = 60;
    static constexpr Span slot_ = span / slots_;
    struct Slot {
        std::int64_t number = -1;
        std::uint32_t all = 0, lost = 0;
    };
    Slot& place(std::int64_t number) {
        return ring_[static_cast<std::size_t>(((number % slots_) + slots_) % slots_)];
    }
    std::array<Slot, slots_> ring_{};
};

}  // namespace ingle
