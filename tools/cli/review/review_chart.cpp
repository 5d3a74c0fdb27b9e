#include <algorithm>
#include <chrono>
#include <cmath>
#include <string_view>

#include "tools/cli/review/review_doc.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {

std::string alarm_letter(std::size_t place) {
    std::string letters;
    for (auto rest = place + 1; rest > 0; rest = (rest - 1) / 26)
        letters.insert(letters.begin(), static_cast<char>('A' + (rest - 1) % 26));
    return letters;
}

std::string elapsed_text(double t, bool with_seconds) {
    auto const two = [](long n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    auto const s = std::lround(t);
    return std::to_string(s / 3600) + ":" + two(s / 60 % 60) + (with_seconds ? ":" + two(s % 60) : "");
}

std::string CookClock::at(double t, bool with_seconds) const {
    if (!certain_) return elapsed_text(t, with_seconds);
    auto const text = time_text(began_ + from_seconds(t), days_, with_seconds);
    return days_ ? text.substr(std::string_view("Thu 2026-").size()) : text;  // "11-26 14:05:12"
}

std::string CookClock::axis(double t) const {
    if (!certain_) return elapsed_text(t, false);
    auto text = time_text(began_ + from_seconds(t), false, false);
    return text.substr(0, 5);
}

double CookClock::midnight() const {
    if (!certain_) return 0;
    auto const local = local_zone().local(began_);
    auto const day = std::chrono::floor<std::chrono::days>(local);
    return -seconds(std::chrono::duration_cast<Span>(local - day));
}

SvgLine chart_line(CookSeries const& series, std::string label, int style, TemperatureUnit unit, double from,
                   double to) {
    SvgLine line;
    line.label = std::move(label);
    line.style = style;
    double before = 0;
    for (auto const& sample : series.samples) {
        if (sample.t < from || sample.t > to) continue;
        if (line.runs.empty() || sample.t - before > series.longest_step_s()) line.runs.emplace_back();
        line.runs.back().emplace_back(sample.t, to_unit(Temperature{sample.celsius}, unit));
        before = sample.t;
    }
    return line;
}

namespace {

// What the food's class asks of the core, and what a stage waits for where that is another temperature.
void add_core_targets(SvgChart& chart, CookRecord const& record, CookFacts const& facts) {
    std::vector<double> drawn;
    auto const level = [&](double celsius, std::string label) {
        constexpr double same_k = 0.3;
        if (std::ranges::any_of(drawn, [&](double c) { return std::abs(c - celsius) < same_k; })) return;
        drawn.push_back(celsius);
        chart.levels.push_back({to_unit(Temperature{celsius}, record.units), std::move(label)});
    };
    if (facts.food.target_c) level(*facts.food.target_c, "core, for safety");
    for (auto const& stage : record.stages)
        if (stage.until_core_c) level(*stage.until_core_c, "core, for " + stage.name);
}

}  // namespace

Block review_chart(CookRecord const& record, CookFacts const& facts) {
    auto const unit = record.units;
    CookClock const clock(record);
    SvgChart chart;
    chart.to = std::max(record.length_s, 1.0);
    chart.unit = unit_name(unit);
    chart.id = "cook";
    chart.midnight = clock.midnight();
    chart.time_label = [&](double t) { return clock.axis(t); };
    int style = 0;
    for (auto const& core : record.cores)
        chart.lines.push_back(
            chart_line(core, core.probe + " (core)", style++ % 4, unit, 0, record.length_s));
    for (auto const& vessel : record.vessels) {
        if (vessel.medium.probe.empty()) continue;
        chart.lines.push_back(chart_line(vessel.medium, vessel.medium.probe + " (" + vessel.name + ")",
                                         style++ % 4, unit, 0, record.length_s));
    }
    for (auto const& band : facts.bands)
        chart.bands.push_back(
            {band.from, band.to, to_unit(band.band.low, unit), to_unit(band.band.high, unit)});
    if (!record.cores.empty()) add_core_targets(chart, record, facts);
    for (auto const& gap : facts.gaps) chart.gaps.push_back({gap.from, gap.to});
    for (std::size_t i = 0; i < record.stages.size(); ++i)
        chart.marks.push_back({record.stages[i].began, std::to_string(i + 1), false,
                               record.stages[i].name + ", " + clock.at(record.stages[i].began)});
    for (std::size_t i = 0; i < facts.alarms.size(); ++i)
        chart.marks.push_back(
            {facts.alarms[i].raised, alarm_letter(i), true,
             facts.alarms[i].name + " " + facts.alarms[i].subject + ", " + clock.at(facts.alarms[i].raised)});
    for (auto const& door : facts.doors)
        chart.marks.push_back({door.at, "d", true, "door of " + door.vessel + ", " + clock.at(door.at)});
    chart.description = "Temperatures of " + record.dish.name + " from " + clock.at(0) + " to " +
                        clock.at(record.length_s) +
                        "; the tables below have the same numbers. Shaded: the band asked for. Hatched: no "
                        "readings. Numbers: stages. Letters: alarms, d: a door.";
    Block block;
    block.kind = Block::Kind::chart;
    block.wide = svg_chart(chart, false);
    block.narrow = svg_chart(chart, true);
    return block;
}

}  // namespace ingle::cli
