// The bare task of scheduling: dishes as chains of stages, each in a vessel, some with the cook's hands, each
// dish ready at its serving time. Whole seconds on one clock. Plain values.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <vector>

#include "config/settings.hpp"

namespace ingle::schedule {

using Seconds = std::int64_t;  // since 1970 UTC, or a length

inline constexpr Seconds worth_telling = 300;  // a dish that is later than its time by less is in time

struct Task {                  // one stage of a dish
    int vessel = -1;           // -1: needs none
    std::optional<Band> band;  // that it needs there; empty: any
    Seconds least = 0;         // the dish is in it so long
    Seconds most = 0;          // at least `least`; more than it: here the dish may wait
    Seconds hands = 0;         // at its begin, at most `least`
    bool attended = false;     // somebody must be there at its begin
    bool under_way = false;    // it is there already, together with whatever else is
};

struct Job {  // one dish: its stages follow each other without a pause
    std::vector<Task> tasks;
    Seconds earliest = 0;  // of its first begin
    Seconds serve_at = 0;  // the end of its last stage
    bool fixed = false;    // its first stage begins at `earliest`, neither sooner nor later
};

struct Interval {
    Seconds from = 0, to = 0;  // from <= t < to
};

// What searches that stand for one answer may take together: a step of one of them takes as much as it has
// tasks.
struct Effort {
    std::size_t left = 0;
    bool spent() const { return left == 0; }
    void take(std::size_t units) { left -= units < left ? units : left; }
};

struct Problem {
    std::vector<Job> jobs;
    std::vector<int> rooms;        // of each vessel: dishes at once
    std::vector<Interval> nights;  // nobody is there; in order, apart from each other
    Effort* effort = nullptr;      // outlives it; empty: each search has its own steps and no other bound
};

// Of each job the begin of each task, and last when it is ready.
using Times = std::vector<std::vector<Seconds>>;

inline bool overlap(Band const& a, Band const& b) {
    return a.low <= b.high && b.low <= a.high;
}

// Can two stages be in one vessel at a time?
inline bool agree(Task const& a, Task const& b) {
    if (a.under_way && b.under_way) return true;
    return !a.band || !b.band || overlap(*a.band, *b.band);
}

}  // namespace ingle::schedule
