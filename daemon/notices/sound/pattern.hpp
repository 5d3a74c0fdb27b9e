// What is to be heard of a notice: strokes of two tones that die away, more, louder and closer together the
// more urgent it is and the longer nobody attends to it. Pure; any thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <vector>

#include "daemon/notices/notice.hpp"

namespace ingle::sound {

inline constexpr int samples_per_s = 48'000;
inline constexpr int highest_step = 2;  // of the escalation, from 0

struct Stroke {
    double hertz = 0, loudness = 0;              // of its first partial; 1 = full scale
    std::chrono::milliseconds sound{0}, gap{0};  // the gap is after it
};

// By how long an alarm has stood without anybody, `later` than the notice: 2 min and 10 min begin a step.
// Where the notice does not say it, a reminder is 2 min old.
int step_of(Notice const& notice, std::chrono::seconds later = std::chrono::seconds(0));
// None for an all-clear. At most 6 s, so that a channel's limit is never near. `loudness`: of the loudest, up
// to 1.
std::vector<Stroke> strokes_of(Notice const& notice, int step, double loudness);
std::chrono::milliseconds length_of(std::vector<Stroke> const& strokes);
std::vector<std::int16_t> samples_of(std::vector<Stroke> const& strokes);  // one channel

}  // namespace ingle::sound
