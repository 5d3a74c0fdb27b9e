// What stands between a probe's driver and everything that judges: calibration, plausibility, spikes, age,
// trend, noise. One per probe, owned by the kitchen. Pure: time and memory per reading do not grow.
#pragma once

#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/conditioning/cadence.hpp"
#include "daemon/conditioning/calibrate.hpp"
#include "daemon/conditioning/cusum.hpp"
#include "daemon/conditioning/cycle.hpp"
#include "daemon/conditioning/despike.hpp"
#include "daemon/conditioning/fault_rate.hpp"
#include "daemon/conditioning/job.hpp"
#include "daemon/conditioning/lately.hpp"
#include "daemon/conditioning/noise.hpp"
#include "daemon/conditioning/settling.hpp"
#include "daemon/conditioning/ticks.hpp"
#include "daemon/conditioning/trend.hpp"
#include "daemon/model/effects.hpp"
#include "daemon/model/memory.hpp"
#include "daemon/watches/watch.hpp"
#include "drivers/reading/reading.hpp"

namespace ingle {

// A value older than this is not judged by any more: three readings missed, and never less than 5 s.
Span stale_after(Span every);
// The same of a probe that was said to speak so often, and does otherwise: the rarer of the two counts.
Span stale_after(Span said, Span learnt);

// A probe that loses more of its readings than this in 5 min is shown as doubtful. The values that come
// through are watched all the same: a loose wire must not hide a pot that boils over.
constexpr double too_many_lost = 0.2;

class Conditioner {
public:
    Conditioner(Settings const& settings, int probe);
    Conditioner(int probe, ProbeSettings const& settings, ProbeJob job,
                TemperatureUnit units = TemperatureUnit::celsius);

    // Takes a reading that is not older than the one before it. Appends what became certain, in time order:
    // none (the sample looks like a spike and is held), one, or several (held ones are released or rejected).
    void take(Reading const& reading, Effects& out);
    // Lets time pass: ages the signal, gives up a held sample that nothing confirms.
    void advance(Instant now, Effects& out);

    Signal const& signal() const { return signal_; }  // as of the last call
    // Of the oldest reading that is held until another confirms it; empty: none is.
    std::optional<Instant> held_since() const {
        return held_count_ > 0 ? std::optional(held_[0].row.at) : std::nullopt;
    }
    // Somebody who sees all probes doubts this one: until told otherwise its values are marked.
    void doubt(bool doubted) { doubted_ = doubted; }

    // Until then nothing was asked of the probe: its silence counts from there.
    void not_asked_until(Instant then) { begun_at_ = then; }

    // Replaces the calibration (never adds to it). Empty = none. The trend starts anew.
    void calibrate(std::vector<CalibrationPoint> points);
    std::vector<CalibrationPoint> const& calibration() const { return points_; }

    // Keys below `prefix` ("probe.stock."): the noise, the resolution and the cycle that it has learnt, and a
    // calibration made at run time.
    void remember(Memory& memory, std::string const& prefix) const;
    // What was stored and is refused today, with the reason; "" = nothing. The rest is taken up.
    std::string recall(Memory const& memory, std::string const& prefix);
    // The same of a probe that another instrument reads now: its calibration only.
    std::string recall_calibration(Memory const& memory, std::string const& prefix);

    template <class Visit>
    void fields(Visit& visit) {  // what it judges the next reading by
        visit(cadence_, despiker_, trend_, cold_trend_, change_, noise_, resolution_, cycle_, lately_,
              settling_, value_at_, good_at_, cold_at_, stepped_at_, scattered_at_, doubted_,
              signal_.doubtful, signal_.celsius, signal_.innovation, signal_.sample_at, signal_.jumps,
              signal_.spikes, signal_.spike_at, signal_.scattered, signal_.changed_at);
    }

private:
    struct Held {
        Recorded row;
        bool burst = false;
    };

    void lose(Recorded row, Fault fault, Quality quality, Effects& out);
    void judge(Held sample, Effects& out);
    void accept(Held sample, bool doubtful, Effects& out);
    void accept_held(bool doubtful, Effects& out);
    void refuse_held(Effects& out);
    void follow(Instant at, double celsius);  // feeds the estimators
    void follow_cold_junction(Instant at, double celsius);
    void refresh(Instant now);
    // Between readings that are so far apart that each is believed alone: faster than its medium can go. One
    // that follows a leap may still be on its way.
    bool leaps(double celsius, Instant at, Span since) const {
        bool const just_leapt = settling_.leapt() && at - *settling_.leapt() < since + since / 2;
        double const fast = settling_.fast() * (just_leapt ? 1.0 / 3 : 1.0);
        return since > Despiker::longest_held && since <= Despiker::comparable && good_at_ &&
               std::abs(celsius - signal_.celsius) > fast * seconds(since);
    }
    void step_over(double celsius, Instant at);
    void forget_rates() {
        lately_.restart();
        ticks_.restart();
    }
    void start_anew(Instant at);  // what was before says nothing of what comes
    double sensor_noise() const;
    double reading_noise() const;
    // Of what may be told; `waiting`: readings that are not believed yet, the newest at `at`.
    Bounds bounds(int waiting = 0, Instant at = {}) const;

    int probe_;
    TemperatureUnit units_;
    Span said_every_;
    Cadence cadence_;
    double low_, high_;    // plausible, degC
    double slope_change_;  // sd of a sudden change of slope, K/s
    std::vector<CalibrationPoint> points_;
    bool points_are_ours_ = false;  // made at run time, not from the kitchen file
    Calibration calibration_;
    Despiker despiker_;
    std::array<Held, Despiker::longest_hold> held_;
    int held_count_ = 0;
    int unbelieved_ = 0;  // readings since the newest accepted one
    Trend trend_;
    Trend cold_trend_;
    Cusum change_;
    NoiseEstimator noise_;
    ResolutionEstimator resolution_;
    FaultRate fault_rate_;
    CycleSeeker cycle_;
    Lately lately_;
    Settling settling_;
    Ticks ticks_;
    std::optional<Instant> begun_at_;  // the first that we heard of time
    std::optional<Instant> value_at_;  // of the newest value, also a held one
    std::optional<Instant> good_at_;   // of the newest accepted one
    std::optional<Instant> cold_at_;
    std::optional<Instant> stepped_at_, scattered_at_;
    bool doubted_ = false;
    Signal signal_;
};

}  // namespace ingle
