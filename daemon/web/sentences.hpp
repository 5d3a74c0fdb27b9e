// What the core says of a vessel, as one sentence for the cook: state, trend, forecast, which way to turn.
// Pure; it judges nothing of its own. Used by the API.
#pragma once

#include <string>

#include "daemon/model/view.hpp"

namespace ingle {

// Temperatures in the kitchen's unit; `now` is the moment of the view.
std::string vessel_sentence(VesselView const& vessel, ProbeView const* probe, TemperatureUnit unit,
                            Instant now);

}  // namespace ingle
