// A recording of one core through the ledger itself, as a dish of which nobody said what was done to it: the
// calculators may say no more than review does of the same readings. Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "daemon/food/calculate.hpp"
#include "daemon/food/ledger.hpp"

namespace ingle {

struct RecordingAnswers {
    CoolingAnswer cooling = CoolingAnswer::unknown;
    std::string cooling_text;      // the ledger's own sentence
    std::optional<double> log10;   // credited; empty: no model for this food
    std::string lethality_answer;  // "met", "not reached", "unknown" or the like; "" if no rule asks
    std::string lethality_text;
};

// What the ledger says of `series` at its end, with the stage taken for `phase` all the time. `medium`: what
// was read around the food; empty: it was not. `settings`: the dish's class, thickness, shape and rule.
RecordingAnswers ledger_answers(std::span<FoodSample const> series, std::span<FoodSample const> medium,
                                LedgerSettings settings, FoodPhase phase);

// The answer of a calculator, by the ledger's own judge. `said`: what was done to the food, as its stage
// would have it: then it is the ledger's answer of such a dish. Empty: as cautious as the ledger's whatever
// was done to it that what was read around it allows.
void bear_out(SeriesCooling& cooling, std::span<FoodSample const> series, std::span<FoodSample const> medium,
              LedgerSettings const& settings, std::string& why, std::optional<FoodPhase> said = {});
void bear_out(SeriesLethality& lethality, std::span<FoodSample const> series,
              std::span<FoodSample const> medium, LedgerSettings const& settings,
              std::optional<FoodPhase> said = {});

}  // namespace ingle
