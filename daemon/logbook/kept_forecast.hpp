// A forecast as the logbook keeps it: an event named `kept_forecast`. Pure.
#pragma once

#include "daemon/model/effects.hpp"

namespace ingle::logbook {

// Its numbers are whole seconds, each left out where there is none; its text is what the forecast rests on.
Event event_of(Forecast const& forecast);

}  // namespace ingle::logbook
