// One SVG per kind: the truth as a thin line, the readings as dots, the band hatched by its limits, alarms as
// labelled marks.
#include <algorithm>
#include <cmath>
#include <sstream>

#include "tests/scenarios/judge.hpp"

namespace ingle::scenarios {
namespace {

std::string plain(std::string_view text) {
    std::string out;
    for (char c : text) out += c == '<' ? "&lt;" : c == '&' ? "&amp;" : std::string(1, c);
    return out;
}

}  // namespace

std::string chart(Scenario const& scenario, Run const& run, std::string_view truth) {
    double low = 1e9, high = -1e9;
    for (double c : scenario.true_c) low = std::min(low, c), high = std::max(high, c);
    for (auto const& reading : scenario.readings[0])
        if (reading && reading->ok() && std::abs(reading->celsius()) < 300)
            low = std::min(low, reading->celsius()), high = std::max(high, reading->celsius());
    double const pad = std::max(1.0, 0.05 * (high - low)), length = scenario.length_s();
    low -= pad, high += pad;
    auto const x = [&](double s) { return 60 + 880 * s / length; };
    auto const y = [&](double c) { return 360 - 300 * (c - low) / (high - low); };
    std::ostringstream out;
    out.precision(5);
    out << "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 960 420' font-family='sans-serif' "
           "font-size='11'>"
        << "<rect width='960' height='420' fill='white'/><text x='60' y='20' font-size='14'>"
        << plain(scenario.kind) << ", seed " << scenario.seed << "</text><text x='60' y='38'>" << plain(truth)
        << "</text>";
    for (double hour = 0; hour * 3600 <= length; hour += std::max(0.5, std::round(length / 3600 / 8)))
        out << "<text x='" << x(hour * 3600) << "' y='378' text-anchor='middle'>" << hour
            << " h</text><line x1='" << x(hour * 3600) << "' x2='" << x(hour * 3600)
            << "' y1='60' y2='364' stroke='#ddd'/>";
    for (int i = 0; i <= 5; ++i) {
        double const c = low + (high - low) * i / 5;
        out << "<text x='54' y='" << y(c) + 4 << "' text-anchor='end'>" << std::round(c * 10) / 10
            << "</text>";
    }
    if (auto const& band = scenario.settings.vessels[0].band)
        for (double c : {band->low.celsius, band->high.celsius})
            if (c > low && c < high)
                out << "<line x1='60' x2='940' y1='" << y(c) << "' y2='" << y(c)
                    << "' stroke='#555' stroke-dasharray='7 4'/>";
    int const every = std::max(1, scenario.length_s() / 1500);
    out << "<g fill='#8aa'>";
    for (int s = 0; s < scenario.length_s(); s += every)
        if (auto const& reading = scenario.readings[0][static_cast<std::size_t>(s)];
            reading && reading->ok() && reading->celsius() > low && reading->celsius() < high)
            out << "<circle cx='" << x(s) << "' cy='" << y(reading->celsius()) << "' r='1'/>";
    out << "</g><polyline fill='none' stroke='black' stroke-width='1.2' points='";
    for (int s = 0; s < scenario.length_s(); s += every)
        out << x(s) << ',' << y(scenario.true_c[static_cast<std::size_t>(s)]) << ' ';
    out << "'/>";
    int row = 0;
    for (auto const& told : run.alarms) {
        double const top = 60 + 13 * (row++ % 6);
        out << "<line x1='" << x(told.at_s) << "' x2='" << x(told.at_s) << "' y1='" << top
            << "' y2='360' stroke='black' stroke-dasharray='2 3'/><text x='" << x(told.at_s) + 3 << "' y='"
            << top + 9 << "'>" << plain(told.alarm) << "</text>";
    }
    for (auto const& hazard : scenario.truth.hazards)
        out << "<path d='M" << x(hazard.onset_s) << " 364 l-5 9 l10 0 z'/><text x='" << x(hazard.onset_s) + 8
            << "' y='392'>" << plain(hazard.what) << "</text><line x1='" << x(hazard.limit_s) << "' x2='"
            << x(hazard.limit_s) << "' y1='366' y2='400' stroke='black'/><text x='" << x(hazard.limit_s) + 3
            << "' y='404'>limit</text>";
    out << "</svg>\n";
    return out.str();
}

}  // namespace ingle::scenarios
