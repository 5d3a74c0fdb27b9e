// Where a cook looks when a vessel is beyond its band. Pure; any thread.
#pragma once

#include <string>

#include "config/settings.hpp"
#include "daemon/model/alarm.hpp"

namespace ingle {

// By the kind of what warms or cools it; `above` its band, or below. It orders no more and no less heat:
// whether that would be right, for what is in it too, is not known here.
inline std::string look_at(VesselKind kind, bool above) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return "Look at the heat under it, and at its lid.";
        case VesselKind::smoker:
            return above ? "Look at its vents." : "Look at the fire and its fuel.";
        case VesselKind::oven:
        case VesselKind::hot_box:
            return above ? "Look at what it is set to." : "Look at the door, and whether it heats.";
        case VesselKind::fridge:
            return above ? "Look at the door, at what stands in it, and whether it runs."
                         : "Look at what it is set to.";
        case VesselKind::room:
            return above ? "Look at what warms it." : "Look at what cools it.";
    }
    return "";
}

// The same of a vessel that was in its band and has left it, with the way to turn: back toward the band.
inline std::string turn_back(VesselKind kind, bool above) {
    switch (kind) {
        case VesselKind::pot:
        case VesselKind::bath:
            return above ? "Turn the heat down, and look at its lid."
                         : "Look whether the heat under it is on, and turn it up.";
        case VesselKind::smoker:
            return above ? "Close its vents a little."
                         : "Look at the fire and its fuel; if it burns well, open its vents a little.";
        case VesselKind::oven:
        case VesselKind::hot_box:
            return above ? "Look at what it is set to, and set it lower."
                         : "Look at the door, and whether it heats; if it does, set it higher.";
        case VesselKind::fridge:
            return above ? "Look at the door, at what stands in it, and whether it runs; if it does, set it "
                           "colder."
                         : "Set it a little warmer.";
        case VesselKind::room:
            break;
    }
    return look_at(kind, above);
}
inline Action action_back(VesselKind kind, bool above) {
    if (kind == VesselKind::room) return Action::none;
    return above ? Action::lower_heat : Action::raise_heat;
}

}  // namespace ingle
