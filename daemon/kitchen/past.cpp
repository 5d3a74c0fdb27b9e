// The newest hours of readings, for what is said of a dish afterwards: when it began, or that an order was
// not meant.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

constexpr Span apart = std::chrono::seconds(10);
constexpr Span kept_for = std::chrono::hours(4);
constexpr Span lost_after = std::chrono::seconds(60);

}  // namespace

void Kitchen::Impl::keep_recent(Recorded const& row) {
    auto& of_probe = recent[static_cast<std::size_t>(row.probe)];
    if (!of_probe.empty() && row.at - of_probe.back().at < apart) return;
    of_probe.push_back({row.at, *row.celsius, row.quality});
    while (row.at - of_probe.front().at > kept_for) of_probe.pop_front();
}

// The dish, as it was at `from`, is given what was read since, and its stages go on as they would have. What
// is neither kept nor in `record` is unknown.
void Kitchen::Impl::live_through(int number, Instant from, std::span<PastReading const> record,
                                 Effects& out) {
    auto& dish = dishes[static_cast<std::size_t>(number)];
    auto const present = now;
    auto const signals_now = signals;
    std::vector<Recorded> rows;
    for (auto const& one : record) {
        auto const& kept = recent[static_cast<std::size_t>(one.probe)];
        if (one.at < from || one.at >= (kept.empty() ? now : kept.front().at)) continue;
        auto const quality = one.doubtful ? Quality::doubtful : Quality::good;
        rows.push_back({one.probe, one.at, quality, one.celsius, one.celsius, {}, {}, {}});
    }
    for (int p = 0; p < static_cast<int>(recent.size()); ++p)
        for (auto const& one : recent[static_cast<std::size_t>(p)])
            if (one.at >= from)
                rows.push_back({p, one.at, one.quality, one.celsius, one.celsius, {}, {}, {}});
    std::ranges::stable_sort(rows, [&](Recorded const& a, Recorded const& b) {
        auto const core = [&](Recorded const& row) {
            return probes[static_cast<std::size_t>(row.probe)].is_core;
        };
        return a.at != b.at ? a.at < b.at : core(a) < core(b);
    });
    for (auto& signal : signals) signal.fresh = false;
    auto row = rows.begin();
    for (now = row == rows.end() ? present : std::max(from, row->at); now < present; now += apart) {
        for (; row != rows.end() && row->at <= now; ++row) {
            feed(dish, *row);
            auto& signal = signals[static_cast<std::size_t>(row->probe)];
            signal = {};
            signal.probe = row->probe;
            signal.fresh = true;
            signal.celsius = signal.level = *row->celsius;
            signal.age = Span(0);
            signal.doubtful = row->quality != Quality::good;
            signal.sample_at = row->at;
        }
        for (auto& signal : signals)
            if (now - signal.sample_at > lost_after) signal.fresh = false;
        CookOutput cooked;
        dish.cook.step(situation_of(number, false), cooked);
        cooked.findings.clear();
        cooked.forecast.reset();
        for (auto& event : cooked.events) event.numbers.emplace_back("afterwards", 1);
        absorb(number, cooked, out);
    }
    now = present;
    signals = signals_now;
}

}  // namespace ingle
