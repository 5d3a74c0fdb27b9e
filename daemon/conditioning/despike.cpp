#include "daemon/conditioning/despike.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace ingle {

namespace {

constexpr double mad_to_sd = 1.4826;
constexpr int least_samples = 3;  // fewer say nothing about what is usual

double median_of(std::span<double> values) {
    // At most eleven values: plain insertion beats a general selection.
    for (std::size_t i = 1; i < values.size(); ++i) {
        double const v = values[i];
        std::size_t j = i;
        for (; j > 0 && values[j - 1] > v; --j) values[j] = values[j - 1];
        values[j] = v;
    }
    std::size_t const half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

}  // namespace

HampelLimit hampel(std::span<double const> samples, double n, double least_sd) {
    std::array<double, Despiker::window> room{};
    std::size_t const count = std::min(samples.size(), room.size());
    if (count == 0) return {0, n * least_sd};
    std::copy_n(samples.begin(), count, room.begin());
    std::span<double> const values(room.data(), count);
    double const median = median_of(values);
    for (double& v : values) v = std::abs(v - median);
    return {median, n * std::max(mad_to_sd * median_of(values), least_sd)};
}

void Despiker::keep(double celsius) {
    ring_[static_cast<std::size_t>(next_)] = celsius;
    next_ = (next_ + 1) % window;
    size_ = std::min(size_ + 1, window);
}

void Despiker::restart_with_held() {
    // What was usual before the step is no measure for what comes after it.
    size_ = next_ = 0;
    for (int i = 0; i < held_count_; ++i) keep(held_[static_cast<std::size_t>(i)]);
    held_count_ = above_ = 0;
}

Despiker::Verdict Despiker::take(double celsius, double least_sd, Span since) {
    if (since > comparable) reset();
    if (size_ < least_samples) {
        keep(celsius);
        return Verdict::good;
    }
    auto const [median, limit] =
        hampel({ring_.data(), static_cast<std::size_t>(size_)}, strictness, least_sd);
    if (std::abs(celsius - median) <= limit) {
        keep(celsius);
        bool const had = held_count_ > 0;
        held_count_ = above_ = 0;
        return had ? Verdict::spikes : Verdict::good;
    }
    if (since > longest_held) {
        size_ = next_ = held_count_ = above_ = 0;
        keep(celsius);
        return Verdict::alone;
    }
    int const enough = since.count() > 0
                           ? static_cast<int>(std::clamp<Span::rep>(longest_held / since, 2, step_after))
                           : step_after;
    if (held_count_ + 1 >= enough) {
        int const above = above_ + (celsius > median);
        bool const one_side = above == 0 || above == held_count_ + 1;
        if (one_side || held_count_ == longest_hold || (held_count_ + 1) * since >= longest_held) {
            double const first = held_count_ > 0 ? held_[0] : celsius;
            bool const jumped = std::abs(first - newest()) > led_up * least_sd;
            restart_with_held();
            keep(celsius);
            return !one_side ? Verdict::scattered : jumped ? Verdict::step : Verdict::ramp;
        }
    }
    held_[static_cast<std::size_t>(held_count_++)] = celsius;
    above_ += celsius > median;
    return Verdict::hold;
}

}  // namespace ingle
