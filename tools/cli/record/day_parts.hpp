// Parts of a day's record. Shared by the sources of this folder.
#pragma once

#include <map>
#include <utility>
#include <vector>

#include "daemon/review/food_facts.hpp"
#include "tools/cli/record/day_record.hpp"

namespace ingle::cli {

// Stretches of wall time in order of their begin, none within another.
using Stretches = std::vector<WallSpan>;
void add_stretch(Stretches& all, WallSpan one);  // joined with what it touches; an empty one is left out
double length_of(Stretches const& all);          // s

struct VesselUse {  // when food was to be kept hot or cold in a vessel
    Stretches hot, cold;
};
struct DayCooks {
    std::map<std::string, VesselUse> vessels;
    std::map<std::string, Stretches> probes;  // when a probe was to be read
};

// Rows of cooking, cooling and the holding of dishes.
void read_cooks(Book& book, DayRecord& record, DayCooks& use);
// Rows of the vessels that keep food hot or cold, and the holes in what was to be read.
void read_vessels(Book& book, Settings const& settings, DayRecord& record, DayCooks use);

// Of samples in order, s since `zero`: what lies in these stretches.
void take_extremes(HoldingEntry& row, CookSeries const& series, WallTime zero, Stretches const& in);
// Seconds of the stretches in which the series has no reading that reaches to the next.
double unread_in(CookSeries const& series, WallTime zero, Stretches const& in);
double common_s(Stretches const& in, WallSpan with);

inline WallTime wall_at(WallTime zero, double s) {
    return zero + from_seconds(s);
}

}  // namespace ingle::cli
