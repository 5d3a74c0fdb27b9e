// What the channels that show the kitchen, or a chart, are given of it.
#include "daemon/run/names.hpp"
#include "daemon/run/notice_desk.hpp"

namespace ingle {

void NoticeDesk::show() {
    if (!view_) return;
    auto const view = view_();
    if (knows_the_past_()) know_open(view.alarms);
    if (wants_charts_) hour_.note_bands(view);
    if (wants_state_) delivery_->show_state(view);
}

void NoticeDesk::add_chart(Notice& notice, Tell const& tell, std::optional<ClockAnchor> const& clock,
                           TimeZone const& zone) const {
    if (!wants_charts_ || tell.alarms.empty()) return;
    auto chart = hour_.chart(most_important(tell).subject, tell.at);
    if (!chart) return;
    chart->subject = notice.subject;
    auto const time_of_day = [&](Instant at) {
        auto const iso = wall_text(at, clock, zone);
        return iso.size() < 16 ? std::string() : iso.substr(11, 5);
    };
    chart->from = time_of_day(tell.at - Span(static_cast<std::int64_t>(chart->span_s * 1000)));
    chart->to = time_of_day(tell.at);
    notice.chart = std::make_shared<Chart const>(std::move(*chart));
}

}  // namespace ingle
