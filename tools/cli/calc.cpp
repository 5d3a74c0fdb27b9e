// ingle calc: the daemon's own functions, to check a number or plan a brine.
#include "tools/cli/calc.hpp"

#include <cmath>
#include <ostream>

namespace ingle::cli {

int answer(Context& context, bool json, Json const& data, std::string const& sentence) {
    context.out << (json ? data.dump(-1, ' ', false, Json::error_handler_t::replace) : sentence) << "\n";
    return done;
}

Json json_number(std::optional<double> value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

void add_calc(Verb const& app, Context& context) {
    auto calc = app.verb("calc", "calculate with the functions that the daemon uses",
                         "  ingle calc boiling-point --altitude \"240 m\"");
    calc.group();
    add_calc_thermocouple(calc, context);
    add_calc_boiling(calc, context);
    add_calc_food(calc, context);
}

}  // namespace ingle::cli
