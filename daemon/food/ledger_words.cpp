#include "daemon/food/ledger_words.hpp"

#include <charconv>
#include <cmath>

#include "daemon/food/ledger_impl.hpp"

namespace ingle {

std::string decimal(double value, int places) {
    char buffer[64];
    auto const end =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, places).ptr;
    return {buffer, end};
}

std::string logs(double log10) {
    return log10 > 20 ? "more than 20 log10" : decimal(std::floor(log10 * 10 + 1e-9) / 10, 1) + " log10";
}

std::string fahrenheit(int f, TemperatureUnit units) {
    return show(Temperature{from_fahrenheit(f)}, units, units == TemperatureUnit::fahrenheit ? 0 : 1);
}

std::string FoodLedger::Impl::span(double s) {
    // Whole seconds: the logbook's rounding of the readings must not turn the last figure.
    return s >= unbounded_s || !std::isfinite(s) ? "an unknown time"
                                                 : show(Duration{std::round(std::max(0.0, s))});
}

}  // namespace ingle
