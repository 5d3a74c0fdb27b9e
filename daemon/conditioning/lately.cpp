#include "daemon/conditioning/lately.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {

namespace {

constexpr Span newest = std::chrono::seconds(30);
constexpr int least_readings = 3;
// What is told now is seen beside the next reading: it is counted in.
constexpr int least_bounding = least_readings - 1;
constexpr double most_margin = 0.8;        // K: no noise excuses more
constexpr double contradicted = 1.0 / 60;  // K/s the other way, beyond the noise
constexpr double contradicted_k = 0.8;     // K, however coarse it is
constexpr double windows_s[] = {30, 60, 120, 240};
constexpr int newest_left_out = 2;  // of which way it went: a scattered reading or two may hide it

}  // namespace

void Lately::take(Instant at, double celsius) {
    auto const c = static_cast<float>(celsius);
    if (single_count_ == 0 || at - single(0).at >= apart_) {
        newest_singles_[static_cast<std::size_t>(next_single_)] = {at, c};
        next_single_ = (next_single_ + 1) % singles_;
        single_count_ = std::min(single_count_ + 1, singles_);
    }
    auto& block = ring_[static_cast<std::size_t>(newest_)];
    if (count_ == 0 || at - block.first >= block_) {
        newest_ = (newest_ + 1) % blocks_;
        count_ = std::min(count_ + 1, blocks_);
        ring_[static_cast<std::size_t>(newest_)] = {at, at, 0, c, c, 1, refused_};
        refused_ = 0;
        return;
    }
    block.last = at;
    if (c < block.low) {
        block.sum += static_cast<float>(block.count) * (block.low - c);
        block.low = c;
    }
    block.high = std::max(block.high, c);
    block.sum += c - block.low;
    ++block.count;
}

void Lately::forget_before(Instant at) {
    while (count_ > 1 && ago(count_ - 1).first < at) --count_;
}

std::optional<double> Lately::moved(int without) const {
    int const known = single_count_ - without;
    if (known < least_readings) return std::nullopt;
    int count = least_readings;
    while (count < known && single(without).at - single(without + count).at <= newest) ++count;
    int const third = count < 6 ? 1 : std::max(3, count / 3);
    auto const median = [&](int from) {
        std::array<float, singles_> values{};
        auto const middle = values.begin() + third / 2, end = values.begin() + third;
        for (int i = 0; i < third; ++i)
            values[static_cast<std::size_t>(i)] = single(without + from + i).celsius;
        std::nth_element(values.begin(), middle, end);
        return *middle;
    };
    return median(0) - median(count - third);
}

std::optional<double> Lately::rate(double from_s, double to_s) const {
    if (count_ < 2) return std::nullopt;
    Instant const now = ago(0).last;
    // The block whose middle is nearest; it must be near.
    auto const at = [&](double s) -> Block const* {
        Block const* best = nullptr;
        double least = 0;
        for (int n = 0; n < count_; ++n) {
            double const off = std::abs(seconds(now - middle(ago(n))) - s);
            if (!best || off < least) best = &ago(n), least = off;
            if (seconds(now - middle(ago(n))) > s) break;
        }
        return best && least <= std::max(seconds(block_), 0.25 * s) ? best : nullptr;
    };
    auto const* then = at(from_s);
    auto const* late = at(to_s);
    if (!then || !late || then == late) return std::nullopt;
    return (mean(*late) - mean(*then)) / seconds(middle(*late) - middle(*then));
}

void Lately::widen(Bounds& bounds, Block const& block, int count) const {
    int found = 0;
    for (int i = 0; i < single_count_ && found < count && single(i).at >= block.first; ++i) {
        if (single(i).at > block.last) continue;
        bounds.low = std::min<double>(bounds.low, single(i).celsius);
        bounds.high = std::max<double>(bounds.high, single(i).celsius);
        ++found;
    }
    if (found > 0) return;
    bounds.low = std::min<double>(bounds.low, block.low);  // one by one they did not survive a restart
    bounds.high = std::max<double>(bounds.high, block.high);
}

Bounds Lately::bounds(double noise, int waiting, Instant newest_at) const {
    Bounds b;
    if (count_ == 0) return b;
    Instant const now = ago(0).last;
    Span const next = std::max(now, newest_at) - now + (count_ > 1 ? now - ago(1).last : Span(0));
    b.low = ago(0).low;
    b.high = ago(0).high;
    int readings = ago(0).count, passed_over = waiting + ago(0).refused, back = 1;
    for (; back < count_ && (readings < least_readings || now - ago(back).first <= newest); ++back) {
        bool const lately = now + next - ago(back).first <= newest;
        int const wanted = lately ? ago(back).count : least_bounding - readings - passed_over;
        if (wanted >= ago(back).count) {
            b.low = std::min<double>(b.low, ago(back).low);
            b.high = std::max<double>(b.high, ago(back).high);
        } else if (wanted > 0) {
            widen(b, ago(back), wanted);
        }
        readings += ago(back).count;
        passed_over += ago(back).refused;
    }
    // What read one value all along, as a coarse instrument does, is at no other.
    double const margin = b.high > b.low || readings < least_readings ? std::min(most_margin, noise) : 0;
    b.low -= margin;
    b.high += margin;
    if (readings + waiting < least_readings || count_ < 2) {
        b.rate_low = b.rate_high = 0;  // that is no rate yet
        return b;
    }

    // Where readings are rare, "lately" is as long as three of them take.
    auto const& oldest = ago(back - 1);
    auto const pair = [&](int n) { return 0.5 * (mean(ago(n)) + mean(ago(n + 1))); };
    double const shortest = seconds(middle(ago(0)) - middle(oldest));
    if (shortest <= 0) return b;
    double const recent = (mean(ago(0)) - mean(oldest)) / shortest, slack = 2 * noise / shortest;
    double least = recent, most = recent;
    for (double const s : windows_s)
        if (auto const r = s > shortest ? rate(s, 0) : std::nullopt) {
            least = std::min(least, *r);
            most = std::max(most, *r);
        }
    b.rate_low = std::min(least, 0.0) - slack;
    b.rate_high = std::max(most, 0.0) + slack;
    // What the newest readings contradict is not told, whatever was true before.
    double const limit = std::min(contradicted + slack, contradicted_k / shortest);
    double const blocks = back > 3 ? pair(0) - pair(back - 2) : recent * shortest;
    double const medians = moved().value_or(0);
    double most_up = medians, most_down = medians;
    for (int without = 1; without <= newest_left_out; ++without) {
        double const before = moved(without).value_or(0);
        if (medians >= 0) most_up = std::max(most_up, before);
        if (medians <= 0) most_down = std::min(most_down, before);
    }
    if (blocks > limit * shortest || most_up > contradicted_k) b.rate_low = 0;
    if (blocks < -limit * shortest || most_down < -contradicted_k) b.rate_high = 0;
    return b;
}

}  // namespace ingle
