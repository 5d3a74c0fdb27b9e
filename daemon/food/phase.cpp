#include "daemon/food/phase.hpp"

namespace ingle {
namespace {

constexpr double coldest_cooked_core_c = 15;  // what ends below it was chilled or thawed

FoodPhase phase_of(Does does) {
    switch (does) {
        case Does::cook:
            return FoodPhase::cooking;
        case Does::brine:
            return FoodPhase::brining;
        case Does::chill:
            return FoodPhase::chilling;
        case Does::hot_hold:
            return FoodPhase::hot_holding;
        case Does::cold_hold:
            return FoodPhase::cold_holding;
        case Does::rest:
            return FoodPhase::resting;
        case Does::thaw:
            return FoodPhase::thawing;
        case Does::reheat:
            break;
    }
    return FoodPhase::reheating;
}

}  // namespace

FoodPhase food_phase(std::optional<Does> does, std::optional<VesselKind> where,
                     std::optional<Temperature> until_core) {
    if (does) return phase_of(*does);
    if (until_core && (where == VesselKind::fridge || until_core->celsius <= coldest_cooked_core_c))
        return FoodPhase::chilling;
    if (!where) return until_core ? FoodPhase::cooking : FoodPhase::waiting;
    switch (*where) {
        case VesselKind::fridge:
            return FoodPhase::cold_holding;
        case VesselKind::hot_box:
            return FoodPhase::hot_holding;
        case VesselKind::room:
            return FoodPhase::waiting;
        case VesselKind::pot:
        case VesselKind::bath:
        case VesselKind::smoker:
        case VesselKind::oven:
            break;
    }
    return FoodPhase::cooking;
}

std::string_view to_word(FoodPhase phase) {
    switch (phase) {
        case FoodPhase::waiting:
            return "wait";
        case FoodPhase::brining:
            return to_word(Does::brine);
        case FoodPhase::cooking:
            return to_word(Does::cook);
        case FoodPhase::resting:
            return to_word(Does::rest);
        case FoodPhase::chilling:
            return to_word(Does::chill);
        case FoodPhase::hot_holding:
            return to_word(Does::hot_hold);
        case FoodPhase::cold_holding:
            return to_word(Does::cold_hold);
        case FoodPhase::thawing:
            return to_word(Does::thaw);
        case FoodPhase::reheating:
            break;
    }
    return to_word(Does::reheat);
}

bool is_cold_phase(FoodPhase phase) {
    return phase == FoodPhase::chilling || phase == FoodPhase::waiting || is_held_cold(phase);
}

bool is_heated(FoodPhase phase) {
    return phase == FoodPhase::cooking || phase == FoodPhase::reheating;
}

bool heats_core(FoodPhase phase) {
    return is_heated(phase) || phase == FoodPhase::hot_holding || phase == FoodPhase::thawing;
}

bool is_held_cold(FoodPhase phase) {
    return phase == FoodPhase::brining || phase == FoodPhase::cold_holding || phase == FoodPhase::thawing;
}

}  // namespace ingle
