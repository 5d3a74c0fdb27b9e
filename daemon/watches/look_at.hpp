// Where a cook looks when a vessel is beyond its band. Pure; any thread.
#pragma once

#include <string>

#include "config/settings.hpp"

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

}  // namespace ingle
