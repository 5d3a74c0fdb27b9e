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

}  // namespace

bool Settling::take(Instant at, Lately const& lately, double noise, double step, Span every) {
    if (every >= slower_than_tips) {
        bool const news = !settled_;
        settled_ = true;
        window_ = 2 * every;
        return news;
    }
    // Faster than it can be, and than it was just before: a long climb is no disturbance.
    auto const now = lately.rate(looked_back_s, 0), before = lately.rate(compared_s, looked_back_s);
    if (settled_ && now && std::abs(*now - before.value_or(0)) > fast_ + (4 * noise + step) / looked_back_s)
        disturb(at);
    for (double const w : slow_onset_s) {
        auto const newer = lately.rate(w, 0), older = lately.rate(2 * w, w);
        if (!settled_ || !newer || !older) continue;
        double const share = *newer > 0 && *newer > *older ? rising_share : onset_share;
        if (std::abs(*newer - *older) > share * fast_ + (2 * noise + step) / w) disturb(at);
    }
    if (settled_) return false;
    window_ = std::max({least_window, from_seconds(coarse_s_per_k * std::min(step, 1.0)), 2 * every});
    double const w = seconds(window_);
    auto const newer = lately.rate(w, 0), older = lately.rate(2 * w, w);
    // Within the newest window, too: there and back is not still.
    bool const even = now && newer &&
                      std::abs(*now - *newer) <=
                          quiet_share * fast_ + straight * std::abs(*newer) + 2.5 * noise / looked_back_s;
    bool const seen = at - disturbed_ >= 2 * window_ && newer && older && even;
    bool const still = seen && std::abs(*newer) <= quiet_share * fast_ + noise / w;
    bool const runs_straight =
        seen && std::abs(*newer - *older) <=
                    straight * std::max(std::abs(*newer), std::abs(*older)) + 1.5 * noise / w;
    settled_ = still || runs_straight || at - disturbed_ >= longest || at - first_ >= longest_in_all;
    return settled_;
}

}  // namespace ingle
