// What each vessel is held at, whether it is still on its way there, and the watches over it.
#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/conditioning/turned.hpp"
#include "daemon/food/boiling.hpp"
#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr Span tell_every = std::chrono::minutes(1);  // how often the same forecast is told

// When a band counts as reached. Air comes and goes while the walls are still cold; a liquid does not.
struct Reached {
    double well_inside;  // of the band's width; a little more than the deadband at least
    Span well_for, inside_for;
};
constexpr Span was_inside_for = std::chrono::seconds(30);
Reached reached(VesselKind kind) {
    using std::chrono::minutes;
    using std::chrono::seconds;
    bool const liquid = holds_liquid(kind);
    return liquid ? Reached{0.12, seconds(0), minutes(3)} : Reached{0.25, minutes(3), minutes(10)};
}

double width_of(Band const& band) {
    return (band.high - band.low).kelvin;
}
// K; 0 inside, without a band and without a reading.
double outside(std::optional<Band> const& band, Signal const* medium) {
    if (!band || !medium || !medium->fresh) return 0;
    return std::max({0.0, medium->level - band->high.celsius, band->low.celsius - medium->level});
}

}  // namespace

// Whatever a watch foretells: not while the newest readings go the other way, or the probe is on its way.
bool contradicted(Forecast const& forecast, Signal const* medium) {
    if (forecast.direction == 0 || !medium) return false;
    return !medium->settled || has_turned(*medium, forecast.direction);
}

// In both bands, or beyond both on one side: moving an end by a little sends nothing on its way.
bool Kitchen::Impl::as_far_as_before(int number, Band const& before, Band const& now_asked) const {
    int const medium = settings.vessels[static_cast<std::size_t>(number)].medium;
    if (medium < 0) return false;
    auto const& signal = signals[static_cast<std::size_t>(medium)];
    if (!signal.fresh) return false;
    auto const side = [&](Band const& band) {
        return signal.level < band.low.celsius ? -1 : signal.level > band.high.celsius ? 1 : 0;
    };
    return side(before) == side(now_asked);
}

// The newest word counts: stages that begin, or a person who says `hold`. When a stage ends, what was there
// before it comes back, as long as a dish needs the vessel.
void Kitchen::Impl::settle_band(int number) {
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    auto band = settings.vessels[static_cast<std::size_t>(number)].band;
    if (vessel.held && (vessel.person_is_newer || vessel.stages.empty()))
        band = *vessel.held;
    else if (!vessel.stages.empty())
        band = band_of_stages(vessel.stages);
    if (vessel.emptied) band.reset();
    if (band == vessel.band) return;
    bool const had_reached = vessel.phase == BandPhase::held;
    bool const stays = had_reached && band && as_far_as_before(number, *vessel.band, *band);
    vessel.left_band = had_reached ? vessel.band : std::nullopt;
    vessel.band = band;
    if (stays) return void(memory_dirty = true);
    vessel.phase = band ? BandPhase::warming_up : BandPhase::none;
    vessel.band_since = now;
    vessel.side = 0;
    vessel.inside_since.reset();
    vessel.well_since.reset();
    memory_dirty = true;
}

void Kitchen::Impl::settle_boiling(int number) {
    auto const pressure = measured_pressure ? measured_pressure : settings.pressure;
    auto const salt = settings.vessels[static_cast<std::size_t>(number)].salt;
    auto const boiling =
        pressure ? boiling_point(*pressure, salt) : boiling_point(settings.altitude.value_or(Length{}), salt);
    // Outside of every kitchen's range the loader has complained; sea level is then as good as anything.
    vessels[static_cast<std::size_t>(number)].boiling_c = boiling ? boiling->celsius : 100.0;
}

