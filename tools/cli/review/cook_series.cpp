#include "tools/cli/review/cook_series.hpp"

#include <algorithm>

namespace ingle::cli {
namespace {

// Of two values with no fault between them; where there are none, of any two.
void follow_rhythm(CookSeries& series) {
    std::vector<double> apart, of_any_kind;
    auto fault = series.faults.begin();
    for (std::size_t i = 1; i < series.samples.size(); ++i) {
        double const from = series.samples[i - 1].t, to = series.samples[i].t;
        of_any_kind.push_back(to - from);
        while (fault != series.faults.end() && fault->to <= from) ++fault;
        if (fault == series.faults.end() || fault->from >= to) apart.push_back(to - from);
    }
    if (apart.empty()) apart = std::move(of_any_kind);
    if (apart.empty()) return;
    auto const middle = apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2);
    std::nth_element(apart.begin(), middle, apart.end());
    double const share = *middle / series.every_s;
    if (share < 0.5 || share > 1.5) series.every_s = *middle;
}

}  // namespace

CookSeries series_of(std::string const& probe, logbook::History const& history, WallTime began,
                     Settings const& settings, std::vector<double>& lost_time) {
    CookSeries series;
    series.probe = probe;
    auto const since_began = [&](WallTime at) { return seconds(at - began); };
    logbook::Moment const* before = nullptr;
    for (auto const& point : history.points) {
        double const t = since_began(point.at.wall);
        if (!series.samples.empty() && t <= series.samples.back().t) continue;
        // Two boots of which one never learnt the time: how long it was off is not known.
        if (before && before->boot != point.at.boot && !(before->certain && point.at.certain))
            lost_time.push_back(t);
        series.samples.push_back({t, point.mean, point.doubtful});
        before = &point.at;
    }
    for (auto const& fault : history.faults)
        series.faults.push_back({since_began(fault.from.wall), since_began(fault.to.wall), fault.reason});
    auto const known = std::ranges::find(settings.probes, probe, &ProbeSettings::name);
    if (known != settings.probes.end()) series.every_s = known->every.seconds;
    follow_rhythm(series);
    return series;
}

}  // namespace ingle::cli
