// The historic heating table against Trichinella spiralis in pork, and its refusal for game. Pure; any
// thread.
#pragma once

#include <array>
#include <string_view>

#include "daemon/food/classes.hpp"

namespace ingle {

struct TrichinellaRow {
    int fahrenheit;
    double minutes;  // 0 = at once
};
// 9 CFR 318.10(c)(1) as it stood until 30 July 2018 (removed by 83 FR 25302).
inline constexpr std::array<TrichinellaRow, 13> trichinella_pork{{{120, 1260},
                                                                  {122, 570},
                                                                  {124, 270},
                                                                  {126, 120},
                                                                  {128, 60},
                                                                  {130, 30},
                                                                  {132, 15},
                                                                  {134, 6},
                                                                  {136, 3},
                                                                  {138, 2},
                                                                  {140, 1},
                                                                  {142, 1},
                                                                  {144, 0}}};
constexpr std::string_view trichinella_source =
    "9 CFR 318.10(c)(1), for pork, removed 30 July 2018 (83 FR 25302): historic";

// What decides for game: no table, but the core target of its class.
constexpr std::string_view trichinella_game_source =
    "CDC MMWR May 2024 (bear meat) and FDA Food Code 3-401.11(A)(3): wild game at 165 degF";

enum class TrichinellaAnswer {
    covered,      // the table asks for `minutes` at this temperature
    below_table,  // too cool for any row
    refused       // not pork: its worms are not those of the table
};
struct TrichinellaTime {
    TrichinellaAnswer answer;
    double minutes = 0;
    std::string_view why;
};
// How long pork of this class must be at this temperature, by the row at or below it. Refused for game, whose
// Trichinella differ (T. nativa in bear), and for every class that is not pork.
TrichinellaTime trichinella_heating(FoodClass const& food, double celsius);
// Freezing is a control for pork only (CDC), and never counted here.
TrichinellaTime trichinella_freezing(FoodClass const& food);

}  // namespace ingle
