// The swing that a thermostat or a compressor usually makes, and the moment when it does not turn as usual:
// the compressor does not start, the element does not switch off, the swing itself drifts. Owned by
// leaving_band; pure, fixed memory.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <utility>

#include "daemon/watches/watch.hpp"

namespace ingle {

class UsualCycle {
public:
    // How long a fridge must go one way to be worth a word; no cycle of a compressor is so long.
    static constexpr Span one_way_for = std::chrono::minutes(80);
    // What is beyond stays so while a coarse instrument stands between two steps, and no longer than that.
    static constexpr int stands_for_s = 180;

    explicit UsualCycle(VesselKind kind)
        : beyond_for_s_(kind == VesselKind::fridge ? 75 : 60), one_way_too_(kind == VesselKind::fridge) {}

    // Once a second: what conditioning recognises, the level in degC and its careful slope in K/s.
    // `fast_slope`: K/s of the trend that follows within seconds; `reading`: the newest, degC.
    void step(Instant now, std::optional<Cycle> const& cycle, double level, double slope, double fast_slope,
              double reading) {
        if (cycle) learn(now, *cycle);
        if (one_way_too_) keep_extremes(now, cycle.has_value(), level);
        if (one_way_too_ && ++tick_ % step_s_ == 0) {
            levels_[static_cast<std::size_t>(place_++ % steps_)] = level;
            if (cycle) place_ = 0;
        }
        if (usual_ && now - seen_at_ > forgotten_after) usual_.reset();
        beyond_ = 0;
        if (!usual_) return;
        double const margin = std::max(0.15 * (usual_->high - usual_->low), 0.25);
        // What has turned back already, as the fast trend sees first, is a door that was shut.
        double const rise = one_way_too_ ? std::min(slope, fast_slope) : slope;
        bool const past_top = level > usual_->high + margin && rise > least_slope;
        bool const above = too_steep(reading, fast_slope, past_top) || past_top;
        bool const below = level < usual_->low - margin && slope < -least_slope;
        int const side = above ? 1 : below ? -1 : 0;
        // A coarse instrument stands between its steps.
        bool const stands = side == 0 && side_ != 0 && side_ * fast_slope > -turns_slope;
        int const longest = beyond_for_s_ + stands_for_s;
        seconds_ = stands                       ? std::max(seconds_ - 1, 0)
                   : side != 0 && side == side_ ? std::min(seconds_ + 1, longest)
                                                : 0;
        if (!stands || seconds_ == 0) side_ = side;
        if (seconds_ >= beyond_for_s_) beyond_ = side_;
    }
    // +1: past its usual top for a while and still going up; -1: the same downward; 0: as usual.
    int beyond() const { return beyond_; }
    std::optional<Cycle> const& usual() const { return usual_; }

    // It began to warm as when it is opened, and has not turned for longer than anybody looks into it.
    bool stands_open() const { return open_s_ >= shut_by_s; }
    bool rises_too_fast() const { return steep_s_ >= open_for_s; }
    // K/s that the mean of the swing has moved by over the last hours; 0 unless it went the same way
    // throughout.
    double drift() const {
        if (count_ < kept_) return 0;
        auto const at = [this](int i) { return means_[static_cast<std::size_t>((next_ + i) % kept_)]; };
        double const all = at(kept_ - 1).mean - at(0).mean;
        for (int i = 1; i < kept_; ++i)
            if ((at(i).mean - at(i - 1).mean) * all < 0) return 0;
        return std::abs(all) < least_moved_k ? 0 : all / seconds(at(kept_ - 1).at - at(0).at);
    }

    // K/s, if it has gone one way only for so long; else 0.
    double one_way() const {
        if (place_ < steps_) return 0;
        auto const at = [this](int i) { return levels_[static_cast<std::size_t>((place_ + i) % steps_)]; };
        double const all = at(steps_ - 1) - at(0);
        double const least = least_drift_k / (steps_ - 1) / 2;  // in each of the steps
        for (int i = 1; i < steps_; ++i)
            if ((at(i) - at(i - 1)) * (all > 0 ? 1 : -1) < least) return 0;
        return std::abs(all) < least_drift_k ? 0 : all / (step_s_ * (steps_ - 1));
    }

