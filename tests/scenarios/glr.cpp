#include "tests/scenarios/glr.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "tests/scenarios/judge.hpp"

namespace ingle::scenarios {
namespace {

// What makes the comparison a fair one:
// - Both see the readings only. The detector's level is that of the readings before, not the simulator's own.
// - Both must tell a drift from what hands do. The detector knows that no flame moves litres of liquid by 2 K
//   in 10 s, and begins anew once the slowest tip has settled; and that a tip which is put into another place
//   makes a step: a drift counts by how much better it explains the readings than any step does.
// - Both have the same rate of false alarms over the same quiet hours: the pot alone, and handled in a dozen
//   ways. A detector whose threshold is set on the noise alone raises several in an hour of cooking. Each
//   side of a band counts for itself: a pot that falls in the wind is no false alarm of one that rises.
// - Both delays count from the true onset to the moment at which it is told; on seeds that nothing was tuned
//   on.
constexpr int window_s = 900, looked_every_s = 5, quiet_every_s = 15, quiet_seeds = 4, onset_apart_s = 10,
              level_over_s = 240;
constexpr int jump_within_s = 10, settles_s = 240;
constexpr double jump_k = 2;
constexpr std::string_view undisturbed = "steady-poach";
constexpr std::string_view quiet_kinds[] = {  // the undisturbed one first
    undisturbed,        "dipped",        "lifted-and-put-back", "cold-spoon",     "wet-cloth",
    "stirred",          "rinsed",        "re-seated",           "lid-on-and-off", "warm-plug",
    "induction-pulses", "wind-on-flame", "cable-tugged",        "power-strip"};
constexpr std::uint64_t first_seed = 1001;
constexpr double forever = std::numeric_limits<double>::infinity();

// The noise as a state: the probe's wander and the medium's flicker, both first-order; white noise and
// rounding on top. A Kalman filter in its steady state turns readings into independent innovations of unit
// variance, and a ramp into its whitened template.
class Whitener {
public:
    explicit Whitener(Scenario const& s)
        : keep_{std::exp(-1 / 90.0), std::exp(-1 / 900.0)},
          drive_{s.wander * s.wander * (1 - keep_[0] * keep_[0]),
                 s.flicker * s.flicker * (1 - keep_[1] * keep_[1])},
          white_(s.noise * s.noise + s.rounding * s.rounding / 12) {
        std::array<std::array<double, 2>, 2> p{{{s.wander * s.wander, 0}, {0, s.flicker * s.flicker}}};
        for (int i = 0; i < 20'000; ++i) {
            for (std::size_t a = 0; a < 2; ++a)
                for (std::size_t b = 0; b < 2; ++b)
                    p[a][b] = keep_[a] * p[a][b] * keep_[b] + (a == b ? drive_[a] : 0);
            std::array<double, 2> const c{p[0][0] + p[0][1], p[1][0] + p[1][1]};
            spread_ = c[0] + c[1] + white_;
            for (std::size_t a = 0; a < 2; ++a) gain_[a] = c[a] / spread_;
            for (std::size_t a = 0; a < 2; ++a)
                for (std::size_t b = 0; b < 2; ++b) p[a][b] -= gain_[a] * c[b];
        }
    }
    double take(double x) {
        for (std::size_t a = 0; a < 2; ++a) state_[a] *= keep_[a];
        double const miss = x - state_[0] - state_[1];
        for (std::size_t a = 0; a < 2; ++a) state_[a] += gain_[a] * miss;
        return miss / std::sqrt(spread_);
    }
    void reset() { state_ = {}; }

private:
    std::array<double, 2> keep_, drive_, gain_{}, state_{};
    double white_, spread_ = 1;
};

// Is this drift the alarm's, as far as its definition goes?
struct Wanted {
    std::string kind, alarm, saying;             // of an alarm with two sides: the words that tell them apart
    bool (*counts)(double level, double slope);  // degC, K/s
};
bool leaves_above(double level, double slope) {
    return slope > 0 && level + 600 * slope > 87.8;
}
bool leaves_below(double level, double slope) {
    return slope < 0 && level + 600 * slope < 82.2;
}
bool falls(double, double slope) {  // faster than a pot that was turned down a little
    return slope < -0.4 / 60;
}
bool will_boil(double level, double slope) {
    return slope > 0 && level + 450 * slope > 98.3;
}

// The whitened shapes of what may have begun so many seconds ago, and their energies.
struct Templates {
    std::array<double, window_s> ramp{}, step{}, ramp2{}, step2{};
    explicit Templates(Whitener whitener) {
        fill(whitener, ramp, ramp2, [](std::size_t i) { return static_cast<double>(i + 1); });
        fill(whitener, step, step2, [](std::size_t) { return 1.0; });
    }

private:
    template <class Shape>
    static void fill(Whitener& whitener, std::array<double, window_s>& shape,
                     std::array<double, window_s>& energy, Shape at) {
        whitener.reset();
        for (std::size_t i = 0; i < window_s; ++i) {
            shape[i] = whitener.take(at(i));
            energy[i] = (i > 0 ? energy[i - 1] : 0) + shape[i] * shape[i];
        }
    }
};

// Of each look: how much better a drift explains the newest readings than a step or nothing does.
std::vector<double> statistic(Scenario const& scenario, bool (*counts)(double, double), int every_s) {
    Whitener whitener(scenario);
    Templates const of(whitener);
    std::vector<double> out, z, readings;
    double before = 0, last = 0;
    int since = -settles_s - level_over_s;  // when it began anew, to settle and to see its level
    bool any = false;
    for (int s = 0; s < scenario.length_s(); ++s) {
        auto const& reading = scenario.readings[0][static_cast<std::size_t>(s)];
        if (reading && reading->ok()) {
            if (!any) since = s - settles_s;
            any = true;
            last = reading->celsius();
        }
        readings.push_back(last);
        double const then = readings[static_cast<std::size_t>(std::max(0, s - jump_within_s))];
        if (std::abs(last - then) > jump_k + scenario.rounding + 5 * scenario.noise) since = s;
        int const known = s - since - settles_s - level_over_s;
        if (known < 0) {
            z.clear();
            before = 0;
            for (int ago = 0; ago < level_over_s; ++ago)
                before += readings[static_cast<std::size_t>(std::max(0, s - ago))] / level_over_s;
            whitener.reset();
        } else {
            z.push_back(whitener.take(last - before));
        }
        if (s % every_s != 0) continue;
        double drift = 0, step = 0;
        int const longest = std::min<int>(window_s - 1, static_cast<int>(z.size()));
        for (int ago = onset_apart_s; ago <= longest; ago += onset_apart_s) {
            double by_ramp = 0, by_step = 0;
            auto const from = z.size() - static_cast<std::size_t>(ago);
            for (std::size_t i = 0; i < static_cast<std::size_t>(ago); ++i) {
                by_ramp += z[from + i] * of.ramp[i];
                by_step += z[from + i] * of.step[i];
            }
            auto const at = static_cast<std::size_t>(ago - 1);
            double const slope = by_ramp / of.ramp2[at];
            if (counts(before + slope * ago, slope))
                drift = std::max(drift, by_ramp * by_ramp / (2 * of.ramp2[at]));
            step = std::max(step, by_step * by_step / (2 * of.step2[at]));
        }
        out.push_back(std::max(0.0, drift - step));
    }
    return out;
}

bool tells(Told const& told, Wanted const& wanted) {
    return told.alarm == wanted.alarm && told.text.find(wanted.saying) != std::string::npos;
}

std::optional<double> first_told(Run const& run, Wanted const& wanted, double from) {
    for (auto const& told : run.alarms)
        if (told.at_s >= from && tells(told, wanted)) return told.at_s;
    return std::nullopt;
}

Kind const* kind_of(std::string const& name) {
    auto const found = std::ranges::find(kinds(), name, &Kind::name);
    return found == kinds().end() ? nullptr : &*found;
}

// The quiet hours, and what the core told in them: the same for every alarm that is compared.
struct Quiet {
    std::vector<Scenario> scenarios;
    std::vector<Run> runs;
    double hours = 0;

