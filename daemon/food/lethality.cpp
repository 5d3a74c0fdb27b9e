#include "daemon/food/lethality.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ingle {
namespace {

// FSIS guideline (Revised Appendix A, 2021): the product may spend at most 6 h between 50 and 130 degF on its
// way up, for the sake of Staphylococcus aureus, whose toxin no heat of the kitchen undoes.
constexpr double come_up_low_c = from_fahrenheit(50), come_up_high_c = from_fahrenheit(130);
constexpr double come_up_most_s = 6 * 3600.0;
// The log10 columns of the guideline's tables: beef, pork and lamb have three, poultry one.
constexpr std::array printed_columns{5.0, 6.5, 7.0};
constexpr double poultry_log10 = 7;

double rate(LogLinear const& model, double celsius) {
    return std::pow(10.0, (celsius - model.t_ref_c) / model.z_k);
}

// Along a straight line from c0 to c1, both inside the model's range.
double along_line(LogLinear const& model, double c0, double c1, double length_s) {
    double const rise = (c1 - c0) * std::numbers::ln10 / model.z_k;
    if (std::abs(rise) < 1e-9) return rate(model, (c0 + c1) / 2) * length_s;
    return rate(model, c0) * std::expm1(rise) / rise * length_s;
}

}  // namespace

double d_value_s(LogLinear const& model, double celsius) {
    return model.d_ref_s / rate(model, celsius);
}

double lethal_seconds(LogLinear const& model, Step const& step) {
    if (step.gap) return 0;
    double const lower = std::min(step.c0, step.c1), upper = std::max(step.c0, step.c1);
    double const from = std::clamp(lower, model.lowest_c - rounding_k, model.highest_c);
    double const to = std::min(upper, model.highest_c);
    double const above = seconds_at_or_above(step, model.highest_c) * rate(model, model.highest_c);
    if (upper == lower) return lower < model.lowest_c - rounding_k ? 0 : rate(model, to) * step.length();
    if (to <= from) return above;
    return along_line(model, from, to, step.length() * (to - from) / (upper - lower)) + above;
}

double lethal_seconds_trapezoid(LogLinear const& model, Step const& step) {
    return step.gap ? 0 : (rate(model, step.c0) + rate(model, step.c1)) / 2 * step.length();
}

void Lethality::add(Step const& step) {
    if (!was_lethal_) {
        come_up_s_ += seconds_between(step, come_up_low_c, come_up_high_c);
        come_up_possible_s_ += possible_seconds_between(step, come_up_low_c, come_up_high_c);
    }
    if (step.gap) return;
    if (food_->model != LethalityModel::none) lethal_s_ += lethal_seconds(food_->log_linear, step);
    count_bins(step);
    if (auto const log = credited_log10(); log && *log >= food_->target_log10) was_lethal_ = true;
}

void Lethality::count_bins(Step const& step) {
    double const lower = to_fahrenheit(std::min(step.c0, step.c1)) + rounding_k;
    double const upper = to_fahrenheit(std::max(step.c0, step.c1)) + rounding_k;
    if (upper < first_f) return;
    if (auto const instant = asked_at(std::min(static_cast<int>(upper), last_f));
        instant && instant->printed == 0)
        touched_instant_ = true;
    auto const bin_of = [](double f) {
        return static_cast<std::size_t>(std::clamp(static_cast<int>(std::floor(f)), first_f, last_f) -
                                        first_f);
    };
    if (upper == lower) {
        seconds_at_[bin_of(lower)] += step.length();
        return;
    }
    double const per_degree = step.length() / (upper - lower);
    for (auto bin = bin_of(lower); bin <= bin_of(upper); ++bin) {
        double const f = first_f + static_cast<double>(bin);
        double const top = bin + 1 == seconds_at_.size() ? upper : std::min(upper, f + 1);
        seconds_at_[bin] += std::max(0.0, top - std::max(lower, f)) * per_degree;
    }
}

std::optional<Dwell> Lethality::printed(int fahrenheit, double log10) const {
    switch (food_->model) {
        case LethalityModel::fsis_meat:
            return fsis_meat(std::min(fahrenheit, meat_last_f), log10);
        case LethalityModel::fsis_poultry:
            return log10 == poultry_log10 ? fsis_any_poultry(fahrenheit) : std::nullopt;
        case LethalityModel::log_linear:
        case LethalityModel::none:
            break;
    }
    return std::nullopt;
}

std::optional<Dwell> Lethality::asked_at(int fahrenheit) const {
    return printed(fahrenheit, food_->target_log10);
}

double Lethality::table_log10() const {
    double sum = 0, slowest = 0;
    for (int f = first_f; f <= last_f; ++f) {
        auto const asked = asked_at(f);
        if (!asked) continue;
        // Rows printed as 0 s give no rate: their time counts as if at the last row that has one.
        if (asked->printed > 0) slowest = asked->seconds();
        sum += seconds_at_[static_cast<std::size_t>(f - first_f)] / slowest;
    }
    return sum * food_->target_log10;
}

std::optional<double> Lethality::computed_log10() const {
    double log10 = 0;
    switch (food_->model) {
        case LethalityModel::none:
            return std::nullopt;
        case LethalityModel::fsis_poultry:
            log10 = table_log10();
            break;
        case LethalityModel::fsis_meat:
        case LethalityModel::log_linear:
            log10 = lethal_s_ / food_->log_linear.d_ref_s;
            break;
    }
    return touched_instant_ ? std::max(log10, food_->target_log10) : log10;
}

bool Lethality::within_conditions() const {
    return come_up_possible_s_ <= come_up_most_s;
}

std::optional<double> Lethality::credited_log10() const {
    if (food_->model == LethalityModel::none) return std::nullopt;
    if (!within_conditions()) return 0.0;
    if (food_->model == LethalityModel::log_linear) return computed_log10();
    double found = 0;
    for (double const column : printed_columns)
        if (row_fulfilled(column)) found = column;
    return found;
}

double Lethality::seconds_at_or_above(int fahrenheit) const {
    double sum = 0;
    for (int f = std::max(fahrenheit, first_f); f <= last_f; ++f)
        sum += seconds_at_[static_cast<std::size_t>(f - first_f)];
    return sum;
}

std::optional<Lethality::Row> Lethality::row_fulfilled() const {
    return row_fulfilled(food_->target_log10);
}

std::optional<Lethality::Row> Lethality::row_fulfilled(double log10) const {
    std::optional<Row> found;
    for (int f = first_f; f <= last_f; ++f) {
        auto const asked = printed(f, log10);
        if (!asked) continue;
        double const measured = seconds_at_or_above(f);
        if (asked->printed == 0) return touched_instant_ ? Row{f, *asked, measured} : found;
        if (measured > 0 && measured + rounding_k >= asked->seconds()) found = Row{f, *asked, measured};
    }
    return found;
}

void Lethality::fields(FieldVisitor& visit) {
    visit.number(lethal_s_);
    for (double& seconds : seconds_at_) visit.number(seconds);
    visit.number(come_up_s_);
    visit.number(come_up_possible_s_);
    visit.flag(was_lethal_);
    visit.flag(touched_instant_);
}

}  // namespace ingle
