#include "daemon/forecast/core_forecast.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "daemon/forecast/calibration.hpp"
#include "daemon/forecast/simple_rules.hpp"

namespace ingle {
namespace {

constexpr std::size_t first_points = 9;
constexpr double least_followed_s = 120, improve_every_s = 60, improve_every_share = 0.015;
constexpr double body_steps = 128;  // of one body, that an update may cost per sweep
// Below this a core that stands still is too long in the danger zone (USDA: 40 to 140 degF), whatever the
// cause.
constexpr double stalls_from_c = 60;
constexpr double moved_start_sd_k = 8;
constexpr double rough_until = 0.35;        // of the way
constexpr double least_slope = 0.02 / 60;   // K/s: below it nothing moves
constexpr double hopeless_s = 12 * 3600.0;  // at the rate of the last quarter

}  // namespace

void CoreForecast::begin(DishEntries const& entries) {
    *this = {};
    entries_ = entries;
}

void CoreForecast::add(Instant at, double core, std::optional<double> medium) {
    if (empty_) {
        first_ = at;
        start_c_ = core;
        empty_ = false;
    }
    newest_ = at;
    // The first reading at the new place: a core farther from the medium than what was read at the start.
    bool const first_here = start_sd_k_ > 1 && history_.cores() == 0;
    if (first_here && medium && std::abs(core - *medium) > std::abs(start_c_ - *medium)) start_c_ = core;
    if (history_.add(seconds(at - first_), core, medium) && bank_) bank_->follow(history_);
}

void CoreForecast::update_bank() {
    if (!history_.has_medium()) return;
    double const end = history_.end_s();
    if (!bank_) {
        bank_.emplace(entries_, history_, start_c_, start_sd_k_);
        bank_->settle(history_);
    } else if (end - improved_s_ >= std::max(improve_every_s, improve_every_share * end)) {
        auto const points = static_cast<double>(std::max<std::size_t>(history_.size(), 1));
        bank_->improve(history_, std::clamp(static_cast<int>(body_steps / points), 1, 4));
    } else {
        return;
    }
    improved_s_ = end;
}

void CoreForecast::moved() {
    if (empty_) return;
    history_.forget_core();
    start_sd_k_ = moved_start_sd_k;
    bank_.reset();
}

double CoreForecast::share_done(double target) const {
    double const way = target - start_c_;
    return std::abs(way) < 0.1 ? 1 : (history_.newest_core() - start_c_) / way;
}

CoreForecast::Answer CoreForecast::to(double target, bool heating, Instant now) {
    Answer answer;
    auto const none = [&](std::string why) {
        answer.why = std::move(why);
        return answer;
    };
    if (empty_) return none("no reading of the core counts yet: its tip was not seen at rest in the food");
    double const sign = heating ? 1 : -1;
    if (sign * (history_.newest_core() - target) >= 0) {
        answer.eta_s = answer.low_s = answer.high_s = answer.low_half_s = answer.high_half_s = 0;
        answer.why = "the core is there";
        return answer;
    }
    double const quiet = std::max(3 * history_.spacing_s(), 120.0);
    if (seconds(now - newest_) > quiet)
        return none("the newest readings of the core do not count: the tip may have been moved");
    double const followed = seconds(now - first_);
    if (followed < least_followed_s || history_.cores() < first_points)
        return none("too early: the core has been followed for less than 2 min");
    double const late = followed - history_.end_s();
    if (!history_.has_medium()) return without_medium(target, heating, late);
    update_bank();
    auto const medium = medium_lately(history_);
    auto const level = medium_level(history_, entries_.surroundings, !heating);
    // Within its own swing of the target it may be short of it on the whole.
    if (sign * (medium.mean - target) <= medium.sd || sign * (level.mean - target) <= level.within)
        return short_of_target(target, heating, medium, level);
    auto const line = fit_line(history_, 0.75 * history_.end_s(), history_.end_s());
    if (line.count > 2 && sign * line.slope < -std::max(2 * line.slope_error, least_slope))
        return none("the core is moving away from its target");
    answer = from_bank(target, heating, medium, late);
    judge_standstill(target, heating, answer);
    return answer;
}

CoreForecast::Answer CoreForecast::without_medium(double target, bool heating, double late_s) const {
    Answer answer;
    auto const line = straight_line(history_, target, heating);
    if (!line) {
        answer.why = "the core hardly moves, and what is around it is not measured";
        return answer;
    }
    double const eta = std::max(0.0, *line - late_s), total = history_.end_s() + eta;
    answer.eta_s = eta;
    answer.low_s = std::max(0.0, eta - 0.3 * total);
    answer.high_s = 2 * eta + 0.3 * total;
    answer.low_half_s = std::max(0.0, eta - 0.1 * total);
    answer.high_half_s = eta + 0.2 * total;
    answer.why = "straight-line estimate: what is around it is not measured";
    return answer;
}

// Short of the target on the whole, as surely as that can be known, now too, and not on its way to it.
CoreForecast::Answer CoreForecast::short_of_target(double target, bool heating, MediumLately const& medium,
                                                   MediumLevel const& level) const {
    Answer answer;
    double const sign = heating ? 1 : -1;
    double const above = sign * (level.mean - target);
    bool const nears = sign * (medium.expected - target) > 0 || above + 2 * sign * level.rise > 0 ||
                       sign * (medium.mean - medium.earlier) > std::max(medium.sd, 1.0);
    answer.unreachable = above < -level.within && level.certain() && sign * (medium.mean - target) < 0 &&
                         sign * (level.best - target) < 0 && !nears &&
                         !comes_by_itself(target, heating, level);
    if (answer.unreachable) answer.levels_c = level.mean;
    if (answer.unreachable)
        answer.why = heating ? "at this heat the core will not reach its target"
                             : "at this cold the core will not come down to its target";
    else if (above < 0 && nears)
        answer.why = heating ? "the heat is still changing: too early to say"
                             : "the cold around it is still changing: too early to say";
    else
        answer.why = heating ? "at this heat the core may not reach its target"
                             : "at this cold the core may not come down to its target";
    return answer;
}

// The heat that is already in it (the cold, where it cools) will do.
bool CoreForecast::comes_by_itself(double target, bool heating, MediumLevel const& level) const {
    double soon = 0;
    for (auto const& one : bank_->arrivals(history_, target, heating, {.mean_c = level.mean}).sorted)
        if (one.after_s < level.judged_s) soon += one.weight;
    return soon > 0.5;
}

// A core that stands still well on its way: in air the surface dries, and that passes; in liquid and in the
// cold nothing holds it up that would pass by itself.
void CoreForecast::judge_standstill(double target, bool heating, Answer& answer) const {
    double const sign = heating ? 1 : -1, end = history_.end_s();
    auto const line = fit_line(history_, 0.75 * end, end);
    double const least = std::max(2 * line.slope_error, least_slope);
    if (line.count < 3 || share_done(target) <= 0.3 || sign * line.slope >= least) return;
    if (heating && entries_.surroundings != Surroundings::liquid) {
        answer.stalled = line.level >= stalls_from_c;
        if (answer.eta_s)
            answer.why = "the core stands still while its surface dries, for how long is not known";
        return;
    }
    double const at_this_rate = std::abs(target - line.level) / std::max(sign * line.slope, 1e-9);
    if (at_this_rate < hopeless_s) return;
    answer = {};
    answer.unreachable = true;
    answer.levels_c = line.level;
    answer.why = "the core stands still short of its target; more heat or time is needed";
}

CoreForecast::Answer CoreForecast::from_bank(double target, bool heating, MediumLately const& medium,
                                             double late_s) const {
    Answer answer;
    auto const arrivals = bank_->arrivals(history_, target, heating, medium.ahead());
    if (arrivals.never > 0.5) {
        answer.why = "the core hardly moves";
        return answer;
    }
    std::array<double, 5> q{};
    constexpr double at[] = {0.1, 0.25, 0.5, 0.75, 0.9};
    for (std::size_t i = 0; i < q.size(); ++i) q[i] = arrivals.quantile(at[i]);
    double const way = std::abs(target - start_c_);
    double const r = bank_->misfit_k(history_) / std::max(way, 1.0);
    double const elapsed = history_.end_s();
    double shift = 0;
    if (share_done(target) > 0.35) {
        if (auto const simple = mean_rule(history_, target, heating, medium.mean, 0.4)) {
            double const lambda = 1 / (1 + std::pow(r / 0.009, 4));
            shift = (1 - lambda) * (std::clamp(*simple, q[2] / 4, q[2] * 4) - q[2]);
        }
    }
    double const remaining = q[2] + shift;
    // What was read before a probe was moved, and in a gap, told nothing.
    double const followed = history_.spacing_s() * static_cast<double>(history_.cores());
    auto const reading = reading_of_bank(heating, entries_.surroundings, followed / (elapsed + remaining));
    // A dish that does not behave like the bodies is less certain than those that the reading was fitted to.
    double const usual = std::hypot(30.0, 0.02 * remaining);
    double const misfit = std::hypot(60 * std::max(0.0, r - 0.006) * remaining, shift);
    double const early = std::hypot(q[2] - q[0], usual), late = std::hypot(q[4] - q[2], usual);
    double const side = reading[2] > 0 ? late : early;
    double const median = remaining + reading[2] * side / (1 + misfit * misfit / (side * side)) - late_s;
    std::array<double, 5> told{};
    for (std::size_t i = 0; i < told.size(); ++i) {
        double const half = std::hypot(i > 2 ? late : early, misfit);
        told[i] = std::max(0.0, median + (reading[i] - reading[2]) * half);
    }
    answer.low_s = told[0], answer.low_half_s = told[1], answer.eta_s = told[2];
    answer.high_half_s = told[3], answer.high_s = told[4];
    answer.why = share_done(target) < rough_until ? "rough: the readings do not tell much yet"
                                                  : "from conduction in the measured medium";
    return answer;
}

}  // namespace ingle
