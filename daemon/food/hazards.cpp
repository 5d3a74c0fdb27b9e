#include "daemon/food/hazards.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include "daemon/food/sources.hpp"

namespace ingle {
namespace {

using Facts = HazardFacts const&;
using Ids = std::string_view;

bool any_of(FoodClass const& food, std::initializer_list<Ids> names) {
    return std::ranges::find(names, food.name) != names.end();
}
// A class that was not said is none that could be ruled out, but names no hazard of its own.
bool is_any(Facts f, std::initializer_list<Ids> names) {
    return f.food && any_of(*f.food, names);
}
bool perishable(FoodClass const& food) {
    return food.perishable;
}
bool is_perishable(Facts f) {
    return !f.food || f.food->perishable;
}
bool below_c(std::optional<double> c, double fahrenheit) {
    return !c || *c < from_fahrenheit(fahrenheit) - rounding_k;
}
bool smoked_low(Facts f) {
    return f.smoked && below_c(f.smoker_high_c, smoked_low_f);
}
bool not_cooked(Facts f) {
    return f.has("served-raw") || !f.target_met;
}
bool intact_meat(FoodClass const& food) {
    return any_of(food, {"whole-meat", "fresh-ham", "cured-ham", "venison"});
}
bool game(FoodClass const& food) {
    return any_of(food, {"bear-boar", "venison"});
}

constexpr std::array staph_sources{Ids("fsis-come-up"), Ids("staph-heat")};
constexpr std::array zone_sources{Ids("usda-2h")};
constexpr std::array cooling_sources{Ids("usda-cooling-log")};
constexpr std::array outage_sources{Ids("outage")};
constexpr std::array low_smoke_sources{Ids("nchfp-botulism"), Ids("usu-cure")};
constexpr std::array no_air_sources{Ids("fda-fish-13"), Ids("fc-3-502-12")};
constexpr std::array trichinella_sources{Ids("cdc-trichinella"), Ids("cdc-bear")};
constexpr std::array parasite_sources{Ids("fc-3-402-11")};
constexpr std::array listeria_sources{Ids("cdc-listeria")};
constexpr std::array histamine_sources{Ids("fda-fish-7")};
constexpr std::array injected_sources{Ids("fc-3-401-11-a2")};
constexpr std::array stuffing_sources{Ids("fsis-stuffing"), Ids("fc-3-401-11-a3")};
constexpr std::array cereus_sources{Ids("ifas-cereus")};
constexpr std::array smoking_sources{Ids("fsis-smoking")};
constexpr std::array nitrite_sources{Ids("fsis-curing")};
constexpr std::array toxoplasma_sources{Ids("toxoplasma")};
constexpr std::array wasting_sources{Ids("cdc-cwd")};
constexpr std::array fat_sources{Ids("mdc-venison")};

// Of equal weight, the earlier row is named first.
constexpr std::array rows{
    Hazard{
        .id = "staphylococcus-toxin",
        .weight = HazardWeight::discard,
        .when = "raw or partly cooked food was, or may have been, between 50 and 130 degF for more than 6 h",
        .sentence =
            "It was too long between {50} and {130} before it was cooked through, or may have been: "
            "more than 6 h. Staphylococcus can have left a toxin that no cooking takes away. Throw it "
            "away, even if it has reached {165} since.",
        .sources = staph_sources,
        .matters = [](Facts f) { return is_perishable(f) && f.warm_possible_s > come_up_most_s; },
        .can_concern = perishable},
    Hazard{.id = "missed-cooling",
           .weight = HazardWeight::discard,
           .when = "a cooling limit was missed",
           .sentence = "It was not cooled in time. Throw it away: reheating does not take away what may have "
                       "grown in it.",
           .sources = cooling_sources,
           .matters = [](Facts f) { return is_perishable(f) && f.cooling == CoolingAnswer::missed; },
           .can_concern = perishable},
    Hazard{.id = "too-long-warm",
           .weight = HazardWeight::discard,
           .when = "neither heated nor cooled, it was or may have been between 40 and 140 degF for more than "
                   "2 h, or "
                   "1 h in a room above 90 degF",
           .sentence =
               "Neither heated nor cooled, it stood too long between {40} and {140}, or may have: more than "
               "2 h, or 1 h in a room above {90}. Throw it away unless you know that it was cold, or hot, "
               "all that time; do not taste it.",
           .sources = zone_sources,
           .matters = [](Facts f) { return is_perishable(f) && f.idle_too_long; },
           .can_concern = perishable},
    Hazard{.id = "no-power",
           .weight = HazardWeight::discard,
           .when = "where it is to be cold, nothing was read for 4 h or longer",
           .sentence =
               "For 4 h or longer nothing was read of the cold it stands in. If the power was off, throw "
               "away meat, poultry, fish, eggs and leftovers, cold again or not; do not taste them.",
           .sources = outage_sources,
           .matters = [](Facts f) { return is_perishable(f) && f.unread_cold_s >= no_power_most_s; },
           .can_concern = perishable},
    Hazard{.id = "botulinum-low-smoke",
           .weight = HazardWeight::guard,
           .when = "sausage, ham or fish is smoked below 225 degF and no nitrite is stated",
           .sentence =
               "Smoked this low without nitrite, sausage, ham and fish can grow Clostridium botulinum, "
               "and nobody smells or tastes its poison. Use the curing salt that a tested recipe weighs "
               "out, or smoke at {225} or hotter.",
           .sources = low_smoke_sources,
           .matters =
               [](Facts f) {
                   return smoked_low(f) && !f.has("nitrite") &&
                          (f.has("ground") || is_any(f, {"ground-poultry", "ground-meat", "fresh-ham",
                                                         "cured-ham", "fish", "stuffed"}));
               },
           .can_concern =
               [](FoodClass const& food) {
                   return any_of(
                       food, {"ground-poultry", "ground-meat", "fresh-ham", "cured-ham", "fish", "stuffed"});
               }},
    Hazard{
        .id = "botulinum-without-air",
        .weight = HazardWeight::guard,
        .when = "it is in a vacuum bag or under fat",
        .sentence =
            "In a vacuum bag or under fat Clostridium botulinum needs no air, and some kinds grow from "
            "{38}. Keep it below {38}, or freeze it; fish stays frozen until its bag is opened.",
        .sources = no_air_sources,
        .matters = [](Facts f) { return is_perishable(f) && (f.has("vacuum-packed") || f.has("under-fat")); },
        .can_concern = perishable},
    Hazard{
        .id = "stuffing-tip",
        .weight = HazardWeight::guard,
        .when = "it is stuffed, and the class's target is not met",
        .sentence =
            "The stuffing itself must come to {165}: put a tip into the middle of it, besides the one "
            "in the meat.",
        .sources = stuffing_sources,
        .matters = [](Facts f) { return !f.target_met && (f.is("stuffed") || f.has("stuffed")); },
        .can_concern = [](FoodClass const& food) { return food.name == "stuffed" || !food.targets.empty(); }},
    Hazard{.id = "injected-meat",
           .weight = HazardWeight::guard,
           .when = "a whole cut was injected or tenderised, and its core has not been at 158 degF",
           .sentence =
               "Needles and blades carry what was on the outside into the middle. Such meat wants {145} "
               "for 3 min, {150} for 1 min or {155} for 17 s in the core, not less.",
           .sources = injected_sources,
           .matters =
               [](Facts f) {
                   return (f.has("injected") || f.has("tenderised")) && (!f.food || intact_meat(*f.food)) &&
                          below_c(f.peak_c, 158);
               },
           .can_concern = intact_meat},
    Hazard{.id = "trichinella",
           .weight = HazardWeight::guard,
           .when = "bear or boar; or pork or game that is ground, cured, smoked or served raw; until cooked",
           .sentence =
               "Salt, smoke and drying do not reliably kill Trichinella, and freezing does not in game. "
               "Only the core temperature does: {165} for bear and boar.",
           .sources = trichinella_sources,
           .matters =
               [](Facts f) {
                   bool const worked = f.cured || f.has("ground") || f.smoked || f.has("served-raw");
                   return not_cooked(f) && (f.is("bear-boar") || f.is("cured-ham") ||
                                            (worked && is_any(f, {"fresh-ham", "venison"})) ||
                                            ((f.cured || f.smoked || f.has("served-raw")) &&
                                             is_any(f, {"ground-meat", "whole-meat"})));
               },
           .can_concern =
               [](FoodClass const& food) {
                   return any_of(
                       food, {"bear-boar", "venison", "fresh-ham", "cured-ham", "ground-meat", "whole-meat"});
               }},
    Hazard{.id = "fish-parasites",
           .weight = HazardWeight::guard,
           .when = "fish is brined, smoked or served raw, not cooked, and not stated as frozen first",
           .sentence =
               "Salt and cold smoke do not kill the worms in fish. Freeze it first: 7 days at {-4}, or "
               "solid at {-31} and 15 h there. Or cook it to {145}.",
           .sources = parasite_sources,
           .matters =
               [](Facts f) {
                   return f.is("fish") && !f.has("frozen") && not_cooked(f) &&
                          (f.brined || f.smoked || f.cured || f.has("served-raw"));
               },
           .can_concern = [](FoodClass const& food) { return food.name == "fish"; }},
    Hazard{.id = "listeria",
           .weight = HazardWeight::guard,
           .when = "fish is cured or smoked and not cooked",
           .sentence =
               "Cold-smoked and cured fish can carry Listeria, which grows in the fridge too. The pregnant, "
               "the old and the weak eat it only cooked through.",
           .sources = listeria_sources,
           .matters =
               [](Facts f) {
                   return f.is("fish") && not_cooked(f) &&
                          (f.smoked || f.cured || f.brined || f.has("served-raw"));
               },
           .can_concern = [](FoodClass const& food) { return food.name == "fish"; }},
    Hazard{
        .id = "scombrotoxin",
        .weight = HazardWeight::guard,
        .when = "fish was, or may have been, in the danger zone for more than 2 h",
        .sentence =
            "Tuna, mackerel, bluefish and their like form histamine when they stand warm, and neither "
            "cooking, smoking nor freezing takes it away. This fish was warm for more than 2 h.",
        .sources = histamine_sources,
        .matters = [](Facts f) { return f.is("fish") && f.zone_possible_s > danger_zones().front().most_s; },
        .can_concern = [](FoodClass const& food) { return food.name == "fish"; }},
    Hazard{.id = "bacillus-cereus",
           .weight = HazardWeight::guard,
           .when = "grains, starchy stuffing, stock or leftovers are kept hot or cooled",
           .sentence =
               "The spores of Bacillus cereus live through cooking, and its poison through reheating. Keep "
               "rice, grain and starchy food hot at {140}, or get it cold in time.",
           .sources = cereus_sources,
           .matters =
               [](Facts f) {
                   return f.kept_warm_or_cooled && is_any(f, {"vegetable", "stuffed", "stock", "leftover"});
               },
           .can_concern =
               [](FoodClass const& food) {
                   return any_of(food, {"vegetable", "stuffed", "stock", "leftover"});
               }},
    Hazard{.id = "smoked-low",
           .weight = HazardWeight::advice,
           .when = "the smoker has not been at 225 degF while the food was in it",
           .sentence =
               "Published advice smokes at {225} to {300}. Lower than that the food is warm for longer: "
               "watch how long its core is below {130}, 6 h at the most.",
           .sources = smoking_sources,
           .matters = [](Facts f) { return is_perishable(f) && smoked_low(f); },
           .can_concern = perishable},
    Hazard{.id = "nitrite",
           .weight = HazardWeight::advice,
           .when = "nitrite is stated",
           .sentence =
               "Too much nitrite is poisonous and too little does not protect. Weigh the curing salt by the "
               "mass of the meat, by a tested recipe.",
           .sources = nitrite_sources,
           .matters = [](Facts f) { return f.has("nitrite"); },
           .can_concern =
               [](FoodClass const& food) {
                   return any_of(food, {"ground-poultry", "ground-meat", "whole-meat", "venison", "fresh-ham",
                                        "cured-ham", "fish", "bear-boar", "whole-poultry"});
               }},
    Hazard{.id = "toxoplasma",
           .weight = HazardWeight::advice,
           .when = "game, or cured, smoked or raw meat, until cooked",
           .sentence =
               "Raw and rare meat can carry Toxoplasma, which harms the unborn, and salt and smoke do not "
               "kill it. The pregnant eat this only cooked through, and wash hands and boards after it.",
           .sources = toxoplasma_sources,
           .matters =
               [](Facts f) {
                   return not_cooked(f) &&
                          (is_any(f, {"venison", "bear-boar"}) ||
                           ((f.cured || f.smoked || f.has("served-raw")) &&
                            is_any(f, {"ground-meat", "whole-meat", "fresh-ham", "cured-ham"})));
               },
           .can_concern =
               [](FoodClass const& food) {
                   return game(food) || any_of(food, {"ground-meat", "whole-meat", "fresh-ham", "cured-ham"});
               }},
    Hazard{.id = "chronic-wasting-disease",
           .weight = HazardWeight::advice,
           .when = "venison",
           .sentence =
               "Where chronic wasting disease is known, have the deer tested before anybody eats it, and "
               "leave brain and spine alone: cooking does nothing against it.",
           .sources = wasting_sources,
           .matters = [](Facts f) { return f.is("venison"); },
           .can_concern = [](FoodClass const& food) { return food.name == "venison"; }},
    Hazard{.id = "game-fat",
           .weight = HazardWeight::quality,
           .when = "venison",
           .sentence =
               "No danger, but taste: the fat of deer is strong and soon rancid. Cut it off before the meat "
               "is frozen, brined or smoked.",
           .sources = fat_sources,
           .matters = [](Facts f) { return f.is("venison"); },
           .can_concern = [](FoodClass const& food) { return food.name == "venison"; }},
};

}  // namespace

bool HazardFacts::has(std::string_view word) const {
    return std::ranges::find(preparation, word) != preparation.end();
}

std::span<Hazard const> hazards() {
    return rows;
}

std::vector<Hazard const*> hazards_of(HazardFacts const& facts, std::size_t most) {
    std::vector<Hazard const*> found;
    for (auto const& row : rows)
        if (row.matters(facts)) found.push_back(&row);
    std::ranges::stable_sort(found, std::ranges::greater{}, [](auto const* row) { return row->weight; });
    found.resize(std::min(found.size(), most));
    return found;
}

std::string hazard_sentence(Hazard const& hazard, TemperatureUnit unit) {
    std::string text;
    auto rest = hazard.sentence;
    for (auto open = rest.find('{'); open != std::string_view::npos; open = rest.find('{')) {
        auto const close = rest.find('}', open);
        double fahrenheit = 0;
        std::from_chars(rest.data() + open + 1, rest.data() + close, fahrenheit);
        text += rest.substr(0, open);
        text += show(Temperature{from_fahrenheit(fahrenheit)}, unit, 0);
        rest.remove_prefix(close + 1);
    }
    return text.append(rest);
}

std::string hazard_sources(Hazard const& hazard) {
    std::string text;
    for (auto const id : hazard.sources) {
        auto const* source = food_source(id);
        if (!source) continue;
        text.append(text.empty() ? "" : "; ").append(source->title);
        if (source->evidence != Evidence::read)
            text.append(" (").append(to_word(source->evidence)).append(")");
    }
    return text;
}

}  // namespace ingle
