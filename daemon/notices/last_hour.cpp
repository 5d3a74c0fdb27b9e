#include "daemon/notices/last_hour.hpp"

#include <algorithm>
#include <cmath>

namespace ingle {
namespace {

constexpr Span length{3'600'000};
constexpr Span bin_length{20'000};  // 180 columns
constexpr Span shortest{20'000};    // a chart of less says nothing
constexpr Span joined_at_least{10'000};
constexpr std::size_t most_bins = 1800;

}  // namespace

LastHour::LastHour(Settings const& settings) : settings_(settings) {
    for (auto const& probe : settings.probes) {
        Span const every(std::llround(probe.every.seconds * 1000));
        probes_.push_back({probe.name, std::max(every * 3, joined_at_least), {}, true});
    }
    for (auto const& vessel : settings.vessels) vessels_.push_back({vessel.name, {}});
}

void LastHour::note(Recorded const& reading) {
    if (!since_) since_ = reading.at;
    auto& probe = probes_[static_cast<std::size_t>(reading.probe)];
    bool const good = reading.quality == Quality::good || reading.quality == Quality::doubtful;
    if (!good || !reading.celsius) {
        probe.cut = probe.cut || reading.quality == Quality::faulty;
        return;
    }
    auto& bins = probe.bins;
    bool const gap = bins.empty() || probe.cut || reading.at - bins.back().last > probe.joined;
    if (gap || reading.at - bins.back().first >= bin_length) {
        bins.push_back({reading.at, reading.at, *reading.celsius, *reading.celsius, gap});
    } else {
        bins.back().last = reading.at;
        bins.back().low = std::min(bins.back().low, *reading.celsius);
        bins.back().high = std::max(bins.back().high, *reading.celsius);
    }
    probe.cut = false;
    while (bins.size() > most_bins || bins.front().last < reading.at - length) bins.pop_front();
}

void LastHour::note_bands(View const& view) {
    if (!since_) since_ = view.at;
    for (std::size_t i = 0; i < vessels_.size() && i < view.vessels.size(); ++i) {
        auto& changes = vessels_[i].changes;
        if (changes.empty() || changes.back().band != view.vessels[i].band)
            changes.push_back({view.at, view.vessels[i].band});
        while (changes.size() > 1 && changes[1].at < view.at - length) changes.pop_front();
    }
}

void LastHour::continue_from(LastHour const& earlier) {
    since_ = earlier.since_;
    for (auto& probe : probes_) {
        auto const same = std::ranges::find(earlier.probes_, probe.name, &Probe::name);
        if (same != earlier.probes_.end()) probe.bins = same->bins;
    }
    for (auto& vessel : vessels_) {
        auto const same = std::ranges::find(earlier.vessels_, vessel.name, &Vessel::name);
        if (same != earlier.vessels_.end()) vessel.changes = same->changes;
    }
}

std::optional<Chart> LastHour::chart(Subject subject, Instant now) const {
    auto const at = static_cast<std::size_t>(subject.number);
    int const number = subject.kind == SubjectKind::probe    ? subject.number
                       : subject.kind == SubjectKind::vessel ? settings_.vessels[at].medium
                       : subject.kind == SubjectKind::dish   ? settings_.dishes[at].core
                                                             : -1;
    if (number < 0 || !since_) return {};
    auto const begin = std::max(*since_, now - length);
    Chart chart;
    chart.unit = settings_.units;
    chart.span_s = seconds(now - begin);
    if (now - begin < shortest) return {};
    auto const& probe = probes_[static_cast<std::size_t>(number)];
    auto unread_from = begin;
    auto const unread_until = [&](Instant until) {
        if (until - unread_from > probe.joined) chart.unread_s += seconds(until - unread_from);
    };
    for (auto const& bin : probe.bins) {
        if (bin.first < begin || bin.last > now) continue;
        if (bin.after_gap || chart.runs.empty()) {
            unread_until(bin.first);
            chart.runs.emplace_back();
        }
        chart.runs.back().push_back({seconds(bin.first - begin), bin.low, bin.high});
        if (bin.last > bin.first) chart.runs.back().push_back({seconds(bin.last - begin), bin.low, bin.high});
        unread_from = bin.last;
    }
    if (chart.runs.empty()) return {};
    unread_until(now);
    if (subject.kind != SubjectKind::vessel) return chart;
    auto const& changes = vessels_[at].changes;
    for (auto change = changes.begin(); change != changes.end(); ++change) {
        auto const until = std::next(change) == changes.end() ? now : std::next(change)->at;
        if (change->band && until > begin)
            chart.bands.push_back({seconds(std::max(change->at, begin) - begin), seconds(until - begin),
                                   change->band->low.celsius, change->band->high.celsius});
    }
    return chart;
}

std::string in_words(Chart const& chart) {
    double low = chart.runs.front().front().low, high = chart.runs.front().front().high;
    for (auto const& run : chart.runs)
        for (auto const& point : run) low = std::min(low, point.low), high = std::max(high, point.high);
    auto text = chart.subject;
    text += chart.from.empty() ? " over the last " + show(Duration{std::round(chart.span_s / 60) * 60})
                               : " from " + chart.from + " to " + chart.to;
    text += ": " + show(Temperature{low}, chart.unit) + " to " + show(Temperature{high}, chart.unit);
    constexpr double told_from_s = 10, a_minute_s = 60;
    if (chart.unread_s >= told_from_s) {
        auto const step_s = chart.unread_s < a_minute_s ? 1 : a_minute_s;
        text +=
            ", " + show(Duration{std::round(chart.unread_s / step_s) * step_s}) + " of it without a reading";
    }
    return text + ".";
}

}  // namespace ingle
