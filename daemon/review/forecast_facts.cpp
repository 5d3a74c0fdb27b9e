// What was foretold, beside what came.
#include <algorithm>
#include <cmath>

#include "daemon/review/at.hpp"
#include "daemon/review/facts.hpp"

namespace ingle {
namespace {

constexpr double horizon_s = 1800;  // an early word is for about this long
constexpr double said_with = 0.8;   // the watches speak from this chance on
constexpr double worth_a_warning_k = 0.5;
constexpr double agreement_s = 30;  // a pinched cable shows the target for a moment

std::optional<double> leaves(std::vector<BandFacts> const& bands, std::string const& vessel, double from) {
    for (auto const& band : bands) {
        if (band.vessel != vessel || from < band.from || from > band.to) continue;
        for (auto const& excursion : band.excursions) {
            // The readings crossed the limit while the word was on its way: it came, with no time to spare.
            if (excursion.from < from && from < excursion.to) return 0;
            if (excursion.from >= from && excursion.from - from <= horizon_s) return excursion.from - from;
        }
    }
    return std::nullopt;
}

std::optional<double> boils(CookRecord const& record, std::string const& vessel, double from) {
    for (auto const& step : record.alarms)
        if (step.name == "boiling" && step.subject == vessel && step.transition == "raised" &&
            step.t >= from && step.t - from <= horizon_s)
            return step.t - from;
    return std::nullopt;
}

struct Arrival {
    bool seen = false;  // else it came in a gap, or was there when it was first read
    double t = 0;
};

// When a core on its way up passed the target, if it then stayed there for half a minute.
std::optional<Arrival> arrival(CookSeries const& core, double target_c, double from, double to) {
    double const target = target_c - rounding_k;
    std::optional<Arrival> came;
    double since = 0;
    CookSample const* before = nullptr;
    for (auto const& sample : core.samples) {
        if (sample.t > to) break;
        if (sample.celsius < target) {
            came.reset();
        } else if (!came && !(before && before->celsius >= target)) {
            since = sample.t;
            came = Arrival{before && !sample.after_move && sample.t - before->t <= core.longest_step_s(),
                           sample.t};
            if (came->seen)
                came->t = before->t + (sample.t - before->t) * (target - before->celsius) /
                                          (sample.celsius - before->celsius);
        }
        before = &sample;
        bool const stays = sample.t - since >= agreement_s || core.every_s > agreement_s;
        if (came && came->t >= from && stays) return came;
    }
    return std::nullopt;
}

// Of the last of the cores.
std::optional<Arrival> arrival(std::vector<CookSeries> const& cores, double target_c, double from,
                               double to) {
    std::optional<Arrival> last;
    for (auto const& core : cores) {
        auto const one = arrival(core, target_c, from, to);
        if (!one) return std::nullopt;
        if (!last)
            last = one;
        else
            last = Arrival{last->seen && one->seen, std::max(last->t, one->t)};
    }
    return last;
}

struct Way {
    WayToTarget to_target;
    bool seen = true;
};

// The stage's target; the class's, which no stage names, where it was told that the core is there.
std::optional<Way> first_way(CookRecord const& record, std::vector<CookSeries> const& cores,
                             std::optional<double> class_target_c) {
    for (auto const& stage : record.stages) {
        if (!stage.until_core_c) continue;
        if (auto const at = arrival(cores, *stage.until_core_c, stage.began, record.length_s))
            return Way{{stage.began, at->t, record.outlooks}, at->seen};
    }
    std::vector<double> stages;
    for (auto const& stage : record.stages) stages.push_back(stage.began);
    auto ways = ways_to_target(record.outlooks, stages);
    if (ways.empty()) return std::nullopt;
    Way way{std::move(ways.front()), true};
    if (!class_target_c) return way;
    auto const at = arrival(cores, *class_target_c, way.to_target.began_s, record.length_s);
    if (!at) return std::nullopt;
    way.to_target.reached_s = at->t;
    way.seen = at->seen;
    return way;
}

void score_core(CookRecord const& record, std::vector<CookSeries> const& cores,
                std::optional<double> class_target_c, ForecastFacts& facts) {
    auto const found = first_way(record, cores, class_target_c);
    if (!found) return;
    facts.core_came_unseen = !found->seen;
    if (!found->seen) return;
    auto const* way = &found->to_target;
    facts.core_reached_s = way->reached_s;
    for (auto const& outlook : way->outlooks) {
        double const lead = way->reached_s - outlook.t;
        if (!outlook.eta_s || lead <= 0 || outlook.t < way->began_s) continue;
        facts.core.push_back({lead, *outlook.eta_s - lead, outlook.low_s, outlook.high_s});
        facts.confidence = outlook.confidence;
    }
    facts.scored = score_outlooks(way->outlooks, way->began_s, way->reached_s);
}

}  // namespace

std::vector<ScoredForecast> score_outlooks(std::vector<CoreOutlook> const& outlooks, double began_s,
                                           double reached_s) {
    constexpr double shares[] = {0.3, 0.5, 0.7, 0.85}, oldest = 0.05;
    std::vector<ScoredForecast> all;
    double const whole = reached_s - began_s;
    for (double const share : shares) {
        double const at = began_s + share * whole;
        CoreOutlook const* newest = nullptr;
        for (auto const& outlook : outlooks)
            if (outlook.t <= at && outlook.t >= at - oldest * whole) newest = &outlook;
        if (!newest || !newest->eta_s) continue;
        all.push_back({share, *newest->eta_s, reached_s - newest->t, whole, newest->low_s, newest->high_s});
    }
    return all;
}

std::vector<WayToTarget> ways_to_target(std::vector<CoreOutlook> const& told,
                                        std::vector<double> const& stages) {
    std::vector<WayToTarget> ways;
    WayToTarget way;
    for (auto const& outlook : told) {
        if (way.outlooks.empty()) way.began_s = outlook.t;
        way.outlooks.push_back(outlook);
        if (!outlook.eta_s || *outlook.eta_s > 0) continue;
        way.reached_s = outlook.t - agreement_s;
        for (double const began : stages)
            if (began < way.reached_s) way.began_s = std::max(way.began_s, began);
        ways.push_back(std::move(way));
        way = {};
    }
    return ways;
}

HeldIntervals held_of(std::vector<ScoredForecast> const& scored) {
    HeldIntervals all;
    for (auto const& one : scored) {
        auto const held = one.held();
        all.intervals += held.has_value(), all.held += held.value_or(false);
    }
    return all;
}

ForecastFacts forecast_facts(CookRecord const& record, std::vector<BandFacts> const& bands,
                             std::vector<CookSeries> const& cores, std::optional<double> class_target_c) {
    ForecastFacts facts;
    double squares = 0;
    for (auto const& step : record.alarms) {
        bool const leaving = step.name == "leaving-band", boiling = step.name == "boil-over-risk";
        if (step.transition != "raised" || (!leaving && !boiling)) continue;
        WarningFacts warning{step.name, step.subject, step.t, std::nullopt};
        warning.lead_s = leaving ? leaves(bands, step.subject, step.t) : boils(record, step.subject, step.t);
        if (warning.lead_s) ++facts.came;
        squares += std::pow(said_with - (warning.lead_s ? 1 : 0), 2);
        facts.warnings.push_back(std::move(warning));
    }
    if (!facts.warnings.empty()) facts.brier = squares / static_cast<double>(facts.warnings.size());
    for (auto const& band : bands) {
        for (auto const& excursion : band.excursions) {
            if (excursion.depth_k < worth_a_warning_k) continue;
            bool const warned = std::ranges::any_of(facts.warnings, [&](WarningFacts const& warning) {
                return warning.subject == band.vessel && warning.at < excursion.to &&
                       excursion.from - warning.at <= horizon_s;
            });
            if (!warned) ++facts.unwarned;
        }
    }
    score_core(record, cores, class_target_c, facts);
    return facts;
}

}  // namespace ingle
