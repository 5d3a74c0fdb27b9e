// The calculators of `ingle calc`, each with the function that the daemon itself uses.
#pragma once

#include <optional>
#include <string>

#include "config/quantity.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/model/view.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

void add_calc_thermocouple(Verb const& calc, Context& context);  // emf, temperature, word
void add_calc_boiling(Verb const& calc, Context& context);       // boiling-point
void add_calc_food(Verb const& calc, Context& context);          // lethality, cooling
void add_calc_brine(Verb const& calc, Context& context);         // brine
void add_calc_cook_time(Verb const& calc, Context& context);     // cook-time

// Prints an answer: the JSON, or the sentence.
int answer(Context& context, bool json, Json const& data, std::string const& sentence);
std::string decimal_text(double value, int decimals);
FoodClass const& known_food(std::string const& name);  // throws Failure that lists them
Shape shape_of(std::string const& word);               // of --shape; the same
// A quantity given to an option; throws Failure with the sentence that names the option.
template <class Q>
Q quantity_of(std::string const& text, std::string const& option, Parsed<Q> (*parse)(std::string_view)) {
    auto const parsed = parse(text);
    if (auto const* error = std::get_if<QuantityError>(&parsed)) {
        throw Failure(option + ": " + error->wrong + "; " + error->right, wrong_usage);
    }
    return std::get<Q>(parsed);
}
Json json_number(std::optional<double> value);  // null where there is none

// The unit that was asked for ("" = none: that of the kitchen whose daemon runs, else of ./kitchen.toml, else
// degF). Failure, wrong usage, where it is no unit.
TemperatureUnit unit_to_show(Context const& context, std::string const& asked);

}  // namespace ingle::cli
