// A moment in the past as a cook says it, for the API.
#pragma once

#include <string>

namespace ingle::cli {

// ISO 8601 with offset; `said` becomes what is said back: "Thu 2026-11-26 14:05, 20 min ago". Throws Failure
// where the words are no time or a time to come.
std::string past_moment(std::string const& words, std::string& said);

// Where a length of time is wanted: if the words are a time of day or a day, Failure says so, and `right`.
void refuse_time_of_day(std::string const& words, std::string const& right);

}  // namespace ingle::cli
