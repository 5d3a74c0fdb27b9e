// ingle calc boiling-point.
#include <memory>

#include "config/height.hpp"
#include "daemon/food/boiling.hpp"
#include "tools/cli/calc/calc.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string altitude, pressure, salt;
    bool json = false;
};

int boiling(Context& context, Options const& given) {
    if (given.altitude.empty() == given.pressure.empty()) {
        throw Failure("say either --altitude or --pressure", wrong_usage);
    }
    Fraction salt;
    if (!given.salt.empty()) salt = quantity_of<Fraction>(given.salt, "--salt", parse_fraction);
    auto const point =
        given.altitude.empty()
            ? boiling_point(quantity_of<Pressure>(given.pressure, "--pressure", parse_pressure), salt)
            : boiling_point(quantity_of<Length>(given.altitude, "--altitude", parse_height), salt);
    if (!point) {
        throw Failure(
            "outside what the formulas cover: -1000 to 11000 m, 6.1 hPa to 220640 hPa, salt up to 28 %");
    }
    return answer(
        context, given.json, {{"celsius", point->celsius}},
        show(*point, TemperatureUnit::celsius, 2) + " = " + show(*point, TemperatureUnit::fahrenheit, 2) +
            (given.altitude.empty() ? "" : " (by the standard atmosphere; weather moves it by some 0.5 K)"));
}

}  // namespace

void add_calc_boiling(Verb const& calc, Context& context) {
    auto command = calc.verb("boiling-point", "where water boils here (IAPWS-IF97), with salt in it",
                             "  ingle calc boiling-point --altitude \"240 m\" --salt \"1 %\"");
    auto const given = std::make_shared<Options>();
    command.option("--altitude", given->altitude, "height above the sea, such as \"240 m\"");
    command.option("--pressure", given->pressure, "station pressure, such as \"985 hPa\"");
    command.option("--salt", given->salt, "salt in the liquid by mass, such as \"1 %\"");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return boiling(context, *given); });
}

}  // namespace ingle::cli
