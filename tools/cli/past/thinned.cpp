#include "tools/cli/past/thinned.hpp"

#include <algorithm>
#include <vector>

#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {

void Thinned::look(logbook::Reader& reader, std::string const& probe, WallSpan span,
                   logbook::History const& readings) {
    constexpr auto minute = std::chrono::minutes(1);
    std::vector<WallTime> times;
    for (auto const& point : readings.points) times.push_back(point.at.wall);
    std::ranges::sort(times);
    auto const minutes = reader.history({{probe, {span.from, span.to}, minute, false}});
    for (auto const& point : minutes.front().points) {
        // A minute of the logbook begins with the boot's, not with the wall's.
        auto const near = std::ranges::lower_bound(times, point.at.wall - minute);
        auto const end = point.at.wall + point.width;
        if (point.n == 0 || (near != times.end() && *near < end + minute)) continue;
        if (!where_) where_ = WallSpan{point.at.wall, end};
        where_->from = std::min(where_->from, point.at.wall);
        where_->to = std::max(where_->to, end);
    }
}

std::string Thinned::words() const {
    if (!where_) return {};
    return "between " + time_text(where_->from) + " and " + time_text(where_->to) +
           " the single readings are not kept any more (keep-readings), only the lowest, mean and highest of "
           "each minute: `ingle history --grain \"1 min\" --csv` has them";
}

}  // namespace ingle::cli
