// Reading the JSON of /api/now, and the parts that its page and the page of one dish both write. Pure.
#pragma once

#include <optional>
#include <string>
#include <utility>

#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

// Empty, `otherwise` or an empty list where the key is absent or null.
std::optional<double> number(Json const& json, char const* key);
std::string word(Json const& json, char const* key, std::string otherwise = "");
Json list(Json const& json, char const* key);

// `older_s`, everywhere: how long ago the view was fetched, s.

// What a probe, a vessel's medium or a core shows: the value and its age, "" for one of this moment; an old
// value is in brackets.
std::pair<std::string, std::string> value_and_age(Json const& item, double older_s, TemperatureUnit unit);
// "" where there is a value.
std::string why_no_value(Json const& item);
// "leaves its band in about 9 min (6 min to 15 min)"; what is far off is told by the clock as well, if `now`
// knows the time; "done when: not known (the core has no reading)".
std::string forecast_text(Json const& forecast, double older_s, Json const& now);
// "poach, 1 h 20 min left, core 152.4 degF, target 165.0 degF" of a dish that was begun; "bake, 45 min left,
// until 14:45" where time alone ends the stage.
std::string dish_state_text(Json const& dish, double older_s, TemperatureUnit unit, Json const& now);

// `text` wrapped and indented, with a newline; nothing of an empty one.
void add_line(std::string& out, std::string const& text, std::size_t width);

}  // namespace ingle::cli
