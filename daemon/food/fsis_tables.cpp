#include "daemon/food/fsis_tables.hpp"

#include <algorithm>
#include <array>

namespace ingle {
namespace {

constexpr Dwell m(double minutes) {
    return {minutes, true};
}
constexpr Dwell s(double seconds) {
    return {seconds, false};
}
#include "daemon/food/fsis_tables.inc"

}  // namespace

std::optional<Dwell> fsis_meat(int fahrenheit, double log10) {
    if (fahrenheit < meat_first_f || fahrenheit > meat_last_f) return std::nullopt;
    auto const& row = meat_rows[static_cast<std::size_t>(fahrenheit - meat_first_f)];
    if (log10 == 5.0) return row[0];
    if (log10 == 6.5) return row[1];
    if (log10 == 7.0) return row[2];
    return std::nullopt;
}

std::optional<Dwell> fsis_poultry(Poultry species, int fahrenheit, int fat_percent) {
    if (fahrenheit < poultry_first_f || fahrenheit > poultry_last_f || fat_percent < 1) return std::nullopt;
    auto const& rows = species == Poultry::chicken ? chicken_rows : turkey_rows;
    auto const column = static_cast<std::size_t>(std::min(fat_percent, 12) - 1);
    return rows[static_cast<std::size_t>(fahrenheit - poultry_first_f)][column];
}

std::optional<Dwell> fsis_any_poultry(int fahrenheit, int fat_percent) {
    auto const chicken = fsis_poultry(Poultry::chicken, fahrenheit, fat_percent);
    auto const turkey = fsis_poultry(Poultry::turkey, fahrenheit, fat_percent);
    if (!chicken || !turkey) return std::nullopt;
    return chicken->seconds() > turkey->seconds() ? chicken : turkey;
}

}  // namespace ingle
