// Tells a spike from a step, without delay for ordinary samples. Fixed memory; belongs to one probe.
#pragma once

#include <array>
#include <span>

#include "drivers/reading/clock.hpp"

namespace ingle {

struct HampelLimit {
    double median = 0;
    double limit = 0;  // a sample further than this from the median is an outlier
};

// Median and n times the scaled median absolute deviation (1.4826, so that it estimates a standard deviation)
// of at most Despiker::window samples. `least_sd` stands in when the samples are quantised or equal and their
// deviation is 0. Source: Hampel's identifier in its usual form.
HampelLimit hampel(std::span<double const> samples, double n, double least_sd);

class Despiker {
public:
    static constexpr int window = 11;       // samples looked back at
    static constexpr int longest_hold = 5;  // then what is held is accepted, whatever it looks like
    static constexpr int step_after = 3;    // this many held on one side of the median are a real step
    // 5 and not the customary 3: at 3 a day of 1 Hz noise has hundreds of "spikes"; real ones are many
    // kelvin.
    static constexpr double strictness = 5.0;
    // What the first of them differs from the reading before by, at most, is no step: in standard deviations.
    static constexpr double led_up = 2.5;

    enum class Verdict {
        good,       // believe it
        hold,       // might be a spike: keep it until a later sample decides
        spikes,     // this one is good, all that are held were spikes
        step,       // this one and all that are held are real: a step
        ramp,       // they are real, and the readings have led up to them: no step
        scattered,  // held too long and no step: take this one and the held ones, but doubt them
        alone       // far off, and the next one comes too late to wait for: take it, but doubt it until then
    };

    // `least_sd`: K, the smallest standard deviation that this probe can have. `since`: the sample before it.
    // Nothing is held for longer than `longest_held`: where samples are rarer, fewer of them are a step, or
    // none is waited for; and what is further apart than `comparable` is believed as it comes.
    Verdict take(double celsius, double least_sd, Span since);
    static constexpr Span longest_held = std::chrono::seconds(30), comparable = std::chrono::minutes(5);
    int held() const { return held_count_; }
    void reset() { *this = {}; }
    template <class Visit>
    void fields(Visit& visit) {  // what is held is not kept: it was waiting for a reading that never came
        visit(ring_);
        visit.index(size_, window + 1);
        visit.index(next_, window);
    }

private:
    void keep(double celsius);
    double newest() const { return ring_[static_cast<std::size_t>((next_ + window - 1) % window)]; }
    void restart_with_held();

    std::array<double, window> ring_{};
    int size_ = 0, next_ = 0;
    std::array<double, longest_hold> held_{};
    int held_count_ = 0;
    int above_ = 0;  // of the held ones
};

}  // namespace ingle
