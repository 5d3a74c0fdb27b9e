#include "daemon/watches/leaving_band/advice.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

std::string amount(double share) {
    if (share < 0.08) return "a little";
    if (share < 0.18) return "by about an eighth";
    if (share < 0.3) return "by about a quarter";
    if (share < 0.45) return "by about a third";
    return "well";
}

constexpr double most_set_k = 15;  // at once: what asks for more is something else than the setting

}  // namespace

double kelvin_of_whole_heat(VesselKind kind, double level, double room) {
    double const above = std::max(level - room, 10.0);
    if (kind != VesselKind::pot) return above;
    double const open = level < 85 ? 18 + 0.5 * (85 - level) : std::max(8.0, 18 - (level - 85));
    return std::min(above, open);
}

Action advised(VesselKind kind, bool rising) {
    if (kind == VesselKind::room || (kind == VesselKind::fridge && rising)) return Action::none;
    return rising ? Action::lower_heat : Action::raise_heat;
}

std::string advice(VesselKind kind, Drift const& drift, Words const& words) {
    bool const rising = drift.slope > 0;
    double const rest = drift.level + drift.slope * drift.time_constant_s;
    // Never the other way than against the drift, whatever the middle of the band would ask for.
    double const shift = std::max(0.0, rising ? rest - drift.target : drift.target - rest);
    double const share = shift / kelvin_of_whole_heat(kind, drift.level, drift.room);
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            if (share >= 0.45) return std::string("Turn the heat well ") + (rising ? "down." : "up.");
            return std::string("Turn the heat ") + (rising ? "down " : "up ") + amount(share) + ".";
        case VesselKind::smoker:
            if (share < 0.08) return rising ? "Close the vent a little." : "Open the vent a little.";
            if (share < 0.3)
                return rising ? "Close the vent a quarter." : "Open the vent a quarter, or feed the fire.";
            return rising ? "Close the vent by half." : "Open the vent by half and look at the fire.";
        case VesselKind::oven:
        case VesselKind::hot_box:  // a thermostat: its balance is what it is set to
            return std::string("Set it ") + (rising ? "lower by about " : "higher by about ") +
                   words.by(std::clamp(shift, 1.0, most_set_k)) + ".";
        case VesselKind::fridge:
            return rising ? "Look at the door, at what stands in it, and whether it runs."
                          : "Set it a little warmer.";
        case VesselKind::room:
            return "";
    }
    return "";
}

}  // namespace ingle
