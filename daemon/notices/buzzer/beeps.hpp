// What a buzzer sounds for a notice. Pure; any thread.
#pragma once

#include <chrono>
#include <vector>

#include "daemon/notices/notice.hpp"

namespace ingle::buzzer {

struct Beep {
    std::chrono::milliseconds sound, pause;
};

// One for low, three for medium, eight for high: to be told apart without counting. None for an all-clear;
// at most 4 s, so that a channel's limit is never near.
inline std::vector<Beep> beeps_of(Notice const& notice) {
    using std::chrono::milliseconds;
    if (notice.kind == "cleared") return {};
    if (notice.priority == "high") return {8, Beep{milliseconds(300), milliseconds(150)}};
    if (notice.priority == "medium") return {3, Beep{milliseconds(300), milliseconds(300)}};
    return {Beep{milliseconds(300), milliseconds(0)}};
}

}  // namespace ingle::buzzer
