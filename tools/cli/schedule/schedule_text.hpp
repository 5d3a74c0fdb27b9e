// A schedule for people: how sure each dish is, what to do when, a chart of vessels and hands, and what is in
// the way. Pure.
#pragma once

#include <string>

#include "daemon/schedule/schedule.hpp"

namespace ingle::cli {

struct Told {
    schedule::Schedule const& schedule;
    Settings const& settings;
    TimeZone const& zone;
    std::size_t width = 100;
};

std::string schedule_text(Told const& told);
// A row for each vessel, more where it holds several dishes at once, and one for the cook's hands.
std::string schedule_chart(Told const& told);

std::string chance_text(double chance);  // "9 in 10"

}  // namespace ingle::cli
