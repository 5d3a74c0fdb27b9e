// Words and small forms that the ledger's rules share. Pure; any thread.
#pragma once

#include <string>
#include <string_view>

#include "daemon/food/ledger.hpp"

namespace ingle {

inline std::string text(std::string_view view) {
    return std::string(view);
}
std::string decimal(double value, int places);
// Rounded down, so that 6.96 is not told as the 7.0 that was asked for; beyond 20 the figure means nothing
// more.
std::string logs(double log10);
std::string fahrenheit(int f, TemperatureUnit units);

inline FoodConcern none(std::string_view alarm) {
    FoodConcern concern;
    concern.alarm = alarm;
    return concern;
}
inline FoodConcern unknown(std::string_view alarm) {
    auto concern = none(alarm);
    concern.truth = Holds::unknown;
    return concern;
}
// `what`: what was measured, and by whose rule.
inline FoodConcern yes(std::string_view alarm, Priority priority, double value, std::string what) {
    auto concern = none(alarm);
    concern.truth = Holds::yes;
    concern.priority = priority;
    concern.value = value;
    concern.text = std::move(what);
    return concern;
}

inline FoodConcern orders(FoodConcern concern, Action action, std::string_view order) {
    concern.action = action;
    concern.order = order;
    return concern;
}
inline FoodConcern throw_away(FoodConcern concern) {
    return orders(std::move(concern), Action::discard, "Throw it away: heating does not make it good again.");
}

}  // namespace ingle
