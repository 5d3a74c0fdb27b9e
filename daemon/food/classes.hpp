// The food classes of the contract as data: what each source says about the class, the safer value as the
// default. Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace ingle {

struct CoreTarget {  // reach this at the coldest point and keep it for `hold_s`
    double fahrenheit = 0;
    double hold_s = 0;
    bool rest = false;  // the hold counts after the food left the heat
    std::string_view source;
    double celsius() const { return (fahrenheit - 32) * 5 / 9; }
};

enum class LethalityModel { none, fsis_meat, fsis_poultry, log_linear };

struct LogLinear {  // D(T) = d_ref_s * 10^((t_ref_c - T) / z_k)
    double t_ref_c = 0, d_ref_s = 0, z_k = 1;
    double lowest_c = 0, highest_c = 0;  // as far as the source goes: nothing below, nothing faster above
};

// Of a dish with a core probe, metres; thinner food needs its thickness said. Common practice, no source.
constexpr double least_dish_m = 0.05;

struct FoodClass {
    std::string_view name;
    std::string_view means;                 // for people
    std::span<CoreTarget const> targets{};  // [0] is the default and the safer; the others are shown
    LethalityModel model = LethalityModel::none;
    LogLinear log_linear{};  // unless `none`; for fsis_meat its log-linear equivalent
    double target_log10 = 0;
    std::string_view lethality_source{}, lethality_caution{};
    bool trichinella_game = false;  // freezing and the pork heating table are refused
    bool cured = false;
    bool perishable = true;                          // danger zone, holding and cooling apply
    bool cooked_before = false;                      // what is heated here is reheated
    std::span<CoreTarget const> hot_hold_targets{};  // asked only where it is cooked to be kept hot
    std::string_view caution{};                      // shown beside every verdict, or ""
    // What a dish of it measures across at least, where its core is read and its thickness is not said; 0: a
    // liquid, which mixes. Common practice, no source.
    double least_thickness_m = least_dish_m;
    bool hollow = false;  // a whole bird: thinner than its mass would say of a joint
    bool mixes() const { return least_thickness_m == 0; }
};

std::span<FoodClass const> food_classes();
FoodClass const* food_class(std::string_view name);  // nullptr if there is none
// The class as what was done to it asks (words of DishSettings::preparation): stuffed, ground, injected or
// tenderised meat is no longer a whole cut. Never asks for less.
FoodClass prepared(FoodClass food, std::span<std::string const> preparation);

// Limits that go for every perishable class, as each source has them; [0] is the default, the safer one.
struct ZoneLimits {
    double low_f = 0, high_f = 0;
    double most_s = 0;           // longest stay in all, not being heated or cooled on purpose
    double most_hot_room_s = 0;  // the same in a room above 90 degF
    std::string_view source;
    double low_c() const { return (low_f - 32) * 5 / 9; }
    double high_c() const { return (high_f - 32) * 5 / 9; }
};
std::span<ZoneLimits const> danger_zones();
// While it is being heated the stay may last longer; [0] is the default.
struct HeatingLimit {
    double most_s = 0;
    std::string_view source;
};
std::span<HeatingLimit const> heating_limits();
struct HoldLimit {
    double fahrenheit = 0;
    std::string_view source;
    double celsius() const { return (fahrenheit - 32) * 5 / 9; }
};
std::span<HoldLimit const> hot_hold_limits();
std::span<HoldLimit const> cold_hold_limits();
// Cold food that was above the limit for longer than this is thrown away.
constexpr double warm_most_s = 2 * 3600.0;
constexpr std::string_view warm_most_source =
    "FoodSafety.gov, food safety during a power outage: perishable food above 40 degF for more than 2 h is "
    "thrown away; summed here over 24 h";
// Food made up from things at room temperature must be cold within this long.
constexpr double made_warm_cold_within_s = 4 * 3600.0;
constexpr std::string_view made_warm_source = "FDA Food Code 3-501.14(B): to 41 degF within 4 h";

}  // namespace ingle
