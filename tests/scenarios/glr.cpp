#include "tests/scenarios/glr.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "tests/scenarios/judge.hpp"

namespace ingle::scenarios {
namespace {

constexpr int window_s = 900, looked_every_s = 5, onset_apart_s = 10, level_from_s = 1200;
constexpr double rounding_k = 0.25;

// The noise as a state: the probe's wander and the medium's flicker, both first-order; white noise and
// rounding on top. A Kalman filter in its steady state turns readings into independent innovations of unit
// variance, and a ramp into its whitened template.
class Whitener {
public:
    explicit Whitener(Scenario const& s)
        : keep_{std::exp(-1 / 90.0), std::exp(-1 / 900.0)},
          drive_{s.wander * s.wander * (1 - keep_[0] * keep_[0]),
                 s.flicker * s.flicker * (1 - keep_[1] * keep_[1])},
          white_(s.noise * s.noise + rounding_k * rounding_k / 12) {
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
    std::string alarm, kind, quiet_kind;
    std::vector<std::string> told_by;
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

struct Statistic {
    std::vector<double> ratio;  // of each look
};

Statistic statistic(Scenario const& scenario, bool (*counts)(double, double)) {
    Whitener whitener(scenario);
    std::array<double, window_s> ramp{}, sum2{};
    for (std::size_t i = 0; i < window_s; ++i) {
        ramp[i] = whitener.take(static_cast<double>(i + 1));
        sum2[i] = (i > 0 ? sum2[i - 1] : 0) + ramp[i] * ramp[i];
    }
    whitener.reset();
    double before = 0;
    for (int s = 0; s < level_from_s; ++s)
        before += scenario.true_c[static_cast<std::size_t>(s)] / level_from_s;

    Statistic out;
    std::vector<double> z;
    double last = before;
    for (int s = 0; s < scenario.length_s(); ++s) {
        auto const& reading = scenario.readings[0][static_cast<std::size_t>(s)];
        if (reading && reading->ok()) last = reading->celsius();
        z.push_back(whitener.take(last - before));
        if (s % looked_every_s != 0) continue;
        double best = 0;
        for (int ago = onset_apart_s; ago < window_s && ago <= s && s > level_from_s; ago += onset_apart_s) {
            double sum = 0;
            auto const from = z.size() - static_cast<std::size_t>(ago);
            for (std::size_t i = 0; i < static_cast<std::size_t>(ago); ++i) sum += z[from + i] * ramp[i];
            double const energy = sum2[static_cast<std::size_t>(ago - 1)], slope = sum / energy;
            if (counts(before + slope * ago, slope)) best = std::max(best, sum * sum / (2 * energy));
        }
        out.ratio.push_back(best);
    }
    return out;
}

std::optional<double> first_told(Run const& run, std::vector<std::string> const& by, double from) {
    for (auto const& told : run.alarms)
        if (told.at_s >= from && std::ranges::find(by, told.alarm) != by.end()) return told.at_s;
    return std::nullopt;
}

Kind const* kind_of(std::string const& name) {
    auto const found = std::ranges::find(kinds(), name, &Kind::name);
    return found == kinds().end() ? nullptr : &*found;
}

DelayRatio compare(Wanted const& wanted, int seeds) {
    DelayRatio out{wanted.alarm, wanted.kind, 0, 0, 0, 0};
    // The rate of false alarms: the watch's own in quiet runs, or one in all of them if it had none.
    std::vector<double> peaks;  // of the statistic in blocks of ten minutes
    int told_falsely = 0;
    double hours = 0;
    for (int seed = 1; seed <= seeds; ++seed) {
        auto const quiet = kind_of(wanted.quiet_kind)->make(static_cast<std::uint64_t>(seed));
        hours += quiet.length_s() / 3600.0;
        for (auto const& told : run_core(quiet).alarms)
            told_falsely += std::ranges::count(wanted.told_by, told.alarm) > 0;
        auto const looked = statistic(quiet, wanted.counts).ratio;
        constexpr std::size_t block = 600 / looked_every_s;
        for (std::size_t i = 0; i < looked.size(); i += block)
            peaks.push_back(*std::max_element(
                looked.begin() + static_cast<std::ptrdiff_t>(i),
                looked.begin() + static_cast<std::ptrdiff_t>(std::min(i + block, looked.size()))));
    }
    std::ranges::sort(peaks, std::greater<>());
    auto const allowed = static_cast<std::size_t>(std::max(1, told_falsely));
    double const threshold = std::max(peaks[std::min(allowed, peaks.size() - 1)], 1.0);
    out.false_per_h = static_cast<double>(allowed) / hours;

    std::vector<double> watch, best;
    for (int seed = 1; seed <= seeds; ++seed) {
        auto const scenario = kind_of(wanted.kind)->make(static_cast<std::uint64_t>(seed));
        if (scenario.truth.hazards.empty()) continue;
        double const onset = scenario.truth.hazards.front().onset_s;
        auto const told = first_told(run_core(scenario), wanted.told_by, onset);
        auto const looked = statistic(scenario, wanted.counts).ratio;
        auto const from = static_cast<std::ptrdiff_t>(onset / looked_every_s);
        auto const passed = std::find_if(looked.begin() + from, looked.end(),
                                         [&](double ratio) { return ratio > threshold; });
        if (!told || passed == looked.end()) continue;
        watch.push_back(*told - onset);
        best.push_back(static_cast<double>(passed - looked.begin()) * looked_every_s - onset);
    }
    out.runs = static_cast<int>(watch.size());
    out.watch_s = median(watch);
    out.best_s = median(best);
    return out;
}

}  // namespace

std::vector<DelayRatio> delay_ratios(int seeds) {
    std::vector<DelayRatio> all;
    for (auto const& wanted :
         {Wanted{"leaving-band", "creeping-burner", "steady-poach", {"leaving-band"}, leaves_above},
          Wanted{"leaving-band", "falling-burner", "steady-poach", {"leaving-band"}, leaves_below},
          Wanted{"heat-lost", "burner-out", "steady-poach", {"heat-lost"}, falls},
          Wanted{"boil-over-risk", "lid-on", "steady-poach", {"boil-over-risk"}, will_boil},
          Wanted{"boil-over-risk", "flame-too-high", "steady-poach", {"boil-over-risk"}, will_boil}})
        all.push_back(compare(wanted, seeds));
    return all;
}

}  // namespace ingle::scenarios
