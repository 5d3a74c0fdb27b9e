#include "daemon/conditioning/cycle.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace ingle {

namespace {

constexpr double shortest_s = 30, longest_s = 3 * 3600;  // of a thermostat's or a compressor's period
constexpr int least_alike = 3;
constexpr double alike_length = 0.35, alike_swing = 0.5;  // parts of the median
constexpr double overdue = 1.8;                           // periods without a valley
constexpr double recalled_margin = 0.25, recalled_periods = 4;
constexpr double turn_part = 0.3;  // of the last swing: a turn this far back is certain

double median(std::array<double, 5> values, int count) {
    auto const end = values.begin() + count;
    std::sort(values.begin(), end);
    return values[static_cast<std::size_t>(count / 2)];
}

}  // namespace

void CycleSeeker::turned_up(Instant at) {
    double const length = valley_at_ ? seconds(at - *valley_at_) : 0;
    if (valley_at_ && peak_seen_ && length >= shortest_s && length <= longest_s) {
        double const mean = origin_ + (area_at_extreme_ - area_at_valley_) / length;
        periods_[static_cast<std::size_t>(next_)] = {length, mean, extreme_, last_peak_};
        next_ = (next_ + 1) % kept_;
        count_ = std::min(count_ + 1, kept_);
    }
    valley_at_ = at;
    area_at_valley_ = area_at_extreme_;
    last_valley_ = extreme_;
    fall_ = last_peak_ - last_valley_;
    peak_seen_ = false;
}

// The smaller of the last two swings: a long warm-up says nothing about the swing that follows it, nor does
// an opened door, down and up again: the usual one counts then, and what has not come back to its extreme for
// longer than it took to get there expects less and less.
double CycleSeeker::expected_swing(Instant at) const {
    double swing = std::min(rise_, fall_);
    if (count_ >= least_alike) {
        std::array<double, kept_> swings{};
        for (std::size_t i = 0; i < static_cast<std::size_t>(count_); ++i)
            swings[i] = periods_[i].high - periods_[i].low;
        swing = std::min(swing, median(swings, count_));
    }
    if (!valley_at_) return swing;
    double const took = std::max(seconds(extreme_at_ - *valley_at_), shortest_s);
    return swing * std::min(1.0, took / std::max(seconds(at - extreme_at_), 1.0));
}

void CycleSeeker::take(Instant at, double level, double least_swing) {
    if (!begun_) {
        begun_ = true;
        origin_ = extreme_ = last_peak_ = last_valley_ = level;
        extreme_at_ = begun_at_ = at;
    } else {
        area_ += seconds(at - last_at_) * (0.5 * (level + last_level_) - origin_);
    }
    last_level_ = level;
    last_at_ = at;
    if (recalled_) {
        double const margin = recalled_margin * (recalled_->high - recalled_->low);
        bool const within = level > recalled_->low - margin && level < recalled_->high + margin;
        bool const young = seconds(at - begun_at_) < recalled_periods * recalled_->period_s;
        if (!within || !young) recalled_.reset();
    }
    double const turn = std::max(least_swing, turn_part * expected_swing(at));
    bool const further = direction_ >= 0 ? level >= extreme_ : level <= extreme_;
    if (direction_ == 0) {
        if (std::abs(level - extreme_) > turn) direction_ = level > extreme_ ? 1 : -1;
        if (direction_ == 0) return;
    } else if (!further) {
        if (std::abs(level - extreme_) <= turn) return;
        if (direction_ > 0) {
            last_peak_ = extreme_;
            rise_ = last_peak_ - last_valley_;
            peak_seen_ = true;
        } else {
            turned_up(extreme_at_);
        }
        direction_ = -direction_;
    }
    extreme_ = level;
    extreme_at_ = at;
    area_at_extreme_ = area_;
}

std::optional<Cycle> CycleSeeker::cycle(Instant now) const {
    if (count_ < least_alike) return recalled_;
    std::array<double, kept_> lengths{}, swings{};
    for (int i = 0; i < count_; ++i) {
        Period const& p = periods_[static_cast<std::size_t>(i)];
        lengths[static_cast<std::size_t>(i)] = p.length_s;
        swings[static_cast<std::size_t>(i)] = p.high - p.low;
    }
    double const length = median(lengths, count_), swing = median(swings, count_);
    if (valley_at_ && seconds(now - *valley_at_) > overdue * length) return std::nullopt;
    Cycle cycle{0, 0, 1e9, -1e9};
    int alike = 0;
    for (int i = 0; i < count_; ++i) {
        Period const& p = periods_[static_cast<std::size_t>(i)];
        if (std::abs(p.length_s - length) > alike_length * length) continue;
        if (std::abs(p.high - p.low - swing) > alike_swing * swing) continue;
        ++alike;
        cycle.period_s += p.length_s;
        cycle.mean += p.mean * p.length_s;
        cycle.low = std::min(cycle.low, p.low);
        cycle.high = std::max(cycle.high, p.high);
    }
    if (alike < least_alike) return std::nullopt;
    cycle.mean /= cycle.period_s;
    cycle.period_s /= alike;
    return cycle;
}

}  // namespace ingle
