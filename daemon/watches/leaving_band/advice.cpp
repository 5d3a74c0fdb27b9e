#include "daemon/watches/leaving_band/advice.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

double usual_time_constant(VesselKind kind) {  // s; our own judgement of the order of size
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return 1200;
        case VesselKind::smoker:
        case VesselKind::hot_box:
            return 1200;
        case VesselKind::oven:
            return 900;
        case VesselKind::fridge:
        case VesselKind::room:
            return 3600;
    }
    return 1200;
}

std::string amount(double share) {
    if (share < 0.08) return "a little";
    if (share < 0.18) return "by about an eighth";
    if (share < 0.3) return "by about a quarter";
    if (share < 0.45) return "by about a third";
    return "well";
}

}  // namespace

std::string advice(VesselKind kind, double slope, double level, double room, double time_constant_s) {
    double const tau = time_constant_s > 0 ? time_constant_s : usual_time_constant(kind);
    double const share = std::abs(slope) * tau / std::max(level - room, 10.0);
    bool const rising = slope > 0;
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            if (share >= 0.45) return rising ? "Turn the heat well down." : "Turn the heat well up.";
            return std::string("Turn the heat ") + (rising ? "down " : "up ") + amount(share) + ".";
        case VesselKind::smoker:
            if (share < 0.08) return rising ? "Close the vent a little." : "Open the vent a little.";
            if (share < 0.3)
                return rising ? "Close the vent a quarter." : "Open the vent a quarter, or feed the fire.";
            return rising ? "Close the vent by half." : "Open the vent by half and look at the fire.";
        case VesselKind::oven:
        case VesselKind::hot_box:
            return std::string("Set it ") + (rising ? "lower " : "higher ") + amount(share) + ".";
        case VesselKind::fridge:
            return rising ? "Look at the door and at what was put in; set it colder if both are in order."
                          : "Set it a little warmer.";
        case VesselKind::room:
            return "";
    }
    return "";
}

}  // namespace ingle
