#include "daemon/food/slide_watch.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace ingle {
namespace {

constexpr std::array scales_s{60.0, 120.0, 180.0, 300.0, 600.0};
constexpr std::array slow_scales_s{300.0, 600.0, 1200.0, 1800.0};  // of a way that gets faster again
constexpr double bin_s = 15, longest_apart_s = 330;  // further apart than the slowest rhythm nothing is known
constexpr double around_share = 1.0 / 8;             // of a scale: what is read so near to a moment is one
// Of four readings with their resolution, and of the means of some.
constexpr double noise_k = 4, mean_noise_k = 2;
constexpr double least_k = 4;  // a tip that settles in its hole may go so far
constexpr int some = 3;
// From one temperature on, in surroundings of one, the middle of a sphere goes fastest at 0.26 of its way, of
// anything else earlier (Carslaw and Jaeger's series): from here on it slows down. What is not read may be
// an oven at 400 degF.
constexpr double slows_from_share = 0.28, unread_around_c = 204, regained_k = 3;
constexpr double warmer_k = 3;  // of what is around it, by more than it swings

}  // namespace

void SlideWatch::take(double t, double celsius, double coldest_c, std::optional<double> around_c) {
    if (!bins_.empty() && t - bins_.back().last > longest_apart_s) bins_.clear();
    if (bins_.empty() || t - bins_.back().first >= bin_s - 1e-6) {
        bins_.push_back({t, t, 0, 0, 0, coldest_c, around_c});
        double const oldest = t - (3 + around_share) * slow_scales_s.back();
        while (bins_.size() > 1 && bins_[1].last <= oldest) bins_.pop_front();
    }
    auto& bin = bins_.back();
    ++bin.readings;
    bin.last = t;
    bin.t += (t - bin.t) / bin.readings;
    bin.c += (celsius - bin.c) / bin.readings;
    bin.coldest_c = std::min(bin.coldest_c, coldest_c);
    if (around_c) bin.around_c = std::max(bin.around_c.value_or(*around_c), *around_c);
}

// The mean of what was read around it; of a slow rhythm, on the line between two.
std::optional<SlideWatch::Level> SlideWatch::level_at(double t, double around_s) const {
    Level level;
    double at = 0;
    for (auto bin = std::ranges::lower_bound(bins_, t - around_s, {}, &Bin::t);
         bin != bins_.end() && bin->t <= t + around_s; ++bin) {
        level.c += bin->c;
        at += bin->t;
        ++level.bins;
    }
    auto const after = std::ranges::lower_bound(bins_, t, {}, &Bin::t);
    if (level.bins > 1) {
        level.c /= level.bins;
        level.t = at / level.bins;
        return level;
    }
    if (after == bins_.end() || (after == bins_.begin() && after->t - t > 1e-6)) return std::nullopt;
    if (after->t - t <= 1e-6) return Level{t, after->c, 1};
    auto const& before = *std::prev(after);
    return Level{t, before.c + (after->c - before.c) * (t - before.t) / (after->t - before.t), 1};
}

std::optional<SlideWatch::Slide> SlideWatch::seen(BodyBounds const& bounds, bool to_warmer) const {
    if (bins_.size() < 4) return std::nullopt;
    double const way = to_warmer ? 1 : -1;
    for (double const scale : scales_s) {
        double const around = around_share * scale, newest = bins_.back().t - around;
        if (bins_.back().t - bins_[bins_.size() - 2].t > scale + 1e-6) continue;
        std::array<Level, 4> level;
        bool known = true, fine = true;
        for (std::size_t i = 0; known && i < level.size(); ++i) {
            auto const one = level_at(newest - static_cast<double>(3 - i) * scale, around);
            known = one.has_value();
            if (known) level[i] = *one, fine = fine && one->bins >= some;
        }
        if (!known) continue;
        auto const gone = [&](std::size_t from, std::size_t to) {
            return way * (level[to].c - level[from].c);
        };
        // One wild reading among them is no way.
        double const quick = std::min({gone(1, 2), gone(0, 2), gone(1, 3)});
        double const usual = std::max({0.0, gone(0, 1), gone(2, 3)});
        if (quick - usual > least_k &&
            quick - usual > (fine ? mean_noise_k : noise_k) + bounds.relaxed(scale) * quick)
            return Slide{level[1].t, level[1].c, way * gone(0, 1) / scale};
    }
    return std::nullopt;
}

