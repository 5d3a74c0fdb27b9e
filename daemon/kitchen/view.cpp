// The present as the CLI, the page and the metrics show it, and what a run came to.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

Quality quality_of(Signal const& signal) {
    if (!signal.fresh) return Quality::faulty;
    return signal.doubtful || signal.fault_rate > too_many_lost ? Quality::doubtful : Quality::good;
}

bool comes_back(Band const& band, Signal const& medium) {
    if (medium.celsius < band.low.celsius) return medium.slope > 0 || medium.bounds.rate_low > 0;
    if (medium.celsius > band.high.celsius) return medium.slope < 0 || medium.bounds.rate_high < 0;
    return false;
}

constexpr double steady_k_per_min = 0.05;

std::string phase_word(VesselState const& state, Signal const* medium) {
    if (!medium || !medium->fresh) return "no reading";
    if (state.door_switch_open.value_or(false)) return "door open";
    bool const known_shut = state.door_switch_open.has_value();
    if (!known_shut && state.band_silenced && state.seems_open) return "door open?";
    if (medium->doubtful) return "readings doubtful";
    if (!state.band) return "no band";
    if (state.band_silenced && comes_back(*state.band, *medium)) return "coming back";
    if (state.phase == BandPhase::warming_up) {
        // On its way, where that was read; or there, and not yet for as long as it takes to call it held.
        double const k_per_min = medium->settled ? medium->slope * 60 : 0;
        if (medium->celsius < state.band->low.celsius)
            return medium->bounds.rate_high < 0    ? "below band"
                   : k_per_min >= steady_k_per_min ? "warming up"
                                                   : "not there yet";
        if (medium->celsius > state.band->high.celsius)
            return medium->bounds.rate_low > 0      ? "above band"
                   : k_per_min <= -steady_k_per_min ? "cooling down"
                                                    : "not there yet";
        return "in band, settling";
    }
    if (medium->celsius < state.band->low.celsius) return "below band";
    if (medium->celsius > state.band->high.celsius) return "above band";
    return "in band";
}

// Of those that the newest second confirmed and no reading since has contradicted, the one that is nearest.
std::optional<Forecast> present_forecast(VesselState const& state, Signal const* medium) {
    std::optional<Forecast> nearest;
    for (auto const& told : state.forecasts) {
        if (told.forecast.at != state.stepped || contradicted(told.forecast, medium)) continue;
        auto const eta = told.forecast.eta_s;
        if (!nearest || (eta && (!nearest->eta_s || *eta < *nearest->eta_s))) nearest = told.forecast;
    }
    return nearest;
}

// Since the second that the watches judged the probe was seen to step: what they said then is of another
// value.
bool has_jumped(Signal const& judged, Signal const& newest) {
    return judged.jumps != newest.jumps;
}

void drop_what_was_said(std::vector<Alarm>& alarms, int vessel) {
    for (Alarm& alarm : alarms) {
        bool const of_it = alarm.subject == Subject{SubjectKind::vessel, vessel} && alarm.active;
        if (!of_it || alarm.type->judges_food || alarm.state == AlarmState::suppressed_by_design) continue;
        alarm.action = Action::none;
        alarm.text = "Its reading has just jumped: it is being checked anew.";
    }
}

// While no core of the dish is read, nothing is foretold of it: not what was foretold of an earlier reading.
std::optional<Forecast> as_read(std::optional<Forecast> forecast, bool read) {
    if (!forecast || read) return forecast;
    forecast->eta_s = forecast->low_s = forecast->high_s = std::nullopt;
    forecast->low_half_s = forecast->high_half_s = std::nullopt;
    forecast->why = "no fresh reading of the core";
    return forecast;
}

}  // namespace

