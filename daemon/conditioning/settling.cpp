#include "daemon/conditioning/settling.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {

namespace {

// Slow probes have time constants of up to 40 s: over two windows in a row an approach bends, a trend does
// not.
constexpr Span least_window = std::chrono::seconds(30);
constexpr double coarse_s_per_k = 40;                        // a coarse instrument is looked at for longer
constexpr Span longest = std::chrono::minutes(5);            // what bends for longer is what the vessel does
constexpr Span longest_in_all = std::chrono::minutes(10);    // however often it is disturbed anew
constexpr Span slower_than_tips = std::chrono::seconds(60);  // between readings: each shows it as it is
constexpr double straight = 0.2;                             // of the rate: how far the two may differ
constexpr double quiet_share = 0.02;                         // of `fast_`: as good as still
constexpr double looked_back_s = 10, compared_s = 30;
// A slow tip, or a coarse one, shows its step as a rate that half of `fast_` changes by within such a window.
constexpr double slow_onset_s[] = {15, 30}, onset_share = 0.5;
// Upward from rest more: a small pot under a lid and a full flame rises by nearly 0.2 K/s.
constexpr double rising_share = 0.67;

// A climb that runs straight over such a window, its halves and the window before is a liquid's: a tip bends,
// the slowest by a third in 15 s. So long as it takes to move well beyond the noise.
constexpr double least_climb_s = 15, longest_climb_s = 30, climb_s_per_k = 20, climb_k = 5;
constexpr double least_climb = 3.0 / 60, even_climb = 0.1;
constexpr Span newest = std::chrono::seconds(30), rare = std::chrono::seconds(10);

}  // namespace

std::optional<Span> Settling::climbs(Lately const& lately, double noise, double step, Span every) const {
    // Of readings that are further apart, a window and its halves hold two each.
    double const least_s = every > rare ? 2 * seconds(every) : least_climb_s;
    auto const pace = lately.rate(least_s, 0);
    if (!pace || *pace < least_climb) return std::nullopt;
    double const w = std::clamp(climb_k / *pace, least_s, std::max(least_s, longest_climb_s)) +
                     climb_s_per_k * std::min(step, 1.0);
    auto const newer = lately.rate(w, 0), older = lately.rate(2 * w, w);
    auto const last = lately.rate(w / 2, 0), first = lately.rate(w, w / 2);
    if (!newer || !older || !last || !first || *older <= 0 || *newer < least_climb) return std::nullopt;
    bool const even = *last >= (1 - even_climb) * *first - noise / w;
    bool const runs_on = std::abs(*newer - *older) <= straight * std::max(*newer, *older) + noise / w;
    return even && runs_on ? std::optional(from_seconds(w)) : std::nullopt;
}

bool Settling::take(Instant at, Lately const& lately, double noise, double step, Span every) {
    if (every >= slower_than_tips) {
        // Of a leap between two of them the next one may still be its end.
        Span const since = leapt_ && every <= longest ? at - *leapt_ : 4 * every;
        bool const news = !settled_;
        settled_ = since >= 2 * every - every / 4;
        window_ = since < 3 * every ? every : 2 * every;
        return news && settled_;
    }
    auto const straight_up = climbs(lately, noise, step, every);
    // Faster than it can be, and than it was just before: a long climb is no disturbance.
    double const looked_back = std::max(looked_back_s, seconds(every));
    auto const now = lately.rate(looked_back, 0),
               before = lately.rate(std::max(compared_s, 3 * looked_back), looked_back);
    if (settled_ && !straight_up && now &&
        std::abs(*now - before.value_or(0)) > fast_ + (4 * noise + step) / looked_back)
        disturb(at);
    for (double const w : slow_onset_s) {
        auto const newer = lately.rate(w, 0), older = lately.rate(2 * w, w);
        if (!settled_ || straight_up || !newer || !older) continue;
        double const share = *newer > 0 && *newer > *older ? rising_share : onset_share;
        if (std::abs(*newer - *older) > share * fast_ + (2 * noise + step) / w) disturb(at);
    }
    if (settled_) return false;
    window_ = std::max({least_window, from_seconds(coarse_s_per_k * std::min(step, 1.0)), 2 * every});
    // Whoever sees the leap in the newest readings sees no climb.
    if (straight_up && (!leapt_ || at - *leapt_ >= newest)) {
        window_ = *straight_up;
        return settled_ = true;
    }
    double const w = seconds(window_);
    auto const newer = lately.rate(w, 0), older = lately.rate(2 * w, w);
    // Within the newest window, too: there and back is not still.
    bool const even = now && newer &&
                      std::abs(*now - *newer) <=
                          quiet_share * fast_ + straight * std::abs(*newer) + 2.5 * noise / looked_back;
    bool const seen = at - disturbed_ >= 2 * window_ && newer && older && even;
    bool const still = seen && std::abs(*newer) <= quiet_share * fast_ + noise / w;
    bool const runs_straight =
        seen && std::abs(*newer - *older) <=
                    straight * std::max(std::abs(*newer), std::abs(*older)) + 1.5 * noise / w;
    settled_ = still || runs_straight || at - disturbed_ >= longest || at - first_ >= longest_in_all;
    return settled_;
}

}  // namespace ingle
