// One medium followed by a watch at its own pace, and its recent past. For watches; pure.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "daemon/conditioning/crossing.hpp"
#include "daemon/conditioning/trend.hpp"
#include "daemon/model/fields.hpp"
#include "daemon/watches/watch.hpp"

namespace ingle {

// degC, its newest value for as long as the probe's own cadence covers it: what stands for the seconds of a
// gap is not read in them, however fresh it is to judge by.
inline std::optional<double> as_read(Signal const& signal) {
    constexpr Span late = std::chrono::seconds(1);
    if (!signal.fresh || *signal.age > signal.every + signal.every / 2 + late) return std::nullopt;
    return signal.celsius;
}

// A second trend beside the one of conditioning: that one must see a door, this one must see ten minutes
// ahead. It follows a turned knob within (noise² / slope_walk)^1/4 seconds or so.
class Followed {
public:
    explicit Followed(double slope_walk) : slope_walk_(slope_walk), trend_(slope_walk) {}

    void take(Signal const& signal) {
        if (signal.fresh) bounds_ = signal.bounds;  // narrower while a newer reading waits to be believed
        if (!signal.fresh || (begun_ && signal.sample_at == sample_at_)) return;
        double const dt = begun_ ? seconds(signal.sample_at - sample_at_) : 0;
        // Quantisation and the stirring of a pot are noise to a forecast too.
        double const noise = std::max({signal.noise, signal.step * 0.3, 0.05});
        // Doubtful values do not move the trend; after a long doubt it is too old to go on from.
        doubted_s_ = signal.doubtful ? doubted_s_ + dt : 0;
        bool const too_old = stale_ && !signal.doubtful;
        stale_ = signal.doubtful && (stale_ || doubted_s_ > longest_doubt_s);
        // Until the probe has settled each reading is a beginning.
        if (!begun_ || !signal.settled || signal.jumps != jumps_ || dt > longest_gap(signal) || too_old) {
            begin(signal, noise);
        } else if (!signal.doubtful) {
            trend_.take(dt, signal.celsius, noise);
            // It lags behind by the rounding of the readings, too, which is no contradiction.
            double const within = signal.bounds.level(trend_.level());
            if (std::abs(trend_.level() - within) > signal.step + contradicted_noises * noise)
                trend_.jump(within, noise, 0.05, signal.bounds.rate(trend_.slope()));
        }
        sample_at_ = signal.sample_at;
    }
    void restart() { begun_.reset(); }
    bool settled(Instant now, Span after) const { return begun_ && now - *begun_ >= after; }
    double slope() const { return bounds_.rate(trend_.slope()); }  // K/s, that the readings had
    double estimate() const { return trend_.slope(); }  // the same unbounded: to learn from, never to tell
    double level(Instant now) const {                   // degC, within the newest readings
        return bounds_.level(trend_.level() + slope() * seconds(now - sample_at_));
    }
    Prospect prospect(Instant now) const {
        Prospect p;
        p.level = level(now);
        p.slope = slope();
        p.level_variance = trend_.level_variance();
        p.covariance = trend_.covariance();
        p.slope_variance = trend_.slope_variance();
        p.slope_walk = slope_walk_;
        return p;
    }
    template <class Visit>
    void fields(Visit& visit) {
        visit(trend_, begun_, sample_at_, jumps_, doubted_s_, stale_);
    }

private:
    static constexpr double longest_gap_s = 300, longest_doubt_s = 15;
    static constexpr double contradicted_noises = 4;  // beyond the bounds, and the trend starts anew
    static double longest_gap(Signal const& signal) {
        return std::max(longest_gap_s, 3 * seconds(signal.every));
    }
    void begin(Signal const& signal, double noise) {
        trend_ = Trend(slope_walk_);
        trend_.jump(signal.celsius, noise, 0.05);
        begun_ = signal.sample_at;
        jumps_ = signal.jumps;
    }
    double slope_walk_;
    Trend trend_;
    Bounds bounds_{};
    std::optional<Instant> begun_;
    Instant sample_at_{};
    int jumps_ = 0;
    double doubted_s_ = 0;
    bool stale_ = false;
};

// The values of the last N seconds, one a second; a second without a value is missing.
template <int N>
class Past {
public:
    void put(std::optional<double> celsius) {
        next_ = next_ + 1 == N ? 0 : next_ + 1;
        ring_[static_cast<std::size_t>(next_)] = celsius ? static_cast<float>(*celsius) : missing;
        count_ = std::min(count_ + 1, N);
    }
    void clear() { count_ = 0; }
    std::optional<double> ago(int s) const {
        if (s < 0 || s >= count_) return std::nullopt;
        float const c = ring_[static_cast<std::size_t>(next_ >= s ? next_ - s : next_ - s + N)];
        if (c != c) return std::nullopt;
        return c;
    }
    // Mean over the seconds from `oldest` ago to `newest` ago; empty if half of them are missing.
    std::optional<double> mean(int oldest, int newest) const {
        double sum = 0;
        int n = 0;
        for (int s = newest; s <= oldest; ++s) {
            if (auto const c = ago(s)) sum += *c, ++n;
        }
        if (n * 2 <= oldest - newest) return std::nullopt;
        return sum / n;
    }
    std::optional<double> highest(int oldest, int newest) const {
        std::optional<double> most;
        for (int s = newest; s <= oldest; ++s) {
            if (auto const c = ago(s); c && (!most || *c > *most)) most = c;
        }
        return most;
    }
    std::optional<double> lowest(int oldest, int newest) const {
        std::optional<double> least;
        for (int s = newest; s <= oldest; ++s) {
            if (auto const c = ago(s); c && (!least || *c < *least)) least = c;
        }
        return least;
    }
    bool full(int s) const { return count_ > s; }  // it goes back so far

    // As a text that a restart reads back: one mean for every `every_s` seconds, the newest first.
    std::string text(int every_s) const {
        std::string out = std::to_string(every_s);
        for (int s = 0; s < count_; s += every_s) {
            char value[24] = ",-";
            if (auto const c = mean(std::min(s + every_s, count_) - 1, s))
                std::snprintf(value, sizeof value, ",%.2f", *c);
            out += value;
        }
        return out;
    }
    // False, and empty, where it is no such text.
    bool read(std::string const& text) {
        clear();
        char const* at = text.c_str();
        char* end = nullptr;
        long const every_s = std::strtol(at, &end, 10);
        if (end == at || every_s < 1 || every_s > N) return false;
        std::vector<std::optional<double>> newest_first;
        while (*end == ',' && newest_first.size() <= static_cast<std::size_t>(N)) {
            at = end + 1;
            bool const none = *at == '-' && (at[1] == ',' || at[1] == 0);
            double const c = none ? 0 : std::strtod(at, &end);
            if (none)
                end = const_cast<char*>(at) + 1;
            else if (end == at || !std::isfinite(c))
                return false;
            newest_first.push_back(none ? std::nullopt : std::optional(c));
        }
        if (*end != 0) return false;
        for (auto block = newest_first.rbegin(); block != newest_first.rend(); ++block)
            for (long s = 0; s < every_s; ++s) put(*block);
        return true;
    }
    void skip(Span gap) {  // nothing was read for so long
        for (int s = 0; s < std::clamp(static_cast<int>(seconds(gap)), 0, N); ++s) put(std::nullopt);
    }

private:
    // Small, so that the pasts of many vessels stay in the cache; 1e-5 K is enough here.
    static constexpr float missing = std::numeric_limits<float>::quiet_NaN();
    std::array<float, N> ring_{};
    int next_ = 0, count_ = 0;
};

}  // namespace ingle