// A band counts as reached once the medium is well inside, or stays just inside, or has jumped across. At its
// very rim it would be armed by one trembling sample and be an alarm with the next.
void Kitchen::Impl::step_phase(int number) {
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    int const medium = settings.vessels[static_cast<std::size_t>(number)].medium;
    if (vessel.phase != BandPhase::warming_up || medium < 0) return;
    auto const& signal = signals[static_cast<std::size_t>(medium)];
    if (!signal.fresh || signal.doubtful) return;
    double const low = vessel.band->low.celsius, high = vessel.band->high.celsius;
    auto const rule = reached(settings.vessels[static_cast<std::size_t>(number)].kind);
    double const rim = rule.well_inside * (high - low);
    int const side = signal.level < low ? -1 : signal.level > high ? 1 : 0;
    bool const well = signal.level >= low + rim && signal.level <= high - rim;
    if (side != 0)
        vessel.inside_since.reset();
    else if (!vessel.inside_since)
        vessel.inside_since = now;
    if (!well)
        vessel.well_since.reset();
    else if (!vessel.well_since)
        vessel.well_since = now;
    // What is cold and was in its band from the first reading on need not come there.
    bool const was_there = is_cold(settings.vessels[static_cast<std::size_t>(number)].kind) &&
                           vessel.side == 0 && vessel.inside_since &&
                           now - *vessel.inside_since >= was_inside_for;
    bool const there = was_there || (vessel.well_since && now - *vessel.well_since >= rule.well_for) ||
                       (vessel.inside_since && now - *vessel.inside_since >= rule.inside_for);
    if (there || (side != 0 && side == -vessel.side)) {
        vessel.phase = BandPhase::held;
        vessel.inside_since.reset();
        vessel.well_since.reset();
        memory_dirty = true;
    }
    if (side != 0) vessel.side = side;
}

// Answers with what was left of it. A timer that has rung rings on.
std::optional<Span> Kitchen::Impl::end_time_of_hold(VesselState& vessel) {
    auto left = std::exchange(vessel.hold_for, {});
    auto const number = std::exchange(vessel.hold_timer, 0);
    auto const timer = std::ranges::find(timers.all(), number, &TimerView::number);
    if (number == 0 || timer == timers.all().end() || timer->over) return left;
    left = timer->ends - now;
    timers.stop(number);
    return left;
}

std::string held_as_asked(std::string const& vessel) {
    return vessel + " was held as you asked";
}

// How long a person wants it held counts from the moment that the band is reached, and only while that is its
// band.
void Kitchen::Impl::time_hold(int number, Effects& out) {
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    auto const& name = settings.vessels[static_cast<std::size_t>(number)].name;
    if (!vessel.held || vessel.band != *vessel.held) {
        if (auto const left = end_time_of_hold(vessel)) {
            tell("note", {SubjectKind::vessel, number},
                 name + " is not held as you asked any more: the time that it was to be held, " +
                     Words::in(*left) + " more, is not counted. `ingle hold " + name +
                     "` with a band and --for begins anew.",
                 out);
            memory_dirty = true;
        }
        return;
    }
    if (!vessel.hold_for || vessel.phase != BandPhase::held) return;
    auto const length = *std::exchange(vessel.hold_for, {});
    auto const refusal = timers.start(now, length, held_as_asked(name), vessel.hold_timer);
    tell("note", {SubjectKind::vessel, number},
         refusal.empty() ? name + " is in its band: its " + Words::in(length) + " run from now."
                         : name + " is in its band, and no timer runs: " + refusal + ".",
         out);
    memory_dirty = true;
}

void Kitchen::Impl::tell_forecast(VesselState& vessel, Forecast forecast, Effects& out) {
    auto known = std::find_if(vessel.forecasts.begin(), vessel.forecasts.end(),
                              [&](auto const& f) { return f.forecast.what == forecast.what; });
    if (known == vessel.forecasts.end()) {
        vessel.forecasts.push_back({forecast, now});
        out.push_back(std::move(forecast));
        return;
    }
    known->forecast = forecast;
    if (now - known->told_at < tell_every) return;
    known->told_at = now;
    out.push_back(std::move(forecast));
}

std::string Kitchen::Impl::inside(int vessel) const {
    std::string sentences;
    for (std::size_t d = 0; d < dishes.size(); ++d) {
        auto const& dish = dishes[d];
        if (!dish.cook.begun() || dish.cook.vessel() != vessel) continue;
        // What counts as its core: a tip may be in the air, or in the vessel beside it.
        if (auto const core = dish.cook.core())
            sentences +=
                " Inside, " + settings.dishes[d].name + " is at " + Words(settings.units).at(*core) + ".";
    }
    return sentences;
}