std::optional<SlideWatch::Slide> SlideWatch::regained(double hottest_c) const {
    // Once a bin is enough.
    if (bins_.size() < 4 || bins_.back().readings > 1) return std::nullopt;
    double const coldest = std::ranges::min(bins_, {}, &Bin::c).c;
    double goal = bins_.back().around_c ? hottest_c : unread_around_c;
    for (auto const& bin : bins_) goal = std::max(goal, bin.around_c.value_or(goal));
    double const slows_from = coldest + slows_from_share * (goal - coldest), first = bins_.front().t,
                 third = (bins_.back().t - first) / 3;
    for (double const scale : slow_scales_s) {
        double const around = around_share * scale, newest = bins_.back().t - around;
        if (bins_.back().t - bins_[bins_.size() - 2].t > scale + 1e-6) continue;
        auto const oldest = level_at(newest - 3 * scale, around),
                   before = level_at(newest - 2 * scale, around), from = level_at(newest - scale, around),
                   to = level_at(newest, around);
        if (!oldest || !before || !from || !to || from->c < slows_from) continue;
        double const usual = std::max({0.0, from->c - before->c, before->c - oldest->c});
        // One wild reading among them is no way.
        double const there = to->bins >= some ? to->c : std::min(to->c, bins_[bins_.size() - 2].c);
        double const quick = std::min(there - from->c, there - before->c - usual);
        if (quick - usual <= regained_k) continue;
        if (warmer_around(newest - 2 * scale, newest - 3 * scale, newest - 2 * scale)) continue;
        if (warmer_around(newest - scale, first, first + third)) continue;
        return Slide{from->t, from->c, usual / scale};
    }
    return std::nullopt;
}

// What is around the food has been warmer since then than it was before, on the mean and as far as it was
// read.
bool SlideWatch::warmer_around(double since, double from, double to) const {
    double sum[2] = {0, 0};
    int bins[2] = {0, 0};
    for (auto const& bin : bins_) {
        bool const newer = bin.t >= since;
        if (!bin.around_c || (!newer && (bin.t < from || bin.t > to))) continue;
        sum[newer] += *bin.around_c;
        ++bins[newer];
    }
    return bins[0] > 0 && bins[1] > 0 && sum[1] / bins[1] > sum[0] / bins[0] + warmer_k;
}

// However it is heated or cooled, from one temperature on the middle of a body has at each moment done its
// way to its surroundings no faster than by its slowest mode: what is left of it is exp(-decay a t / R^2) or
// more (Carslaw and Jaeger's series, as in body_bounds.cpp).
std::optional<SlideWatch::Slide> SlideWatch::outran(BodyBounds const& bounds,
                                                    std::optional<double> hottest_c) const {
    if (bins_.size() < 2) return std::nullopt;
    double coldest = hottest_c ? freezer_c : bins_.back().coldest_c;
    double const since = bins_.back().last - (3 + around_share) * scales_s.back();
    for (auto const& bin : bins_)
        if (!hottest_c && bin.last > since) coldest = std::min(coldest, bin.coldest_c);
    for (double const scale : scales_s) {
        double const around = around_share * scale, newest = bins_.back().t - around;
        if (bins_.back().t - bins_[bins_.size() - 2].t > scale + 1e-6) continue;
        auto const from = level_at(newest - scale, around), to = level_at(newest, around);
        if (!from || !to) continue;
        double const gone = hottest_c ? to->c - from->c : from->c - to->c;
        double const whole = std::max(0.0, hottest_c ? *hottest_c - from->c : from->c - coldest);
        // The mean of a time is that of its middle; both are of one length.
        if (gone > noise_k + bounds.relaxed(scale) * whole) return Slide{from->t, from->c, 0};
    }
    return std::nullopt;
}

}  // namespace ingle
