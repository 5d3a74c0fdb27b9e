#include "daemon/conditioning/conditioner.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "config/calibration.hpp"
#include "daemon/model/fields.hpp"

namespace ingle {

namespace {

constexpr Span agreement = std::chrono::seconds(30);  // that a probe needs after a burst to be believed
constexpr Span least_patience = std::chrono::seconds(5);
constexpr Span trend_outlives = std::chrono::minutes(5);  // a gap; after it level and slope start anew
constexpr double least_spike_sd = 0.2;                    // K: five of them; a smaller "spike" harms nobody
constexpr double coarsest_step = 1.0;                     // K, of a source whose resolution is not known yet
constexpr double least_noise = 0.01;                      // K: no sensor is better
constexpr double first_noise = 0.1;                       // K: a guess until it is learnt
constexpr int most_shared = 60, most_unbelieved = 3;
constexpr Span least_denied = std::chrono::seconds(30);
constexpr double far_step = 5;                        // K: it went somewhere else
constexpr double sqrt12 = 3.4641016151377544;         // step / sqrt(12): sd of rounding to steps
constexpr double change_k = 0.5, change_h = 8;        // of the CUSUM: a false one in some hours at 1 Hz
constexpr double clip_innovation = 4;                 // one wild sample alone is no change
constexpr double cold_noise = 0.1, cold_walk = 1e-9;  // of a chip's own temperature
constexpr double longest_noise_s = 20;                // between two readings
constexpr double coarse_in_time_s = 5;     // so far apart, a tip's way to a new place looks like noise
constexpr double contradicted_noises = 4;  // beyond the bounds, and the trend starts anew
constexpr double least_moved = 1;          // K, over a gap: it stands in something else
constexpr double swing_noises = 6, least_swing = 0.4;  // K: below that a cycle is nobody's business

Recorded row_of(int probe, Reading const& reading) {
    Recorded row;
    row.probe = probe;
    row.at = reading.at;
    row.cold_junction = reading.cold_junction;
    row.word = reading.word;
    return row;
}

}  // namespace

Span stale_after(Span every) {
    return std::max(3 * every, least_patience);
}

Span stale_after(Span said, Span learnt) {
    return stale_after(std::max(said, learnt));
}

Conditioner::Conditioner(Settings const& settings, int probe)
    : Conditioner(probe, settings.probes[static_cast<std::size_t>(probe)], job_of(settings, probe),
                  settings.units) {}

Conditioner::Conditioner(int probe, ProbeSettings const& settings, ProbeJob job, TemperatureUnit units)
    : probe_(probe),
      units_(units),
      said_every_(from_seconds(settings.every.seconds)),
      cadence_(said_every_),
      low_(settings.plausible ? settings.plausible->first.celsius : plausible_range(job).first),
      high_(settings.plausible ? settings.plausible->second.celsius : plausible_range(job).second),
      slope_change_(liveliness(job).slope_change),
      points_(settings.calibration),
      calibration_(calibration_from(points_)),
      trend_(liveliness(job).slope_walk),
      cold_trend_(cold_walk),
      change_(change_k, change_h),
      noise_(first_noise),
      settling_(liveliness(job).fast) {
    signal_.probe = probe;
    signal_.noise = first_noise;
    signal_.slope_walk = trend_.slope_walk();
}

double Conditioner::sensor_noise() const {
    // Samples that read the same share one rounding error: n of them say no more than one does.
    double const shared = std::sqrt(static_cast<double>(std::min(resolution_.alike(), most_shared)));
    double const rounding = resolution_.known() ? resolution_.step() / sqrt12 * shared : first_noise;
    return std::max({noise_.sd(), rounding, least_noise});
}

// Of one reading, for what may be told: its rounding is in it, whatever the others read.
double Conditioner::reading_noise() const {
    double const rounding = resolution_.known() ? resolution_.step() / 2 : 0;
    return std::max({noise_.sd(), rounding, least_noise});
}

Bounds Conditioner::bounds(int waiting, Instant at) const {
    Bounds bounds = lately_.bounds(reading_noise(), waiting, at);
    ticks_.narrow(bounds);
    return bounds;
}

void Conditioner::start_anew(Instant at) {
    trend_.reset();
    cycle_.reset();
    change_.restart();
    forget_rates();
    settling_.disturb(at);
}

// The slope before says nothing about what comes now.
void Conditioner::step_over(double celsius, Instant at) {
    trend_.jump(celsius, sensor_noise(), slope_change_);
    noise_.interrupt();
    change_.restart();
    forget_rates();  // a rate across the step is none that the readings had
    settling_.leap(at);
    ++signal_.jumps;
}

void Conditioner::take(Reading const& reading, Effects& out) {
    if (!begun_at_) begun_at_ = reading.at;
    if (reading.cold_junction) follow_cold_junction(reading.at, *reading.cold_junction);
    Recorded row = row_of(probe_, reading);
    if (!reading.ok()) {
        lose(std::move(row), reading.fault(), Quality::faulty, out);
    } else if (!std::isfinite(reading.celsius())) {
        lose(std::move(row), {FaultKind::garbled, "garbled: not a number"}, Quality::faulty, out);
    } else {
        row.raw = reading.celsius();
        row.celsius = calibration_.apply(*row.raw);
        if (*row.celsius < low_ || *row.celsius > high_) {
            std::string reason = "out of range: " + show(Temperature{*row.celsius}, units_) +
                                 " is not plausible for this probe (" + show(Temperature{low_}, units_) +
                                 " to " + show(Temperature{high_}, units_) + ")";
            row.celsius.reset();
            lose(std::move(row), {FaultKind::out_of_range, std::move(reason)}, Quality::rejected, out);
        } else {
            judge({std::move(row), reading.burst}, out);
        }
    }
    refresh(reading.at);
}

void Conditioner::lose(Recorded row, Fault fault, Quality quality, Effects& out) {
    // Rows go out in time order, so the held ones cannot wait any longer; the despiker still counts them, or
    // a probe that is lost every third time would never be seen to step.
    refuse_held(out);
    fault_rate_.count(row.at, true);
    noise_.interrupt();
    cadence_.interrupt();
    signal_.bounds = bounds(1, row.at);
    signal_.fault = fault;
    row.fault = std::move(fault);
    row.quality = quality;
    out.emplace_back(std::move(row));
}

void Conditioner::judge(Held sample, Effects& out) {
    Instant const at = sample.row.at;
    double const celsius = *sample.row.celsius;
    cadence_.take(at);
    Span const since = value_at_ ? at - *value_at_ : Span(0);
    Span const outlives = std::max(trend_outlives, stale_after(said_every_, cadence_.every()));
    if (!value_at_ || since > outlives) signal_.changed_at = at;
    bool const gap = since > stale_after(said_every_, cadence_.every());
    if (gap) {
        despiker_.reset();
        noise_.interrupt();
    }
    if (!value_at_ || since > outlives)
        start_anew(at);
    else if (gap && std::abs(celsius - signal_.level) > contradicted_noises * reading_noise() + least_moved)
        step_over(celsius, at);  // the probe was somewhere else meanwhile, or its medium was
    value_at_ = at;
    if (despiker_.held() == 0) refuse_held(out);  // left from before a gap or another calibration
    double const step = resolution_.known() ? resolution_.step() : coarsest_step;
    double const least_sd = std::max({noise_.sd(), 0.5 * step, least_spike_sd});
    switch (despiker_.take(celsius, least_sd, since)) {
        case Despiker::Verdict::hold:
            held_[static_cast<std::size_t>(held_count_++)] = std::move(sample);
            ++unbelieved_;
            signal_.bounds = bounds(held_count_, at);
            return;
        case Despiker::Verdict::good:
            if (leaps(celsius, at, since)) step_over(celsius, at);
            break;
        case Despiker::Verdict::spikes:
            refuse_held(out);
            break;
        case Despiker::Verdict::step: {
            double const first = held_count_ > 0 ? *held_[0].row.celsius : celsius;
            bool const climbs = resolution_.climbs(signal_.celsius, first, noise_.sd());
            step_over(first, at);
            if (stepped_at_ && at - *stepped_at_ < agreement && !climbs) {  // twice so soon: a loose wire
                ++signal_.scattered;
                scattered_at_ = at;
            }
            stepped_at_ = at;
            if (std::abs(celsius - signal_.celsius) > far_step) signal_.changed_at = at;
            accept_held(false, out);
            break;
        }
        case Despiker::Verdict::ramp:
            accept_held(false, out);
            break;
        case Despiker::Verdict::alone:
            refuse_held(out);
            step_over(celsius, at);
            return accept(std::move(sample), true, out);
        case Despiker::Verdict::scattered:
            ++signal_.scattered;
            scattered_at_ = at;
            trend_.loosen(slope_change_);
            accept_held(true, out);
            return accept(std::move(sample), true, out);
    }
    accept(std::move(sample), false, out);
}

void Conditioner::accept(Held sample, bool doubtful, Effects& out) {
    if (scattered_at_ && sample.row.at - *scattered_at_ >= agreement) {
        // It is believed again, but nothing that the scatter has taught.
        scattered_at_.reset();
        noise_ = NoiseEstimator(first_noise);
        trend_.jump(*sample.row.celsius, first_noise, slope_change_);
        change_.restart();
        forget_rates();
        settling_.leap(sample.row.at);
        ++signal_.jumps;
    }
    doubtful = doubtful || sample.burst || doubted_ || scattered_at_;
    unbelieved_ = 0;
    fault_rate_.count(sample.row.at, false);
    resolution_.take(*sample.row.raw);
    follow(sample.row.at, *sample.row.celsius);
    signal_.fault.reset();
    signal_.doubtful = doubtful;
    sample.row.quality = doubtful ? Quality::doubtful : Quality::good;
    out.emplace_back(std::move(sample.row));
}

void Conditioner::accept_held(bool doubtful, Effects& out) {
    if (held_count_ > 0) signal_.held_since = held_[0].row.at, signal_.held_until = value_at_;
    for (int i = 0; i < held_count_; ++i)
        accept(std::move(held_[static_cast<std::size_t>(i)]), doubtful, out);
    held_count_ = 0;
}

void Conditioner::refuse_held(Effects& out) {
    for (int i = 0; i < held_count_; ++i) {
        Recorded row = std::move(held_[static_cast<std::size_t>(i)].row);
        fault_rate_.count(row.at, true);
        row.quality = Quality::rejected;
        row.fault = Fault{FaultKind::unspecified, "a spike: the samples around it do not confirm it"};
        lately_.refuse();
        ++signal_.spikes;
        signal_.spike_at = row.at;
        out.emplace_back(std::move(row));
    }
    held_count_ = 0;
}

void Conditioner::follow(Instant at, double celsius) {
    double const dt = good_at_ ? std::max(0.0, seconds(at - *good_at_)) : 0;
    double const usual = seconds(cadence_.every());
    // What is minutes apart differs by more than noise.
    bool const on_its_way = usual >= coarse_in_time_s && !settling_.settled();
    if (dt < 0.5 * usual || dt > 1.5 * usual || dt > longest_noise_s || on_its_way) noise_.interrupt();
    noise_.take(celsius);
    double const noise = sensor_noise();
    double const miss = trend_.begun() ? celsius - (trend_.level() + dt * trend_.slope()) : 0;
    double const z = trend_.take(dt, celsius, noise);
    // Rounding to steps makes errors that last as long as a step does: they must not pass for a change.
    double const rounding = z == 0 ? 0 : std::min(std::abs(z), z * 0.5 * resolution_.step() / miss);
    if (change_.take(std::clamp(z - std::copysign(rounding, z), -clip_innovation, clip_innovation)) != 0) {
        trend_.loosen(slope_change_);
        change_.restart();
    }
    lately_.take(at, celsius);
    ticks_.take(at, celsius, resolution_.seen(), cadence_.every());
    if (settling_.take(at, lately_, reading_noise(), resolution_.step(), cadence_.every())) {
        // The trend begins with what ran straight: what led there is not part of it.
        lately_.forget_before(at - 2 * settling_.window());
        auto const rate = lately_.rate(seconds(settling_.window()), 0);
        trend_.jump(celsius, noise, slope_change_, rate.value_or(0));
    }
    signal_.bounds = bounds();
    // What is told is kept within the bounds anyway; the trend itself starts anew only where readings
    // contradict it, not where it is off by their rounding.
    double const astray = std::abs(trend_.level() - signal_.bounds.level(trend_.level()));
    if (astray > resolution_.step() + contradicted_noises * reading_noise()) {
        trend_.jump(signal_.bounds.level(trend_.level()), noise, slope_change_);
        change_.restart();
    }
    cycle_.take(at, trend_.level(), std::max(least_swing, swing_noises * noise));
    good_at_ = at;
    signal_.celsius = celsius;
    signal_.innovation = z;
    signal_.sample_at = at;
}

void Conditioner::follow_cold_junction(Instant at, double celsius) {
    cold_trend_.take(cold_at_ ? std::max(0.0, seconds(at - *cold_at_)) : 0, celsius, cold_noise);
    cold_at_ = at;
    signal_.cold_junction = celsius;
    signal_.cold_junction_slope = cold_trend_.slope();
}

void Conditioner::advance(Instant now, Effects& out) {
    if (!begun_at_) begun_at_ = now;
    if (held_count_ > 0 && now - *value_at_ > stale_after(said_every_, cadence_.every())) refuse_held(out);
    refresh(now);
}

void Conditioner::refresh(Instant now) {
    signal_.age.reset();
    if (good_at_) signal_.age = std::max(Span(0), now - *good_at_);
    signal_.every = cadence_.every();
    // What the newest readings deny is not judged by, whether or not they are believed themselves.
    bool const denied = signal_.age && unbelieved_ >= most_unbelieved && *signal_.age > least_denied;
    signal_.fresh = signal_.age && *signal_.age <= stale_after(said_every_, signal_.every) && !denied;
    signal_.silent_since.reset();
    // While the program was off nobody asked it.
    if (signal_.fault || !signal_.fresh)
        signal_.silent_since = good_at_ && good_at_ > begun_at_ ? good_at_ : begun_at_;
    // The one place where an estimate becomes something that can be told.
    signal_.settled = settling_.settled();
    signal_.level = signal_.bounds.level(trend_.level());
    signal_.slope = signal_.settled ? signal_.bounds.rate(trend_.slope()) : 0;
    if (trend_.begun()) {
        signal_.level_variance = trend_.level_variance();
        signal_.covariance = trend_.covariance();
        signal_.slope_variance = trend_.slope_variance();
    }
    signal_.noise = noise_.sd();
    signal_.step = resolution_.seen();
    signal_.fault_rate = fault_rate_.share(now);
    if (doubted_) signal_.doubtful = true;
    signal_.cycle = cycle_.cycle(now);
}

void Conditioner::calibrate(std::vector<CalibrationPoint> points) {
    points_ = std::move(points);
    points_are_ours_ = true;
    calibration_ = calibration_from(points_);
    despiker_.reset();
    start_anew(value_at_.value_or(Instant{}));
    signal_.bounds = {};
    noise_.interrupt();
}

void Conditioner::remember(Memory& memory, std::string const& prefix) const {
    remember_fields(memory, prefix + "state", *this);
    remember_fields(memory, prefix + "ticks", ticks_);
    if (fault_rate_.any_lost()) remember_fields(memory, prefix + "faults", fault_rate_);
    memory.put(prefix + "noise", noise_.sd());
    memory.put(prefix + "step", resolution_.step());
    if (signal_.cycle) {
        memory.put(prefix + "cycle.period", signal_.cycle->period_s);
        memory.put(prefix + "cycle.mean", signal_.cycle->mean);
        memory.put(prefix + "cycle.low", signal_.cycle->low);
        memory.put(prefix + "cycle.high", signal_.cycle->high);
    }
    if (!points_are_ours_) return;
    memory.put(prefix + "calibration.points", static_cast<std::int64_t>(points_.size()));
    for (std::size_t i = 0; i < points_.size(); ++i) {
        std::string const key = prefix + "calibration." + std::to_string(i);
        memory.put(key + ".reads", points_[i].reads.celsius);
        memory.put(key + ".is", points_[i].is.celsius);
    }
}

std::string Conditioner::recall(Memory const& memory, std::string const& prefix) {
    if (auto const sd = memory.number(prefix + "noise"); sd && *sd > 0) noise_.recall(*sd);
    if (auto const step = memory.number(prefix + "step"); step && *step >= 0) resolution_.recall(*step);
    auto const period = memory.number(prefix + "cycle.period"), mean = memory.number(prefix + "cycle.mean"),
               low = memory.number(prefix + "cycle.low"), high = memory.number(prefix + "cycle.high");
    if (period && mean && low && high && *period > 0 && *low < *high)
        cycle_.recall({*period, *mean, *low, *high});
    // What was read by a calibration that is refused is not known.
    if (auto refused = recall_calibration(memory, prefix); !refused.empty()) return refused;
    recall_fields(memory, prefix + "faults", fault_rate_);
    if (!recall_fields(memory, prefix + "state", *this)) return {};
    recall_fields(memory, prefix + "ticks", ticks_);
    signal_.bounds = bounds();
    if (good_at_) refresh(*good_at_);
    return {};
}

std::string Conditioner::recall_calibration(Memory const& memory, std::string const& prefix) {
    auto const count = memory.integer(prefix + "calibration.points");
    if (!count) return {};
    std::vector<CalibrationPoint> points;
    for (std::int64_t i = 0; i < std::clamp<std::int64_t>(*count, 0, 3); ++i) {
        std::string const key = prefix + "calibration." + std::to_string(i);
        auto const reads = memory.number(key + ".reads"), is = memory.number(key + ".is");
        if (!reads || !is) return "cannot be read";
        points.push_back({{*reads}, {*is}});
    }
    if (auto const wrong = calibration_problems(points); !wrong.empty())
        return wrong.front().wrong + ": " + wrong.front().right;
    calibrate(std::move(points));
    return {};
}

}  // namespace ingle
