#include "tests/suppers/supper.hpp"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "config/load.hpp"

namespace ingle::suppers {
namespace {

using scenarios::Chance;

constexpr char const* vessel_names[vessels] = {"tub",  "smoker", "hot-box", "pot",
                                               "bath", "kettle", "oven",    "fridge"};
constexpr char const* vessel_kinds[vessels] = {"fridge", "smoker", "hot-box", "pot",
                                               "pot",    "pot",    "oven",    "fridge"};

double log_from(Chance& chance, double low, double high) {
    return std::exp(chance.uniform(std::log(low), std::log(high)));
}

std::string text(char const* format, double value) {
    char out[160];
    std::snprintf(out, sizeof out, format, value);
    return out;
}

std::string stage(std::string const& name, std::string const& rest) {
    return "[[stage]]\nname = \"" + name + "\"\n" + rest;
}

Body measured(Chance& chance, Body body) {
    body.told_thickness_m = 2 * body.food.radius_m * (1 + 0.12 * chance.normal());
    double const r = body.food.radius_m;
    double const m3 = body.food.geometry == 0   ? 2 * r * 0.18 * 0.26
                      : body.food.geometry == 1 ? 3.1416 * r * r * 0.28
                                                : 4.1888 * r * r * r;
    body.told_kg = 1060 * m3 * (1 + 0.1 * chance.normal());
    body.food.start_c = 3;
    body.food.fat = chance.uniform(0.03, 0.12), body.food.water = chance.uniform(0.66, 0.73);
    body.food.conductivity_factor = std::exp(0.07 * chance.normal());
    body.cold.h_convection = log_from(chance, 5, 15), body.cold.emissivity = 0.9;
    return body;
}

Body in_smoke(Chance& chance) {
    Body body;
    body.food.geometry = chance.happens(0.5) ? 1 : 2;
    body.food.radius_m = chance.uniform(0.038, 0.058);
    body = measured(chance, body);
    body.hot.h_convection = log_from(chance, 6, 18), body.hot.emissivity = chance.uniform(0.7, 0.95);
    body.hot.wetness = log_from(chance, 0.08, 0.45), body.hot.dew_point_c = chance.uniform(10, 55);
    body.target_c = (std::round(chance.uniform(145, 160)) - 32) / 1.8;
    return body;
}

Body in_stock(Chance& chance, double low_m, double high_m, double target_f) {
    Body body;
    body.food.geometry = 1;
    body.food.radius_m = chance.uniform(low_m, high_m);
    body = measured(chance, body);
    body.hot.h_convection = 350 * std::exp(0.5 * chance.normal());
    body.target_c = (target_f - 32) / 1.8;
    return body;
}

std::string dish(std::string const& name, char const* vessel, char const* food, std::string const& serve,
                 Body const* body = nullptr) {
    auto out = "[[dish]]\nname = \"" + name + "\"\nvessel = \"" + vessel + "\"\nfood = \"" + food +
               "\"\nplan = \"" + name + "\"\nserve-at = \"2026-11-26T" + serve + ":00+00:00\"\n";
    if (!body) return out;
    char const* const shapes[] = {"slab", "cylinder", "sphere"};
    out += "core = \"" + name + "-core\"\nshape = \"" + shapes[body->food.geometry] + "\"\n";
    return out + text("thickness = \"%.1f cm\"\n", 100 * body->told_thickness_m) +
           text("mass = \"%.2f kg\"\n", body->told_kg);
}

std::string kitchen_text(std::array<Body, 3> const& bodies) {
    std::string out =
        "[kitchen]\nname = \"hall\"\nunits = \"degF\"\nzone = \"UTC\"\nawake = [\"05:00\", \"23:30\"]\n";
    auto const probe = [&](std::string const& name) {
        out += "[[probe]]\nname = \"" + name + "\"\ndriver = \"simulated\"\nevery = \"10 s\"\n";
    };
    for (auto const* name : {"ham-core", "roll-core", "terrine-core"}) probe(name);
    for (auto const* name : vessel_names) probe(std::string(name) + "-probe");
    for (int v = 0; v < vessels; ++v)
        out += std::string("[[vessel]]\nname = \"") + vessel_names[v] + "\"\nkind = \"" + vessel_kinds[v] +
               "\"\nmedium = \"" + vessel_names[v] + "-probe\"\nroom-for = " + (v == fridge ? "6" : "1") +
               "\n";
    out += dish("ham", "tub", "fresh-ham", "17:00", bodies.data());
    out += dish("roll", "pot", "ground-poultry", "17:15", &bodies[1]);
    out += dish("terrine", "bath", "ground-meat", "12:30", &bodies[2]);
    out += dish("stock", "kettle", "stock", "12:00");
    return out + dish("pie", "oven", "vegetable", "17:30");
}

std::string const cold = "band = [\"33 degF\", \"41 degF\"]\n", no_vessel = "vessel = \"none\"\n";

std::string ham_plan(Chance& chance, Body const& body) {
    char const* const waits[] = {"45 min", "2 h", "3 h"};
    auto const most = waits[static_cast<int>(chance.uniform(0, 2.999))];
    return stage("brine", "does = \"brine\"\n" + cold +
                              "until = { time = \"15 h\" }\nhands = \"10 min\"\n"
                              "counts = \"from-begin\"\nat-most = \"2 days\"\n") +
           stage("smoke",
                 "does = \"cook\"\nvessel = \"smoker\"\nband = [\"200 degF\", \"225 degF\"]\n"
                 "hands = \"10 min\"\n" +
                     text("until = { core = \"%.0f degF\" }\n", body.target_c * 1.8 + 32)) +
           stage(
               "keep-hot",
               std::string("does = \"hot-hold\"\nvessel = \"hot-box\"\nband = [\"140 degF\", \"165 degF\"]\n"
                           "at-least = \"15 min\"\nat-most = \"") +
                   most + "\"\n") +
           stage("carve",
                 "does = \"rest\"\n" + no_vessel + "until = { time = \"15 min\" }\nhands = \"15 min\"\n");
}

std::string roll_plan(Chance& chance) {
    auto plan =
        stage("poach",
              "does = \"cook\"\nband = [\"180 degF\", \"190 degF\"]\n"
              "until = { core = \"165 degF\", time = \"1 h\" }\nat-most = \"4 h\"\nhands = \"5 min\"\n");
    if (chance.happens(0.5))
        return plan + stage("rest", "does = \"rest\"\n" + no_vessel + "until = { time = \"20 min\" }\n");
    return plan +
           stage("keep-hot", "does = \"hot-hold\"\nband = [\"140 degF\", \"190 degF\"]\nat-most = \"1 h\"\n");
}

std::string terrine_plan() {
    return stage("poach",
                 "does = \"cook\"\nband = [\"165 degF\", \"175 degF\"]\nuntil = { core = \"160 degF\" }\n"
                 "hands = \"10 min\"\n") +
           stage("chill-fast",
                 "does = \"chill\"\nvessel = \"fridge\"\n" + cold + "until = { core = \"70 degF\" }\n") +
           stage("chill-through", "does = \"chill\"\nvessel = \"fridge\"\n" + cold +
                                      "until = { core = \"41 degF\" }\nat-most = \"1 day\"\n") +
           stage("carve",
                 "does = \"rest\"\n" + no_vessel + "until = { time = \"10 min\" }\nhands = \"10 min\"\n");
}

std::string const stock_plan =
    stage("simmer", "does = \"cook\"\nuntil = { time = \"2 h\" }\nat-most = \"12 h\"\nhands = \"10 min\"\n") +
    stage("strain", "does = \"rest\"\n" + no_vessel + "until = { time = \"15 min\" }\nhands = \"15 min\"\n") +
    stage("chill", "does = \"chill\"\nvessel = \"fridge\"\n" + cold +
                       "until = { time = \"6 h\" }\ncounts = \"from-begin\"\nat-most = \"3 days\"\n");
std::string const pie_plan =
    stage("roll", "does = \"rest\"\n" + no_vessel + "until = { time = \"20 min\" }\nhands = \"20 min\"\n") +
    stage("dough", "does = \"chill\"\nvessel = \"fridge\"\n" + cold +
                       "until = { time = \"15 min\" }\nat-most = \"1 day\"\n") +
    stage("bake",
          "does = \"cook\"\nband = [\"385 degF\", \"415 degF\"]\nuntil = { time = \"45 min\" }\nat-most = "
          "\"75 min\"\n"
          "hands = \"5 min\"\n") +
    stage("cool", "does = \"rest\"\n" + no_vessel + "until = { time = \"1 h\" }\n");

}  // namespace

Supper make_supper(std::uint64_t seed) {
    Chance chance(seed * 1009 + 7);
    Supper supper;
    supper.seed = seed;
    supper.bodies = {in_smoke(chance), in_stock(chance, 0.032, 0.05, 165),
                     in_stock(chance, 0.025, 0.035, 160)};
    supper.heat.smoker_c = chance.uniform(95, 105);
    supper.heat.pot_c = chance.uniform(82.8, 87.2);
    supper.heat.bath_c = chance.uniform(75.5, 78.5);
    std::vector<ConfigError> errors;
    std::vector<PlanSettings> plans;
    auto const plan = [&](std::string const& name, std::string const& stages) {
        plans.push_back(read_plan("name = \"" + name + "\"\n" + stages, name + ".toml", errors));
    };
    plan("ham", ham_plan(chance, supper.bodies[ham])), plan("roll", roll_plan(chance)),
        plan("terrine", terrine_plan());
    plan("stock", stock_plan), plan("pie", pie_plan);
    auto loaded = parse_kitchen(kitchen_text(supper.bodies), "hall.toml", std::move(plans));
    for (auto const& error : loaded.errors) errors.push_back(error);
    for (auto const& error : errors) std::fprintf(stderr, "%s\n", error.text().c_str());
    if (!errors.empty()) std::exit(2);
    supper.settings = std::move(loaded.settings);
    return supper;
}

}  // namespace ingle::suppers
