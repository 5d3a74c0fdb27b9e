// ingle calc cook-time: how long a core takes, before anything was read.
#include <memory>

#include "config/did_you_mean.hpp"
#include "daemon/forecast/conduction.hpp"
#include "daemon/forecast/planned_time.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string food, shape, thickness, mass, start, medium, target, around;
    bool json = false;
};

struct Asked {
    FoodClass const& food;
    Shape shape{};
    std::optional<Length> thickness;
    std::optional<Mass> mass;
    Temperature start, medium, target;
    bool heats() const { return target.celsius > start.celsius; }
};

constexpr char const* words_for_around[] = {"liquid", "oven", "smoker", "still-air", "moving-air"};
constexpr double boils_c = 100;  // near enough to tell an oven's air from a liquid

Asked asked_of(Options const& given) {
    Asked asked{known_food(given.food), shape_of(given.shape), {}, {}, {}, {}, {}};
    if (!given.thickness.empty())
        asked.thickness = quantity_of<Length>(given.thickness, "--thickness", parse_length);
    if (!given.mass.empty()) asked.mass = quantity_of<Mass>(given.mass, "--mass", parse_mass);
    if (!asked.thickness && !asked.mass)
        throw Failure("say the --thickness, the thinnest way through, such as \"9 cm\", or else the --mass",
                      wrong_usage);
    asked.start = quantity_of<Temperature>(given.start, "--start", parse_temperature);
    asked.medium = quantity_of<Temperature>(given.medium, "--medium", parse_temperature);
    if (given.target.empty() && asked.food.targets.empty())
        throw Failure("say the core's --target; no source gives one for " + given.food, wrong_usage);
    asked.target = given.target.empty()
                       ? Temperature{asked.food.targets.front().celsius()}
                       : quantity_of<Temperature>(given.target, "--target", parse_temperature);
    return asked;
}

// What is around it where it was not said: only above the boiling point, and where it cools, one can tell.
std::string around_of(Options const& given, Asked const& asked) {
    if (!given.around.empty()) {
        for (auto const* word : words_for_around)
            if (given.around == word) return given.around;
        throw Failure(
            "--around: one of liquid, oven, smoker, still-air, moving-air" +
                did_you_mean(given.around, {std::begin(words_for_around), std::end(words_for_around)}),
            wrong_usage);
    }
    if (!asked.heats()) return asked.thickness ? "liquid" : "still-air";
    return asked.medium.celsius > boils_c ? "oven" : "liquid";
}

CookTime by_bodies(Asked const& asked, Surroundings where) {
    DishEntries entries;
    entries.shape = asked.shape;
    if (asked.thickness) entries.thickness_m = asked.thickness->metres;
    if (asked.mass) entries.mass_kg = asked.mass->kilograms;
    entries.hollow = asked.food.hollow;
    entries.surroundings = where;
    auto const planned =
        planned_time(entries, asked.start.celsius, asked.medium.celsius, asked.target.celsius);
    CookTime time;
    if (!planned.seconds) {
        time.why = "a medium of that temperature does not bring such a core to the target within 36 h";
        return time;
    }
    time.seconds = planned.seconds, time.low_s = planned.low_s, time.high_s = planned.high_s;
    time.why =
        "conduction in a body whose size, surface and moisture are only roughly known; eight of ten "
        "come between the two ends";
    if (where != Surroundings::liquid && asked.heats())
        time.why += "; the surface dries, which holds the core back";
    if (planned.never > 0.05)
        time.why +=
            "; " + decimal_text(100 * planned.never, 0) + " % of such pieces would not get there in 36 h";
    return time;
}

CookTime time_in(std::string const& around, Asked const& asked) {
    if (asked.food.mixes()) {
        CookTime none;
        none.why = "a liquid mixes by itself: no conduction through a body can be reckoned";
        return none;
    }
    if (around == "oven") return by_bodies(asked, Surroundings::oven);
    if (around == "smoker") return by_bodies(asked, Surroundings::smoker);
    if (!asked.thickness)
        return by_bodies(asked, around == "liquid" ? Surroundings::liquid : Surroundings::cold);
    return cook_time(asked.food, asked.shape, *asked.thickness, asked.start, asked.medium, asked.target,
                     around == "liquid"      ? Around::liquid
                     : around == "still-air" ? Around::still_air
                                             : Around::moving_air);
}

std::string range_text(CookTime const& time) {
    return "about " + length_text(*time.seconds) + " (" + length_text(*time.low_s) + " to " +
           (*time.high_s < planning_horizon_s ? length_text(*time.high_s) : "more than 36 h") + ")";
}

Json json_of(CookTime const& time) {
    return {{"seconds", json_number(time.seconds)},
            {"low_s", json_number(time.low_s)},
            {"high_s", json_number(time.high_s)}};
}

int cook(Context& context, Options const& given) {
    auto const asked = asked_of(given);
    auto const around = around_of(given, asked);
    auto const time = time_in(around, asked);
    auto data = json_of(time);
    data["target_c"] = asked.target.celsius;
    data["around"] = around;
    data["why"] = time.why;
    data["caution"] = food_safety_caution;
    auto sentence = time.why;
    if (time.seconds) {
        sentence = range_text(time) + " to a core of " + show(asked.target, TemperatureUnit::fahrenheit) +
                   " = " + show(asked.target, TemperatureUnit::celsius) + "\n" + time.why;
    }
    // A smoker at 200 degF is not water.
    if (given.around.empty() && asked.heats() && around == "liquid") {
        auto const in_air = time_in("smoker", asked);
        data["in_a_smoker"] = json_of(in_air);
        sentence += "\nThis is for liquid. In a smoker at that temperature: " +
                    (in_air.seconds ? range_text(in_air) : in_air.why) + ". Say --around for what it is.";
    }
    answer(context, given.json, data, sentence + "\n" + std::string(food_safety_caution));
    return time.seconds ? done : no;
}

}  // namespace

void add_calc_cook_time(Verb const& calc, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const command =
        calc.verb("cook-time", "how long a core takes to heat or to cool, before anything was read",
                  "  ingle calc cook-time --food ground-poultry --shape cylinder --thickness \"9 cm\" "
                  "--start \"40 degF\" --medium \"185 degF\" --target \"165 degF\"");
    command.required("--food", given->food, "the food class, such as ground-poultry");
    command.one_of("--shape", given->shape, {"slab", "cylinder", "sphere"}, "slab, cylinder or sphere");
    command.option("--thickness", given->thickness, "the thinnest way through, such as \"9 cm\"");
    command.option("--mass", given->mass, "where the thickness is not known, such as \"4 lb\": much rougher");
    command.required("--start", given->start, "the core now");
    command.required("--medium", given->medium, "what is around it, kept so");
    command.option("--target", given->target, "the core wanted; else the class's");
    command.option("--around", given->around,
                   "liquid, oven, smoker, still-air or moving-air; else by the medium's temperature");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return cook(context, *given); });
}

}  // namespace ingle::cli
