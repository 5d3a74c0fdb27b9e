#include "daemon/food/ledger_words.hpp"

#include <algorithm>
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

std::string FoodLedger::Impl::not_read_words() const {
    bool const bare = std::ranges::any_of(
        evidence, [](auto const& one) { return one.bare() || one.doubt() == CoreDoubt::no_body; });
    return bare ? "Not known: the tip warmed or cooled as air or a surface does, and not as the middle of a "
                  "food does, which is slow at first. To know it, put the tip into the thickest part, and "
                  "give "
                  "the dish a thickness or the vessel a probe."
                : "Not known: no reading of the core counts; none came, or the tip was not seen at rest in "
                  "the "
                  "food.";
}

std::string FoodLedger::Impl::span(double s) {
    // Whole seconds: the logbook's rounding of the readings must not turn the last figure.
    return s >= unbounded_s || !std::isfinite(s) ? "an unknown time"
                                                 : show(Duration{std::round(std::max(0.0, s))});
}

}  // namespace ingle