void Kitchen::Impl::step_vessels(Effects& out) {
    for (std::size_t v = 0; v < vessels.size(); ++v) {
        auto& state = vessels[v];
        auto const& vessel = settings.vessels[v];
        int const number = static_cast<int>(v);
        step_phase(number);
        time_hold(number, out);

        VesselSituation situation;
        situation.now = now;
        situation.vessel = &vessel;
        situation.number = number;
        if (vessel.medium >= 0) situation.medium = &signals[static_cast<std::size_t>(vessel.medium)];
        situation.signals = signals;
        situation.band = state.band;
        situation.phase = state.phase;
        situation.band_since = state.band_since;
        situation.boiling_c = state.boiling_c;
        situation.boils_at = state.boils_at;
        if (room_probe >= 0 && room_probe != vessel.medium) {
            auto const& room = signals[static_cast<std::size_t>(room_probe)];
            if (room.fresh) situation.room_c = room.level;
        }
        situation.door_switch_open = state.door_switch_open;
        situation.dish_inside = is_needed(number);

        situation.band_silenced = state.band_silenced;
        situation.doors = state.doors;
        situation.recovery_s = state.recovery_s;
        state.advice.clear();
        state.seems_open = false;
        state.boils_at.reset();
        state.stepped = now;
        std::erase_if(state.forecasts, [&](auto const& f) { return now - f.forecast.at > 2 * tell_every; });
        auto const first = judged.size();
        std::string_view silenced_by;
        for (auto& running : state.watches) {
            watched.findings.clear();
            watched.events.clear();
            watched.forecasts.clear();
            watched.advice.clear();
            watched.response.reset();
            watched.boils_at.reset();
            watched.door_recovery_s.reset();
            watched.silence_band = {};
            watched.seems_open = false;
            running.watch->step(situation, watched);
            for (auto& finding : watched.findings) {
                if (finding.type->tells_inside && finding.truth == Truth::present)
                    finding.text += inside(number);
                judge({SubjectKind::vessel, number}, std::move(finding), state.probes);
            }
            for (auto& event : watched.events) out.push_back(std::move(event));
            if (watched.door_recovery_s) {
                state.recovery_s = *watched.door_recovery_s;
                ++state.doors;
            }
            if (watched.boils_at) state.boils_at = watched.boils_at;
            if (watched.response) state.response = *watched.response;
            for (auto& forecast : watched.forecasts)
                if (!contradicted(forecast, situation.medium)) tell_forecast(state, std::move(forecast), out);
            if (state.advice.empty()) state.advice = watched.advice;
            if (silenced_by.empty()) silenced_by = watched.silence_band;
            state.seems_open = state.seems_open || watched.seems_open;
        }
        state.band_silenced = state.silence.step(!silenced_by.empty(), outside(state.band, situation.medium),
                                                 state.band ? width_of(*state.band) : 0);
        if (state.band_silenced) {
            for (auto i = first; i < judged.size(); ++i) {
                auto const name = judged[i].finding.type->name;
                if (name == "above-band" || name == "below-band" || name == "leaving-band") {
                    judged[i].muted_by = silenced_by;
                }
            }
        }

        auto& sum = state.summary;
        if (!situation.medium || !situation.medium->fresh) {
            sum.no_data_s += 1;
            continue;
        }
        double const c = situation.medium->celsius;
        if (!state.band)
            sum.unbanded_s += 1;
        else if (c < state.band->low.celsius)
            sum.below_s += 1;
        else if (c > state.band->high.celsius)
            sum.above_s += 1;
        else
            sum.in_s += 1;
        sum.min_c = std::min(c, sum.min_c.value_or(c));
        sum.max_c = std::max(c, sum.max_c.value_or(c));
        state.sum_c += c;
        state.count += 1;
    }
}

}  // namespace ingle
