// ingle calc brine: how strong is it, and what the meat makes of it.
#include <algorithm>
#include <memory>
#include <utility>

#include "daemon/food/brine.hpp"
#include "daemon/food/hazards.hpp"
#include "tools/cli/calc/calc.hpp"
#include "tools/cli/output/text.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string water, salt, sugar, meat;
    bool json = false;
};

// Of water, g each.
constexpr std::pair<std::string_view, double> water_measures[] = {{"l", 1000},
                                                                  {"L", 1000},
                                                                  {"litre", 1000},
                                                                  {"litres", 1000},
                                                                  {"liters", 1000},
                                                                  {"quarts", water_grams_per_us_gallon / 4},
                                                                  {"qts", water_grams_per_us_gallon / 4},
                                                                  {"pints", water_grams_per_us_gallon / 8},
                                                                  {"liter", 1000},
                                                                  {"ml", 1},
                                                                  {"mL", 1},
                                                                  {"qt", water_grams_per_us_gallon / 4},
                                                                  {"quart", water_grams_per_us_gallon / 4},
                                                                  {"pt", water_grams_per_us_gallon / 8},
                                                                  {"pint", water_grams_per_us_gallon / 8}};

// The next word of `rest`, which is taken from it.
std::string_view next_word(std::string_view& rest) {
    auto const word = rest.substr(0, rest.find(' '));
    rest.remove_prefix(std::min(word.size() + 1, rest.size()));
    return word;
}

// "2", "1/2" or nothing.
std::optional<double> plain_count(std::string_view word) {
    double above = 0, below = 1;
    auto const slash = word.find('/');
    if (!parse_number(word.substr(0, slash), above)) return std::nullopt;
    if (slash != word.npos && (!parse_number(word.substr(slash + 1), below) || below <= 0))
        return std::nullopt;
    return above / below;
}

// "2", "1/2" or "1 1/2" at the begin of `text`, taken from it; nothing if it begins otherwise.
std::optional<double> count_of(std::string_view& text) {
    auto const count = plain_count(next_word(text));
    auto after = text;
    auto const part = next_word(after);
    auto const more = part.find('/') == part.npos ? std::nullopt : plain_count(part);
    if (!count || !more) return count;
    text = after;
    return *count + *more;
}

// "200 g", or a household measure: "1 cup", "2 tbsp coarse-kosher-salt". `usual`: the ingredient if none is
// named.
double grams_of(std::string const& text, std::string const& option, std::string const& usual) {
    auto const mass = parse_mass(text);
    if (auto const* known = std::get_if<Mass>(&mass)) return known->kilograms * 1000;
    std::string_view rest = text;
    auto const first = count_of(rest);
    if (!first || *first < 0)
        throw Failure(option + ": \"" + text + "\" is not an amount; try \"200 g\", \"1 lb\" or \"1/2 cup\"",
                      wrong_usage);
    double const count = *first;
    if (count == 0)
        throw Failure(option + ": \"" + text + "\" is nothing; say how much there is, such as \"200 g\"",
                      wrong_usage);
    auto const measure = std::string(rest);
    if (measure.empty())
        throw Failure(option + ": \"" + text + "\" has no unit; write \"" + text + " lb\", \"" + text +
                          (usual == "water" ? " l\" or \"" + text + " qt\"" : " kg\" or \"" + text + " oz\""),
                      wrong_usage);
    if (usual == "water")
        for (auto const& [word, grams] : water_measures)
            if (measure == word) return count * grams;
    if (auto const grams = household_grams(usual, measure, count)) return *grams;
    // The ingredient may stand at the end: the measure itself can have a space ("cup packed").
    auto const last = measure.rfind(' ');
    if (last != std::string::npos) {
        if (auto const grams = household_grams(measure.substr(last + 1), measure.substr(0, last), count))
            return *grams;
    }
    for (auto const* word : {"curing", "cure", "nitrite", "pink"})
        if (measure.find(word) != std::string::npos)
            throw Failure(option + ": " + std::string(curing_salt_caution), wrong_usage);
    std::string known;
    for (auto const& weight : household_weights()) {
        known += "\n  " + std::string(weight.measure) + " " + std::string(weight.ingredient) + "  " +
                 decimal_text(weight.grams, 1) + " g" + (weight.doubtful ? " (doubtful: weigh it)" : "");
    }
    throw Failure(option + ": \"" + measure + "\" is not known; weigh it (g, kg, lb, oz)" +
                      (usual == "water" ? ", or say l, ml, qt, pt or gal" : ", or use one of" + known),
                  wrong_usage);
}

