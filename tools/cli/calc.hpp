// The calculators of `ingle calc`, each with the function that the daemon itself uses.
#pragma once

#include <optional>
#include <string>

#include "tools/cli/client.hpp"

namespace ingle::cli {

void add_calc_thermocouple(Verb const& calc, Context& context);  // emf, temperature, word
void add_calc_boiling(Verb const& calc, Context& context);       // boiling-point
void add_calc_food(Verb const& calc, Context& context);          // lethality, cooling

// Prints an answer: the JSON, or the sentence.
int answer(Context& context, bool json, Json const& data, std::string const& sentence);
Json json_number(std::optional<double> value);  // null where there is none

}  // namespace ingle::cli
