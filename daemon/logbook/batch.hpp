// What waits for the writer's thread. Plain values.
#pragma once

#include <cstdint>
#include <deque>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "daemon/logbook/logbook.hpp"

namespace ingle::logbook {

// One reading in 24 bytes. `slot` stands for a probe with one calibration; a new calibration is a new slot.
struct ReadingItem {
    enum Flag : std::uint8_t {
        doubtful = 1,
        has_cold_junction = 2,
        has_word = 4,
        fault_goes_on = 8,
        fault_begins = 16,  // takes the next of `reasons`
        rejected = 32       // takes the next of `reasons`
    };
    std::int64_t at = 0;
    std::int32_t units = 0, cold_junction = 0;
    std::uint32_t word = 0;
    std::uint16_t slot = 0;
    std::uint8_t flags = 0;
};
struct Reason {
    Fault fault;
    std::optional<double> raw;  // of a rejected reading
};
struct SlotMade {
    std::uint16_t slot = 0;
    int probe = 0;
    std::int64_t at = 0;
    std::vector<CalibrationPoint> points;
};
struct Anchored {
    std::int64_t at = 0;
    ClockAnchor clock;
};
struct CookEnded {
    std::int64_t id = 0, at = 0;
};
struct CookKept {
    std::int64_t id = 0;
    bool keep = true;
};

using Other = std::variant<AlarmChanged, Event, Anchored, SlotMade, CookBegun, CookEnded, CookKept, OutboxRow,
                           DeliveryAttempt>;

struct Batch {
    std::deque<ReadingItem> readings;
    std::deque<Reason> reasons;
    std::deque<Other> others;
    std::optional<Memory> memory;  // the newest only: each is the whole state
    std::uint64_t ticket = 0;      // of the newest thing in it
    // How many at the front a commit that failed may have stored all the same.
    std::size_t tried_readings = 0, tried_reasons = 0, tried_others = 0;

    bool empty() const { return readings.empty() && others.empty() && !memory; }
    void add(Batch&& newer) {
        for (auto const& item : newer.readings) readings.push_back(item);
        for (auto& reason : newer.reasons) reasons.push_back(std::move(reason));
        for (auto& other : newer.others) others.push_back(std::move(other));
        if (newer.memory) memory = std::move(newer.memory);
        ticket = newer.ticket;
    }
    void all_tried() {
        tried_readings = readings.size(), tried_reasons = reasons.size(), tried_others = others.size();
    }
    void drop_tried() {
        auto const drop = [](auto& from, std::size_t n) {
            from.erase(from.begin(), from.begin() + static_cast<std::ptrdiff_t>(n));
        };
        drop(readings, tried_readings), drop(reasons, tried_reasons), drop(others, tried_others);
        none_tried();
    }
    void none_tried() { tried_readings = tried_reasons = tried_others = 0; }
};

}  // namespace ingle::logbook
