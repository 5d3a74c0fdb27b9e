#include "tools/cli/time/time_ticks.hpp"

#include <algorithm>
#include <cmath>

#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {

double time_step(double length, std::size_t most) {
    double const parts = static_cast<double>(std::max<std::size_t>(most, 1));
    for (double const step : {1., 5., 10., 30., 60., 120., 300., 600., 900., 1800., 3600., 7200., 10800.,
                              21600., 43200., 86400., 172800.})
        if (length / step <= parts) return step;
    return std::ceil(length / parts / 86400) * 86400;
}

std::vector<std::pair<WallTime, std::string>> time_ticks(WallSpan span, std::size_t most) {
    using std::chrono::seconds;
    auto const step = from_seconds(time_step(ingle::seconds(span.to - span.from), most));
    std::vector<std::pair<WallTime, std::string>> ticks;
    // Counted in local time, whose offset may change on the way.
    auto const local = [](WallTime at) { return local_zone().local(at).time_since_epoch(); };
    auto at = span.from + (step - local(span.from) % step) % step;
    for (; at < span.to; at += step) {
        // Across a change of the clocks a step of hours lands beside the full hour: back onto it.
        if (auto const off = local(at) % step; off.count() != 0) at += off * 2 < step ? -off : step - off;
        if (at < span.from || at >= span.to) continue;
        bool const midnight = local(at) % Span(seconds(86400)) == Span(0);
        auto text = time_text(at, midnight, step < Span(seconds(60)));
        if (midnight) text = text.substr(9, 5);
        ticks.emplace_back(at, std::move(text));
    }
    return ticks;
}

}  // namespace ingle::cli
