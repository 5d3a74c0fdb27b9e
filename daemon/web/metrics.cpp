#include "daemon/web/metrics.hpp"

#include <charconv>
#include <cmath>
#include <map>
#include <set>

#include "daemon/web/json_parts.hpp"

namespace ingle {
namespace {

std::string plain(double value) {
    char buffer[32];
    auto const end = std::to_chars(buffer, buffer + sizeof buffer, value);
    return {buffer, end.ptr};
}

std::string label(std::string_view name, std::string_view value) {
    std::string text(name);
    text += "=\"";
    for (char const c : value) {
        if (c == '\\' || c == '"') text += '\\';
        if (c == '\n') {
            text += "\\n";
            continue;
        }
        text += c;
    }
    return text + "\"";
}

class Page {
public:
    void family(std::string_view name, std::string_view kind, std::string_view unit, std::string_view help) {
        text_.append("# TYPE ").append(name).append(" ").append(kind).append("\n");
        if (!unit.empty()) text_.append("# UNIT ").append(name).append(" ").append(unit).append("\n");
        text_.append("# HELP ").append(name).append(" ").append(help).append("\n");
    }
    void sample(std::string_view name, std::string const& labels, double value) {
        if (!std::isfinite(value)) return;
        text_.append(name);
        if (!labels.empty()) text_.append("{").append(labels).append("}");
        text_.append(" ").append(plain(value)).append("\n");
    }
    std::string end() { return text_ + "# EOF\n"; }

private:
    std::string text_;
};

void probes(Page& page, View const& view, Status const& status) {
    page.family("ingle_probe_temperature_celsius", "gauge", "celsius",
                "Calibrated temperature, fresh values only.");
    for (auto const& probe : view.probes)
        if (probe.fresh && probe.celsius)
            page.sample("ingle_probe_temperature_celsius", label("probe", probe.name), *probe.celsius);
    page.family("ingle_probe_age_seconds", "gauge", "seconds", "Age of the last good value.");
    for (auto const& probe : view.probes)
        if (probe.age)
            page.sample("ingle_probe_age_seconds", label("probe", probe.name), seconds(*probe.age));
    page.family("ingle_probe_up", "gauge", "", "1: there is a fresh value.");
    for (auto const& probe : view.probes)
        page.sample("ingle_probe_up", label("probe", probe.name), probe.fresh ? 1 : 0);
    page.family("ingle_probe_readings", "counter", "", "Readings with a value since the daemon started.");
    for (std::size_t i = 0; i < view.probes.size() && i < status.probes.size(); ++i)
        page.sample("ingle_probe_readings_total", label("probe", view.probes[i].name),
                    static_cast<double>(status.probes[i].readings));
    page.family("ingle_probe_faults", "counter", "", "Readings without a value since the daemon started.");
    for (std::size_t i = 0; i < view.probes.size() && i < status.probes.size(); ++i)
        page.sample("ingle_probe_faults_total", label("probe", view.probes[i].name),
                    static_cast<double>(status.probes[i].faults));
}

void vessels(Page& page, View const& view) {
    page.family("ingle_vessel_temperature_celsius", "gauge", "celsius",
                "Of the vessel's medium, fresh values only.");
    for (auto const& vessel : view.vessels) {
        if (vessel.probe < 0) continue;
        auto const& probe = view.probes[static_cast<std::size_t>(vessel.probe)];
        if (probe.fresh && probe.celsius)
            page.sample("ingle_vessel_temperature_celsius", label("vessel", vessel.name), *probe.celsius);
    }
    page.family("ingle_band_low_celsius", "gauge", "celsius", "Low end of the band held.");
    for (auto const& vessel : view.vessels)
        if (vessel.band)
            page.sample("ingle_band_low_celsius", label("vessel", vessel.name), vessel.band->low.celsius);
    page.family("ingle_band_high_celsius", "gauge", "celsius", "High end of the band held.");
    for (auto const& vessel : view.vessels)
        if (vessel.band)
            page.sample("ingle_band_high_celsius", label("vessel", vessel.name), vessel.band->high.celsius);
    page.family("ingle_boiling_point_celsius", "gauge", "celsius",
                "Boiling point of the vessel's liquid here.");
    for (auto const& vessel : view.vessels)
        page.sample("ingle_boiling_point_celsius", label("vessel", vessel.name), vessel.boiling_c);
}

void alarms(Page& page, View const& view) {
    std::map<std::string_view, int> active, unacknowledged;
    for (auto const priority : {Priority::low, Priority::medium, Priority::high}) {
        active[to_word(priority)] = unacknowledged[to_word(priority)] = 0;
    }
    for (auto const& alarm : view.alarms) {
        if (alarm.active) ++active[to_word(alarm.priority)];
        if (alarm.state == AlarmState::unacknowledged || alarm.state == AlarmState::returned_unacknowledged) {
            ++unacknowledged[to_word(alarm.priority)];
        }
    }
    page.family("ingle_alarms_active", "gauge", "", "Alarms whose condition holds.");
    for (auto const& [word, count] : active)
        page.sample("ingle_alarms_active", label("priority", word), count);
    page.family("ingle_alarm_active", "gauge", "", "1: the condition of this alarm holds.");
    std::set<std::string> known;  // two timers that are over are one series
    for (auto const& alarm : view.alarms)
        if (alarm.active)
            known.insert(label("alarm", alarm.type->name) + "," +
                         label("subject", web_json::subject_of(alarm.subject, view)) + "," +
                         label("priority", to_word(alarm.priority)));
    for (auto const& labels : known) page.sample("ingle_alarm_active", labels, 1);
    page.family("ingle_alarms_unacknowledged", "gauge", "", "Alarms that nobody has acknowledged.");
    for (auto const& [word, count] : unacknowledged)
        page.sample("ingle_alarms_unacknowledged", label("priority", word), count);
}

}  // namespace

std::string metrics_text(View const& view, Status const& status, ServerCounts const& counts) {
    Page page;
    page.family("ingle_build", "info", "", "The daemon's version.");
    page.sample("ingle_build_info", label("version", status.version), 1);
    page.family("ingle_running_seconds", "gauge", "seconds", "Since the daemon started.");
    page.sample("ingle_running_seconds", "", seconds(view.at - status.started));
    page.family("ingle_clock_known", "gauge", "", "1: the wall time is known.");
    page.sample("ingle_clock_known", "", view.wall_offset_ms ? 1 : 0);
    probes(page, view, status);
    vessels(page, view);
    alarms(page, view);
    page.family("ingle_recording", "gauge", "", "1: readings reach the logbook.");
    page.sample("ingle_recording", "", status.recording ? 1 : 0);
    page.family("ingle_readings_waiting", "gauge", "", "Readings queued for the logbook.");
    page.sample("ingle_readings_waiting", "", static_cast<double>(status.waiting));
    page.family("ingle_readings_lost", "counter", "", "Readings that never reached the logbook.");
    page.sample("ingle_readings_lost_total", "", static_cast<double>(status.lost));
    page.family("ingle_logbook_size_bytes", "gauge", "bytes", "Size of the logbook file.");
    page.sample("ingle_logbook_size_bytes", "", static_cast<double>(status.logbook_bytes));
    page.family("ingle_notices_pending", "gauge", "", "Notices not delivered yet.");
    for (auto const& channel : status.channels)
        page.sample("ingle_notices_pending", label("channel", channel.name),
                    static_cast<double>(channel.pending));
    page.family("ingle_notices_delivered", "counter", "", "Notices delivered since the daemon started.");
    for (auto const& channel : status.channels)
        page.sample("ingle_notices_delivered_total", label("channel", channel.name),
                    static_cast<double>(channel.delivered));
    page.family("ingle_web_requests", "counter", "", "HTTP requests answered.");
    page.sample("ingle_web_requests_total", "", static_cast<double>(counts.requests));
    page.family("ingle_web_listeners", "gauge", "", "Clients of the event stream.");
    page.sample("ingle_web_listeners", "", static_cast<double>(counts.listeners));
    page.family("ingle_web_dropped_listeners", "counter", "",
                "Event clients dropped because they did not read.");
    page.sample("ingle_web_dropped_listeners_total", "", static_cast<double>(counts.dropped_listeners));
    return page.end();
}

}  // namespace ingle
