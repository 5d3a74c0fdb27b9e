// The hazards of what is cooked, cured and smoked here, as data: when each matters, the sentence for the
// cook, and the published source. At most two are named for a dish at once. Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/quantity.hpp"
#include "daemon/food/classes.hpp"
#include "daemon/food/cooling.hpp"

namespace ingle {

// What is known of one dish when its hazards are looked up. Seconds and degC; `possible` counts what was not
// read at its worst.
struct HazardFacts {
    FoodClass const* food = nullptr;             // nullptr: not said, so nothing is ruled out by it
    std::span<std::string const> preparation{};  // words of DishSettings::preparation
    int cores = 0;                               // probes in the food
    bool brined = false, smoked = false;         // in this cook, so far
    bool cured = false;                          // the class or the preparation says so
    std::optional<double> smoker_high_c;         // the hottest the smoker was around it; empty: not read
    bool target_met = false;                     // of the class
    std::optional<double> peak_c;                // of the core that lags
    double warm_possible_s = 0;                  // between 50 and 130 degF before it was cooked
    double zone_possible_s = 0;                  // in the danger zone in all
    bool idle_too_long = false;                  // or may have been: neither heated nor cooled on purpose
    CoolingAnswer cooling = CoolingAnswer::not_applicable;
    bool kept_warm_or_cooled = false;  // after it was cooked
    double unread_cold_s = 0;          // longest time without a reading where it is to be cold

    bool is(std::string_view food_class) const { return food && food->name == food_class; }
    bool has(std::string_view word) const;
};

// Which of two hazards is named first.
enum class HazardWeight { quality, advice, guard, discard };

struct Hazard {
    std::string_view id;  // "staphylococcus-toxin"
    HazardWeight weight{};
    std::string_view when;      // the condition, for people
    std::string_view sentence;  // for the cook; "{165}" is that many degF in the kitchen's unit
    std::span<std::string_view const> sources{};  // ids of food_sources()
    bool (*matters)(HazardFacts const&) = nullptr;
    bool (*can_concern)(FoodClass const&) = nullptr;  // for the list of a class
};

std::span<Hazard const> hazards();
// Those that matter, the heaviest first; at most `most` of them.
std::vector<Hazard const*> hazards_of(HazardFacts const& facts, std::size_t most = 2);
std::string hazard_sentence(Hazard const& hazard, TemperatureUnit unit);
std::string hazard_sources(Hazard const& hazard);  // their titles, and where one was not read

constexpr double smoked_low_f = 225;            // below it published advice does not smoke
constexpr double come_up_most_s = 6 * 3600.0;   // 50 to 130 degF
constexpr double no_power_most_s = 4 * 3600.0;  // of a refrigerator that stays shut
constexpr std::string_view curing_salt_caution =
    "This is no reckoning for curing salts: they hold nitrite, which is poisonous in excess. Weigh it by a "
    "tested recipe for the mass of the meat.";

}  // namespace ingle