Json fraction(std::optional<Fraction> const& value) {
    return value ? Json(value->value) : Json(nullptr);
}

int brine(Context& context, Options const& given) {
    Brine mix;
    mix.water_g = grams_of(given.water, "--water", "water");
    mix.salt_g = grams_of(given.salt, "--salt", "table-salt");
    if (!given.sugar.empty()) mix.sugar_g = grams_of(given.sugar, "--sugar", "granulated-sugar");
    if (!given.meat.empty()) mix.meat_g = grams_of(given.meat, "--meat", "meat");
    auto const strength = brine_strength(mix);
    if (!strength) throw Failure("a brine needs water", wrong_usage);
    auto const percent = [](Fraction value) { return decimal_text(value.value * 100, 2) + " %"; };
    Json const data{{"water_g", mix.water_g},
                    {"salt_g", mix.salt_g},
                    {"sugar_g", mix.sugar_g},
                    {"meat_g", mix.meat_g},
                    {"salt", strength->salt.value},
                    {"sugar", strength->sugar.value},
                    {"salometer", strength->salometer},
                    {"salt_in_all", fraction(strength->salt_in_all)},
                    {"freezes_c", strength->freezes ? Json(strength->freezes->celsius) : Json(nullptr)},
                    {"boils_higher_k",
                     strength->boils_higher_by ? Json(strength->boils_higher_by->kelvin) : Json(nullptr)},
                    {"saturated", strength->saturated},
                    {"source", brine_source},
                    {"caution", curing_salt_caution}};
    auto sentence = percent(strength->salt) + " salt by mass, " + decimal_text(strength->salometer, 1) +
                    " degrees on the salometer, " + percent(strength->sugar) + " sugar";
    if (strength->salt_in_all) {
        sentence += "\nwith the meat, in the end " + percent(*strength->salt_in_all) + " salt in everything";
    }
    if (strength->freezes) {
        sentence += "\nfreezes at " + show(*strength->freezes, TemperatureUnit::fahrenheit) + " = " +
                    show(*strength->freezes, TemperatureUnit::celsius);
    }
    if (strength->boils_higher_by) {
        sentence += "\nboils " + show(*strength->boils_higher_by, TemperatureUnit::fahrenheit, 2) + " = " +
                    show(*strength->boils_higher_by, TemperatureUnit::celsius, 2) + " higher than water";
    }
    if (strength->saturated) sentence += "\nmore salt than dissolves at 20 degC";
    return answer(context, given.json, data,
                  sentence + "\n" + std::string(brine_source) + "\n" + std::string(curing_salt_caution));
}

}  // namespace

void add_calc_brine(Verb const& calc, Context& context) {
    auto const given = std::make_shared<Options>();
    auto const command = calc.verb("brine", "how strong a brine is, and what the meat makes of it",
                                   "  ingle calc brine --water \"1 gal\" --salt \"1 cup\" --meat \"4 lb\"");
    command.required("--water", given->water, "\"4 l\", \"1 gal\", \"2 qt\" or a mass");
    command.required("--salt", given->salt, "a mass, or measures of table salt such as \"1/2 cup\"");
    command.option("--sugar", given->sugar, "a mass, or measures of granulated sugar");
    command.option("--meat", given->meat, "its mass");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] { return brine(context, *given); });
}

}  // namespace ingle::cli