std::vector<DishView> Kitchen::Impl::dish_views() const {
    std::vector<DishView> views;
    for (std::size_t n = 0; n < dishes.size(); ++n) {
        auto const& state = dishes[n];
        auto const& dish = settings.dishes[n];
        DishView v;
        v.number = static_cast<int>(n);
        v.name = dish.name;
        v.food = dish.food;
        v.vessel = state.cook.vessel();
        v.core = dish.core;
        v.begun = state.cook.begun();
        if (!without[n].empty()) v.last_order = without[n].back().given;
        v.cooked = !v.begun && dish.serve_at && ended_for[n] == dish.serve_at;
        if (v.begun) {
            if (int const in =
                    v.vessel < 0 ? -1 : settings.vessels[static_cast<std::size_t>(v.vessel)].medium;
                in >= 0) {
                auto const& medium = conditioners[static_cast<std::size_t>(in)].signal();
                if (medium.fresh) v.medium_c = medium.level;
            }
            v.core_reached = state.cook.core_reached();
            v.undone = state.cook.undone();
            v.cook = state.cook.number();
            v.began = state.cook.began_at();
            v.stage_began = state.cook.stage_began_at();
            v.stage = state.cook.stage_name();
            v.stage_number = state.cook.place();
            v.clock = state.cook.clock();
            v.counted_by = counted_by(v.number);
            v.core_c = state.cook.core();
            v.peak_c = state.cook.peak();
            v.target_c = state.cook.target();
            bool const read = std::ranges::any_of(state.probes, [&](int probe) {
                return conditioners[static_cast<std::size_t>(probe)].signal().fresh;
            });
            v.forecast = as_read(state.forecast ? state.forecast : state.cooling, read);
            if (state.ledger) v.verdicts = state.ledger->verdicts();
        }
        views.push_back(std::move(v));
    }
    return views;
}

View Kitchen::view() const {
    auto const& in = *impl_;
    View view;
    view.at = in.now;
    view.kitchen = in.settings.name;
    if (in.clock_certain) view.wall_offset_ms = in.wall_offset_ms;
    view.units = in.settings.units;
    for (std::size_t p = 0; p < in.conditioners.size(); ++p) {
        auto const& signal = in.conditioners[p].signal();
        auto const& probe = in.settings.probes[p];
        ProbeView v;
        v.number = static_cast<int>(p);
        v.name = probe.name;
        v.driver = probe.driver;
        if (signal.age) {
            v.celsius = signal.celsius;
            v.age = in.now - signal.sample_at;
        }
        v.fresh = signal.fresh;
        v.quality = quality_of(signal);
        v.fault = signal.fault;
        // Of the second that the watches judged: what their texts and forecasts say goes with it.
        auto const& judged = in.signals[p];
        if (signal.fresh && signal.settled && judged.fresh && judged.settled)
            v.slope_k_per_min = judged.slope * 60;
        if (signal.age) v.noise_k = signal.noise;
        v.cold_junction = signal.cold_junction;
        v.calibration = in.conditioners[p].calibration();
        view.probes.push_back(std::move(v));
    }
    view.alarms = in.desk.open();
    for (std::size_t n = 0; n < in.vessels.size(); ++n) {
        auto const& state = in.vessels[n];
        auto const& vessel = in.settings.vessels[n];
        VesselView v;
        v.number = static_cast<int>(n);
        v.name = vessel.name;
        v.kind = vessel.kind;
        v.probe = vessel.medium;
        v.band = state.band;
        auto const* medium =
            vessel.medium < 0 ? nullptr : &in.conditioners[static_cast<std::size_t>(vessel.medium)].signal();
        v.phase = phase_word(state, medium);
        v.forecast = present_forecast(state, medium);
        if (medium && has_jumped(in.signals[static_cast<std::size_t>(vessel.medium)], *medium))
            drop_what_was_said(view.alarms, v.number);
        else
            v.advice = state.advice;
        v.response = state.response;
        v.boiling_c = state.boils_at.value_or(state.boiling_c);
        view.vessels.push_back(std::move(v));
    }
    view.dishes = in.dish_views();
    view.timers = in.timers.all();
    view.reminders = in.reminders.view();
    return view;
}

RunSummary Kitchen::summary() const {
    RunSummary run;
    for (auto const& vessel : impl_->vessels) {
        run.vessels.push_back(vessel.summary);
        if (vessel.count > 0) run.vessels.back().mean_c = vessel.sum_c / vessel.count;
    }
    for (auto const& dish : impl_->dishes) {
        DishSummary sum;
        sum.begun = dish.ledger.has_value();
        if (sum.begun) {
            auto const food = dish.ledger->summary();
            sum.peak_core_c = food.peak_core_c;
            sum.lethality_log10 = food.lethality_log10;
            if (food.peak_core_c) {
                sum.danger_zone_s = food.danger_s;
                sum.danger_zone_possible_s = food.danger_possible_s;
            }
            sum.cooling = std::string(to_word(food.cooling));
            sum.verdicts = dish.ledger->verdicts();
        }
        run.dishes.push_back(std::move(sum));
    }
    return run;
}

}  // namespace ingle
