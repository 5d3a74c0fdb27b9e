#include "daemon/logbook/kept_forecast.hpp"

#include <cmath>

namespace ingle::logbook {

Event event_of(Forecast const& forecast) {
    Event event{forecast.at, std::string(kept_forecast), forecast.subject, forecast.why, {}};
    auto const put = [&](char const* key, std::optional<double> seconds) {
        if (seconds) event.numbers.emplace_back(key, std::round(*seconds));
    };
    put("eta_s", forecast.eta_s);
    put("low_s", forecast.low_s);
    put("high_s", forecast.high_s);
    put("low_half_s", forecast.low_half_s);
    put("high_half_s", forecast.high_half_s);
    return event;
}

}  // namespace ingle::logbook
