// How much killing a core temperature history is worth by the published models: a running sum, O(1) per
// step. A gap is worth nothing. Owned by the ledger, or local to a calculator; pure.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>

#include "daemon/food/classes.hpp"
#include "daemon/food/fsis_tables.hpp"
#include "daemon/food/state.hpp"
#include "daemon/food/step.hpp"

namespace ingle {

// D(T) in seconds: the time for one log10.
double d_value_s(LogLinear const& model, double celsius);

// Seconds at the model's reference temperature that a measured step is worth: the lethal rate
// 10^((T - Tref) / z) integrated exactly along the straight line between the readings, so that it does not
// matter how finely the line was sampled. Nothing counts below `lowest_c` nor faster than at `highest_c`.
double lethal_seconds(LogLinear const& model, Step const& step);
// The same by the rule of the published process-lethality sheets: the mean of the two ends' rates times the
// length. It gives about 5 % more on a half-minute grid; for comparing with such sheets only.
double lethal_seconds_trapezoid(LogLinear const& model, Step const& step);

class Lethality {
public:
    explicit Lethality(FoodClass const& food) : food_(&food) {}

    void add(Step const& step);

    // log10 reduction that the readings are worth, whether the source's conditions were kept or not. Empty:
    // no published model is given for this food.
    std::optional<double> computed_log10() const;
    // What the source itself gives: of a printed table the highest log10 column of which a row is fulfilled
    // (5, 6.5 or 7 for meat, 7 for poultry; 0 before), since what the table allows is its rows and not what
    // lies between them; of a published D and z the reduction that they give. 0 once the come-up from 50 to
    // 130 degF took or may have taken more than 6 h. This ends stages and starts clocks.
    std::optional<double> credited_log10() const;
    double come_up_s() const { return come_up_s_; }                    // measured
    double come_up_possible_s() const { return come_up_possible_s_; }  // and with the gaps at their worst
    bool within_conditions() const;

    // Seconds measured at or above a whole degree Fahrenheit, 130 to 165.
    double seconds_at_or_above(int fahrenheit) const;
    // The highest row of the class's FSIS table that is fulfilled for the log10 it asks: a missed end point
    // may be read against a lower row (FSIS: "158 degF missed, but 27 s in all at or above 154 degF"). Empty:
    // none, or no table.
    struct Row {
        int fahrenheit = 0;
        Dwell asked;
        double measured_s = 0;
    };
    std::optional<Row> row_fulfilled() const;
    // What the class's table asks for at this temperature. Empty: no table, or outside it.
    std::optional<Dwell> asked_at(int fahrenheit) const;

    void fields(FieldVisitor& visit);

private:
    void count_bins(Step const& step);
    double table_log10() const;
    std::optional<Dwell> printed(int fahrenheit, double log10) const;
    std::optional<Row> row_fulfilled(double log10) const;

    static constexpr int first_f = 130, last_f = 165;
    FoodClass const* food_;
    double lethal_s_ = 0;                                    // at the log-linear reference temperature
    std::array<double, last_f - first_f + 1> seconds_at_{};  // per whole degree; the last one holds all above
    double come_up_s_ = 0, come_up_possible_s_ = 0;
    bool was_lethal_ = false;  // the class's log10 was reached: what follows is no come-up
    bool touched_instant_ = false;
};

}  // namespace ingle
