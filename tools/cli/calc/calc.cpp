// ingle calc: the daemon's own functions, to check a number or plan a brine.
#include "tools/cli/calc/calc.hpp"

#include <cmath>
#include <ostream>

#include "config/did_you_mean.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/program/client.hpp"

namespace ingle::cli {

int answer(Context& context, bool json, Json const& data, std::string const& sentence) {
    context.out << (json ? data.dump(-1, ' ', false, Json::error_handler_t::replace) : sentence) << "\n";
    return done;
}

Json json_number(std::optional<double> value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

Shape shape_of(std::string const& word) {
    if (word == "slab") return Shape::slab;
    if (word == "cylinder") return Shape::cylinder;
    if (word == "sphere") return Shape::sphere;
    throw Failure("--shape: \"" + word + "\" is not known; it is slab, cylinder or sphere" +
                      did_you_mean(word, {"slab", "cylinder", "sphere"}),
                  wrong_usage);
}

std::string decimal_text(double value, int decimals) {
    auto const text = show(Temperature{value}, TemperatureUnit::celsius, decimals);
    return text.substr(0, text.find(' '));
}

FoodClass const& known_food(std::string const& name) {
    if (auto const* food = food_class(name)) return *food;
    std::string known;
    for (auto const& one : food_classes()) known.append(known.empty() ? "" : ", ").append(one.name);
    throw Failure("there is no food class \"" + name + "\"; one of " + known +
                      did_you_mean(name, names_of(food_classes())),
                  wrong_usage);
}

TemperatureUnit unit_to_show(Context const& context, std::string const& asked) {
    if (!asked.empty()) return quantity_of<TemperatureUnit>(asked, "--units", parse_unit);
    constexpr long limit_s = 5;
    try {
        auto const now = Client(context.socket(), limit_s).get("/api/now");
        return now.value("units", "degF") == "degC" ? TemperatureUnit::celsius : TemperatureUnit::fahrenheit;
    } catch (Failure const&) {  // no daemon, or one that is busy
    }
    std::error_code error;
    if (!std::filesystem::is_regular_file("kitchen.toml", error)) return TemperatureUnit::fahrenheit;
    auto const kitchen = load_kitchen_for_use("kitchen.toml");
    return kitchen.errors.empty() ? kitchen.settings.units : TemperatureUnit::fahrenheit;
}

void add_calc(Verb const& app, Context& context) {
    auto calc = app.verb("calc", "calculate with the functions that the daemon uses",
                         "  ingle calc boiling-point --altitude \"240 m\"");
    calc.group();
    add_calc_thermocouple(calc, context);
    add_calc_boiling(calc, context);
    add_calc_food(calc, context);
    add_calc_brine(calc, context);
    add_calc_cook_time(calc, context);
}

}  // namespace ingle::cli