    template <class Visit>
    void fields(Visit& visit) {
        bool known = usual_.has_value();
        Cycle cycle = usual_.value_or(Cycle{});
        visit(known, cycle.period_s, cycle.mean, cycle.low, cycle.high, seen_at_, seconds_, side_, beyond_,
              levels_, place_, tick_, extremes_, extreme_, extreme_s_, steep_s_, open_s_, from_, top_,
              smooth_);
        if (known) usual_ = cycle;
        for (auto& one : means_) visit(one.at, one.mean);
        visit.index(next_, kept_);
        visit.index(count_, kept_ + 1);
        place_ = std::max(place_, 0);
        extreme_ = std::max(extreme_, 0);
    }

private:
    static constexpr int step_s_ = 600, steps_ = 9;
    static constexpr Span forgotten_after = std::chrono::hours(3);
    static constexpr double turns_slope = 0.1 / 60;  // K/s: what a turn has at least, and noise has not
    static constexpr double least_slope = 0.03 / 60, least_drift_k = 0.8, least_moved_k = 0.5;
    static constexpr int kept_ = 6;
    static constexpr int extreme_over_s = 600, extremes_kept = 12, extremes_least = 6;
    static constexpr int open_for_s = 75;  // nobody looks into a fridge for so long
    static constexpr int shut_by_s = 90;   // by then a door that was shut is seen to be
    static constexpr double turned_k = 0.2, smoothed_over_s = 6;
    static constexpr double least_rest = 0.4;  // of a period, that a compressor rests at least
    static constexpr Span means_apart = std::chrono::minutes(20);
    struct Mean {
        Instant at{};
        double mean = 0;
    };
    // Warming faster than ever while the compressor rests, for longer than a door is open: it is ajar. So it
    // is if it began like that, has not turned since, and is past its top, where the compressor runs.
    bool too_steep(double reading, double fast_slope, bool past_top) {
        double const resting =
            usual_->period_s > 0 ? (usual_->high - usual_->low) / (least_rest * usual_->period_s) : 0;
        bool const steep = one_way_too_ && resting > 0 && fast_slope > std::max(1.5 * resting, 0.5 / 60);
        steep_s_ = steep ? steep_s_ + 1 : 0;
        smooth_ += (reading - smooth_) / smoothed_over_s;
        bool const opens = one_way_too_ && resting > 0 && fast_slope > std::max(1.3 * resting, 0.6 / 60);
        if (open_s_ == 0) from_ = top_ = smooth_;
        top_ = std::max(top_, smooth_);
        bool const turned = smooth_ < top_ - turned_k;
        open_s_ = !turned && (opens || open_s_ > 0) ? open_s_ + 1 : 0;
        // The usual warming, even with a moment's opening at its end, is slower than that from its begin.
        if (open_s_ > smoothed_over_s && open_s_ <= shut_by_s && smooth_ - from_ < resting * open_s_)
            open_s_ = 0;
        if (!rises_too_fast() && !(past_top && stands_open())) return false;
        seconds_ = std::max(seconds_, beyond_for_s_);
        side_ = 1;
        return true;
    }
    // Where no regular swing is recognised, what it usually reaches within ten minutes stands for it.
    void keep_extremes(Instant now, bool cycle, double level) {
        auto& newest = extremes_[static_cast<std::size_t>(extreme_ % extremes_kept)];
        newest.first = extreme_s_ == 0 ? level : std::min(newest.first, level);
        newest.second = extreme_s_ == 0 ? level : std::max(newest.second, level);
        if (++extreme_s_ < extreme_over_s) return;
        extreme_s_ = 0;
        ++extreme_;
        if (cycle || extreme_ < extremes_least || (usual_ && usual_->period_s > 0)) return;
        auto const n = static_cast<std::size_t>(std::min(extreme_, extremes_kept));
        auto const ordered = [&](auto member, double share) {
            std::array<double, extremes_kept> values{};
            for (std::size_t i = 0; i < n; ++i) values[i] = extremes_[i].*member;
            std::sort(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(n));
            return values[static_cast<std::size_t>(share * static_cast<double>(n - 1))];
        };
        using Extremes = std::pair<double, double>;
        double const low = ordered(&Extremes::first, 0.2), high = ordered(&Extremes::second, 0.8);
        usual_ = Cycle{0, 0.5 * (low + high), low, high};
        seen_at_ = now;
    }
    void learn(Instant now, Cycle const& cycle) {
        seen_at_ = now;
        if (usual_ && usual_->mean == cycle.mean && usual_->period_s == cycle.period_s) return;
        usual_ = cycle;  // another period is complete
        auto const newest = static_cast<std::size_t>((next_ + kept_ - 1) % kept_);
        if (count_ > 0 && now - means_[newest].at < means_apart) return;
        means_[static_cast<std::size_t>(next_)] = {now, cycle.mean};
        next_ = (next_ + 1) % kept_;
        count_ = std::min(count_ + 1, kept_);
    }

    int beyond_for_s_, seconds_ = 0, side_ = 0, beyond_ = 0;
    std::optional<Cycle> usual_;
    Instant seen_at_{};
    std::array<Mean, kept_> means_{};
    int next_ = 0, count_ = 0;
    bool one_way_too_;
    std::array<double, steps_> levels_{};
    int place_ = 0, tick_ = 0;
    std::array<std::pair<double, double>, extremes_kept> extremes_{};
    int extreme_ = 0, extreme_s_ = 0, steep_s_ = 0, open_s_ = 0;
    double from_ = 0, top_ = 0, smooth_ = 0;  // where it began to warm so fast, the highest since, and now
};

}  // namespace ingle
