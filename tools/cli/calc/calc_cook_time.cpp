// ingle calc cook-time: how long a core takes, by conduction.
#include <memory>

#include "daemon/forecast/conduction.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string food, shape, thickness, start, medium, target, around;
    bool json = false;
};

int cook(Context& context, Options const& given) {
    auto const& food = known_food(given.food);
    auto const shape = given.shape == "slab"       ? Shape::slab
                       : given.shape == "cylinder" ? Shape::cylinder
                                                   : Shape::sphere;
    std::optional<Around> around;
    if (given.around == "liquid") around = Around::liquid;
    if (given.around == "still-air") around = Around::still_air;
    if (given.around == "moving-air") around = Around::moving_air;
    if (!given.around.empty() && !around) {
        throw Failure("--around: one of liquid, still-air, moving-air", wrong_usage);
    }
    auto const target = given.target.empty()
                            ? Temperature{food.targets.empty() ? 0 : food.targets.front().celsius()}
                            : quantity_of<Temperature>(given.target, "--target", parse_temperature);
    if (given.target.empty() && food.targets.empty()) {
        throw Failure("say the core's --target; no source gives one for " + given.food, wrong_usage);
    }
    auto const time =
        cook_time(food, shape, quantity_of<Length>(given.thickness, "--thickness", parse_length),
                  quantity_of<Temperature>(given.start, "--start", parse_temperature),
                  quantity_of<Temperature>(given.medium, "--medium", parse_temperature), target, around);
    Json const data{{"seconds", json_number(time.seconds)},
                    {"low_s", json_number(time.low_s)},
                    {"high_s", json_number(time.high_s)},
                    {"target_c", target.celsius},
                    {"why", time.why},
                    {"caution", food_safety_caution}};
    auto sentence = time.why;
    if (time.seconds) {
        sentence = "about " + length_text(*time.seconds) + " (" + length_text(*time.low_s) + " to " +
                   length_text(*time.high_s) + ") to a core of " + show(target, TemperatureUnit::fahrenheit) +
                   " = " + show(target, TemperatureUnit::celsius) + "\n" + time.why;
    }
    answer(context, given.json, data, sentence + "\n" + std::string(food_safety_caution));
    return time.seconds ? done : no;
}

}  // namespace

void add_calc_cook_time(Verb const& calc, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const command =
        calc.verb("cook-time", "how long a core takes to heat or to cool, by conduction",
                  "  ingle calc cook-time --food ground-poultry --shape cylinder --thickness \"9 cm\" "
                  "--start \"40 degF\" --medium \"185 degF\" --target \"165 degF\"");
    command.required("--food", given->food, "the food class, such as ground-poultry");
    command.one_of("--shape", given->shape, {"slab", "cylinder", "sphere"}, "slab, cylinder or sphere");
    command.required("--thickness", given->thickness, "the thinnest way through, such as \"9 cm\"");
    command.required("--start", given->start, "the core now");
    command.required("--medium", given->medium, "what is around it, kept so");
    command.option("--target", given->target, "the core wanted; else the class's");
    command.option("--around", given->around, "liquid, still-air or moving-air; else by the medium");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return cook(context, *given); });
}

}  // namespace ingle::cli