    explicit Quiet(int seeds) {
        for (auto const name : quiet_kinds)
            for (int i = 0; i < std::min(seeds, quiet_seeds); ++i) {
                scenarios.push_back(
                    kind_of(std::string(name))->make(first_seed + static_cast<std::uint64_t>(i)));
                runs.push_back(run_core(scenarios.back()));
                hours += scenarios.back().length_s() / 3600.0;
            }
    }
    std::size_t told(Wanted const& wanted) const {
        std::size_t count = 0;
        for (auto const& run : runs)
            count += static_cast<std::size_t>(
                std::ranges::count_if(run.alarms, [&](Told const& told) { return tells(told, wanted); }));
        return count;
    }
    // The highest of the statistic in each block of ten minutes, highest first; of the noise alone too.
    struct Peaks {
        std::vector<double> all, of_noise;
    };
    Peaks peaks(bool (*counts)(double, double)) const {
        Peaks out;
        for (auto const& scenario : scenarios) {
            auto const looked = statistic(scenario, counts, quiet_every_s);
            constexpr std::size_t block = 600 / quiet_every_s;
            for (std::size_t from = 0; from < looked.size(); from += block)
                out.all.push_back(*std::max_element(
                    looked.begin() + static_cast<std::ptrdiff_t>(from),
                    looked.begin() + static_cast<std::ptrdiff_t>(std::min(from + block, looked.size()))));
            if (scenario.kind == undisturbed) out.of_noise = out.all;
        }
        std::ranges::sort(out.all, std::greater<>());
        std::ranges::sort(out.of_noise, std::greater<>());
        return out;
    }
};

// The delay at which the statistic passes the threshold.
double delay(std::vector<double> const& looked, double onset, double threshold) {
    auto const from = static_cast<std::ptrdiff_t>(onset / looked_every_s);
    auto const passed =
        std::find_if(looked.begin() + from, looked.end(), [&](double ratio) { return ratio > threshold; });
    if (passed == looked.end()) return forever;
    return static_cast<double>(passed - looked.begin()) * looked_every_s - onset;
}

DelayRatio compare(Wanted const& wanted, int seeds, Quiet const& quiet, Quiet::Peaks const& peaks) {
    DelayRatio out{.alarm = wanted.alarm, .kind = wanted.kind};
    // The rate of false alarms: the watch's own in the quiet runs, or one in all of them if it had none.
    auto const allowed = std::max<std::size_t>(1, quiet.told(wanted));
    double const threshold = std::max(peaks.all[std::min(allowed, peaks.all.size() - 1)], 1.0);
    double const of_noise = std::max(peaks.of_noise.front(), 1.0);
    out.false_per_h = static_cast<double>(allowed) / quiet.hours;

    std::vector<double> watch, best, alone;
    for (int i = 0; i < seeds; ++i) {
        auto const scenario = kind_of(wanted.kind)->make(first_seed + static_cast<std::uint64_t>(i));
        if (scenario.truth.hazards.empty()) continue;
        double const onset = scenario.truth.hazards.front().onset_s;
        auto const told = first_told(run_core(scenario), wanted, onset);
        auto const looked = statistic(scenario, wanted.counts, looked_every_s);
        watch.push_back(told ? *told - onset : forever);
        best.push_back(delay(looked, onset, threshold));
        alone.push_back(delay(looked, onset, of_noise));
    }
    out.runs = static_cast<int>(watch.size());
    out.watch_s = median(watch);
    out.best_s = median(best);
    out.noise_alone_s = median(alone);
    return out;
}

}  // namespace

std::vector<DelayRatio> delay_ratios(int seeds) {
    std::vector<DelayRatio> all;
    if (seeds <= 0) return all;
    Quiet const quiet(seeds);
    bool (*counted)(double, double) = nullptr;
    Quiet::Peaks peaks;
    for (auto const& wanted :
         {Wanted{"creeping-burner", "leaving-band", "at the top", leaves_above},
          Wanted{"falling-burner", "leaving-band", "at the bottom", leaves_below},
          Wanted{"burner-out", "heat-lost", "", falls}, Wanted{"lid-on", "boil-over-risk", "", will_boil},
          Wanted{"flame-too-high", "boil-over-risk", "", will_boil}}) {
        if (wanted.counts != counted) peaks = quiet.peaks(wanted.counts);
        counted = wanted.counts;
        all.push_back(compare(wanted, seeds, quiet, peaks));
    }
    return all;
}

}  // namespace ingle::scenarios
