// The food's verdicts over a whole cook, and beside them the numbers from which each can be redone with pen
// and paper: the readings at every crossing, the spells, the rows of the table that was used. Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/food/ledger.hpp"
#include "daemon/food/lethality.hpp"
#include "daemon/model/view.hpp"
#include "daemon/review/record.hpp"

namespace ingle {

// Where a straight line between two readings passes a level. `seen` false: there is no such line (the cook
// began or ended, or a gap hides it) and t is only that moment.
struct Crossing {
    double t = 0, level_c = 0;
    bool seen = false;
    CookSample before, after;
};

struct FoodSpell {  // measured, between two levels or beyond one
    Crossing begin, end;
    std::string stage;
    double worst_c = 0;  // furthest from the level
    double seconds() const { return end.t - begin.t; }
};
struct UnseenSpell {  // of a gap, at its worst
    double from = 0, to = 0, possible_s = 0;
    double before_c = 0, after_c = 0;
};
struct FoodSpells {
    std::vector<FoodSpell> measured;
    std::vector<UnseenSpell> unseen;
    double measured_s() const;
    double possible_s() const;  // with the unseen ones
};

// A row of an FSIS time table: how long the core was at this whole degree, and what part of the log10 that
// is. sum = target_log10 * (seconds / asked) over the rows.
struct TableRow {
    int fahrenheit = 0;
    double seconds = 0;
    Dwell asked;
    double rate_s = 0;  // that its seconds are divided by: what it asks, or the last row's that asks for time
    double log10 = 0;
};
// A straight piece of the core's way, both ends readings. Worth in seconds at the model's reference:
// (r1 - r0) / ln(r1 / r0) times its length, r = 10^((T - Tref) / z).
struct LinePiece {
    CookSample begin, end;
    double worth_s = 0;
};

struct CoolingRow {
    std::string what;  // "to 70.0 degF"
    Crossing at;       // passed but not seen: between the readings `before` and `after`
    double took_least_s = 0, took_most_s = 0, allowed_s = 0;
    bool passed = false;
    std::string answer;
};

struct CoreFacts {
    std::string probe;
    bool seen = false;
    int not_its_own = 0;  // readings that were left out: the tip was moved, in the air or in the liquid
    std::optional<double> withdrawn_at;  // then it turned out that nothing read before was the core's
    CookSample peak;
    std::optional<Crossing> reached;    // the class's target, first time
    FoodSpells at_target;               // at or above the class's target
    FoodSpells come_up;                 // 50 to 130 degF until the lethality asked for was reached
    FoodSpells danger;                  // 40 to 140 degF
    FoodSpells held_wrong;              // below the hot or above the cold limit while it was held
    std::vector<TableRow> table;        // of a class that is judged by an FSIS table
    std::vector<LinePiece> pieces;      // of a class that is judged by a D and z model
    double pieces_s = 0, lethal_s = 0;  // their sum, and what all readings come to; at the reference
    std::optional<double> log10;        // as computed from all readings
    std::optional<Crossing> cooling_from;
    std::vector<CoolingRow> cooling;
    double longest_step_s = 60;
};

struct FoodFacts {
    std::string food, means;  // the class
    std::vector<Verdict> verdicts;
    std::vector<CoreFacts> cores;
    LethalityModel model = LethalityModel::none;
    LogLinear log_linear;
    double target_log10 = 0;
    std::optional<double> target_c, target_hold_s;
    std::string cooling_rule, caution;
    double hot_limit_c = 0, cold_limit_c = 0;
};

// The verdicts, by the ledger that the daemon runs, and of each core the readings that it took for the core's
// own.
struct JudgedCook {
    std::vector<Verdict> verdicts;
    std::vector<CookSeries> cores;
    std::vector<std::optional<double>> withdrawn_at;  // of each core
    FoodSummary summary;
};
JudgedCook judge_cook(CookRecord const& record);
FoodFacts food_facts(CookRecord const& record, JudgedCook const& judged);

// Spells of the steps between two levels (either may be infinite), cut at the stages' ends.
// The way of a core from reading to reading, gaps with what may have happened in them at the fastest.
std::vector<Step> core_steps(CookRecord const& record, CookSeries const& series);
FoodSpells spells_between(std::vector<Step> const& steps, double low_c, double high_c,
                          std::vector<CookStage> const& stages);
std::vector<LinePiece> straight_pieces(std::vector<Step> const& steps, LogLinear const& model);

}  // namespace ingle
