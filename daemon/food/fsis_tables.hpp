// The time-temperature tables of the FSIS cooking guideline, as printed. They are step tables keyed on whole
// degrees Fahrenheit: a row holds at that temperature or above. Pure; any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace ingle {

enum class Poultry { chicken, turkey };

struct Dwell {
    double printed = 0;
    bool in_minutes = false;
    constexpr double seconds() const { return in_minutes ? printed * 60 : printed; }  // 0 = instantaneous
};

constexpr int meat_first_f = 130, meat_last_f = 160, poultry_first_f = 136, poultry_last_f = 165;
constexpr std::string_view fsis_guideline =
    "USDA FSIS Cooking Guideline for Meat and Poultry Products (Revised Appendix A), December 2021";

// Beef, pork and lamb; `log10` is 5, 6.5 or 7. Nothing outside the table.
std::optional<Dwell> fsis_meat(int fahrenheit, double log10);
// 7 log10 of Salmonella; fat in whole percent, 12 if more or not known (the guideline's own rule).
std::optional<Dwell> fsis_poultry(Poultry species, int fahrenheit, int fat_percent = 12);
// Other or mixed species: the longer of the two (the guideline's own rule).
std::optional<Dwell> fsis_any_poultry(int fahrenheit, int fat_percent = 12);

}  // namespace ingle
