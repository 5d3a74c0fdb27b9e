// ingle history: what the probes showed, over any span, as a chart, a table, CSV or JSON.
#include <algorithm>
#include <cmath>
#include <iostream>
#include <map>
#include <memory>
#include <ostream>

#include "config/wall_time.hpp"
#include "tools/cli/output/chart.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/past/alarm_spells.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/past/thinned.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/time/local_time.hpp"
#include "tools/cli/time/time_ticks.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::vector<std::string> words;
    std::string grain, logbook;
    bool csv = false, json = false, raw = false;
};

struct Probe {
    std::string name;
    logbook::History history;
};

struct Totals {
    std::optional<double> min, mean, max;
    std::int64_t n = 0, faults = 0;
};

Totals totals_of(logbook::History const& history) {
    Totals totals;
    double sum = 0;
    for (auto const& point : history.points) {
        if (point.n == 0) continue;
        totals.min = std::min(totals.min.value_or(point.min), point.min);
        totals.max = std::max(totals.max.value_or(point.max), point.max);
        sum += point.mean * point.n;
        totals.n += point.n;
    }
    for (auto const& fault : history.faults) totals.faults += fault.readings;
    if (totals.n > 0) totals.mean = sum / static_cast<double>(totals.n);
    return totals;
}

std::vector<Probe> read(Book& book, Selection const& selection, Span grain, bool raw) {
    std::vector<logbook::HistoryQuery> queries;
    for (auto const& name : selection.probes) {
        queries.push_back({name, {selection.span.from, selection.span.to}, grain, raw});
    }
    auto histories = book.reader().history(queries);
    book.check();
    std::vector<Probe> probes;
    for (std::size_t i = 0; i < histories.size(); ++i) {
        probes.push_back({selection.probes[i], std::move(histories[i])});
    }
    return probes;
}

// "clock set" of "clock-set".
std::string event_words(std::string name) {
    std::ranges::replace(name, '-', ' ');
    return name;
}

// The events that belong on the time line. What was typed wrongly is none of the kitchen.
std::vector<logbook::EventRow> events_of(Book& book, Selection const& selection) {
    auto const span = selection.span;
    auto events = book.reader().events({span.from, span.to});
    book.check();
    std::erase_if(events, [&](logbook::EventRow const& event) {
        return event.name == "refused" || !selection.concerns(event.subject_kind, event.subject, event.text);
    });
    return events;
}

// The alarms of what was asked for, each where it was raised.
std::vector<AlarmSpell> alarms_of(Book& book, Selection const& selection) {
    auto alarms = spells_in(book, selection);
    std::erase_if(alarms, [&](AlarmSpell const& alarm) { return alarm.raised < selection.span.from; });
    return alarms;
}

struct Line {  // of what stands under the chart
    WallTime at;
    std::string text;
};

std::vector<Line> lines_of(Book& book, Selection const& selection) {
    std::vector<Line> lines;
    for (auto const& event : events_of(book, selection)) {
        auto const whole = event.subject.empty() || event.subject_kind == "kitchen";
        auto text = (whole ? "" : event.subject + ", ") + event_words(event.name);
        if (!event.text.empty()) text += ": " + event.text;
        lines.push_back({event.at.wall, std::move(text)});
    }
    for (auto const& alarm : alarms_of(book, selection)) {
        auto text = (alarm.subject.empty() ? "" : alarm.subject + ", ") + alarm.priority + " alarm #" +
                    std::to_string(alarm.id) + " " + alarm.alarm;
        text += alarm.cleared ? ", lasted " + length_text(seconds(*alarm.cleared - alarm.raised))
                              : std::string(", still there");
        if (!alarm.text.empty()) text += ": " + alarm.text;
        lines.push_back({alarm.raised, std::move(text)});
    }
    std::ranges::stable_sort(lines, {}, &Line::at);
    return lines;
}

std::optional<std::pair<double, double>> band_of(Settings const& settings, std::string const& probe) {
    for (auto const& vessel : settings.vessels) {
        auto const place = static_cast<std::size_t>(vessel.medium);
        if (!vessel.band || vessel.medium < 0 || place >= settings.probes.size()) continue;
        if (settings.probes[place].name != probe) continue;
        return std::pair(to_unit(vessel.band->low, settings.units),
                         to_unit(vessel.band->high, settings.units));
    }
    return {};
}

struct Marked {
    std::vector<std::pair<std::size_t, char>> marks;
    std::string legend;
};

// Each column with events has a letter, as many as fit; events of the same column share it.
Marked marked(std::vector<Line> const& events, WallSpan span, std::size_t columns, std::size_t width) {
    Marked result;
    constexpr std::size_t most = 26;
    std::map<std::size_t, std::vector<Line const*>> by_column;
    for (auto const& event : events) {
        auto const share = static_cast<double>((event.at - span.from).count()) /
                           static_cast<double>((span.to - span.from).count());
        auto const column = std::clamp(share, 0.0, 0.9999) * static_cast<double>(columns);
        by_column[static_cast<std::size_t>(column)].push_back(&event);
    }
    std::size_t left_out = 0;
    for (; by_column.size() > most; by_column.erase(by_column.begin())) {
        left_out += by_column.begin()->second.size();
    }
    char letter = 'A';
    bool const days = span.to - span.from > std::chrono::hours(20);
    for (auto const& [column, group] : by_column) {
        result.marks.emplace_back(column, letter);
        for (auto const* event : group) {
            auto entry = wrapped(time_text(event->at, days) + "  " + event->text, width, "     ");
            entry[2] = letter;
            result.legend += entry + "\n";
        }
        ++letter;
    }
    if (left_out > 0) result.legend += "  and " + std::to_string(left_out) + " earlier events\n";
    return result;
}

ChartSpec chart_of(Probe const& probe, WallSpan span, std::size_t width, TemperatureUnit unit) {
    ChartSpec spec;
    spec.columns.resize(width);
    std::vector<double> sums(width, 0), counts(width, 0);
    auto const place = [&](WallTime at) {
        auto const share = static_cast<double>((at - span.from).count()) /
                           static_cast<double>((span.to - span.from).count());
        return static_cast<std::size_t>(std::clamp(share, 0.0, 0.9999) * static_cast<double>(width));
    };
    for (auto const& point : probe.history.points) {
        if (point.n == 0) continue;
        auto const i = place(point.at.wall);
        auto& column = spec.columns[i];
        double const low = to_unit(Temperature{point.min}, unit),
                     high = to_unit(Temperature{point.max}, unit);
        column.min = std::min(column.min.value_or(low), low);
        column.max = std::max(column.max.value_or(high), high);
        sums[i] += to_unit(Temperature{point.mean}, unit) * point.n;
        counts[i] += point.n;
    }
    for (std::size_t i = 0; i < width; ++i) {
        if (counts[i] > 0) spec.columns[i].mean = sums[i] / counts[i];
    }
    for (auto const& fault : probe.history.faults) {
        for (auto i = place(fault.from.wall); i <= place(fault.to.wall); ++i) spec.columns[i].fault = true;
    }
    for (auto const& [at, label] : time_ticks(span, width / 14)) spec.ticks.emplace_back(place(at), label);
    bool const days = span.to - span.from > std::chrono::hours(20);
    spec.from_label = time_text(span.from, days, false);
    spec.to_label = time_text(span.to, days, false);
    return spec;
}

int print_chart(Context& context, Book& book, Selection const& selection, std::vector<Probe> const& probes) {
    auto const screen = terminal();
    auto const unit = selection.settings.units;
    auto const width = std::min<std::size_t>(screen.width - 10, 120);
    auto const marks = marked(lines_of(book, selection), selection.span, width, screen.width);
    context.out << time_text(selection.span.from) << " to " << time_text(selection.span.to) << "\n";
    for (auto const& probe : probes) {
        auto const totals = totals_of(probe.history);
        context.out << "\n" << screen.strong(probe.name) << "  ";
        if (totals.n == 0) {
            context.out << "no readings"
                        << (totals.faults ? ", " + std::to_string(totals.faults) + " faults" : "") << "\n";
            continue;
        }
        auto spec = chart_of(probe, selection.span, width, unit);
        spec.band = band_of(selection.settings, probe.name);
        spec.unicode = screen.unicode;
        spec.marks = marks.marks;
        context.out << "min " << temperature_text(totals.min, unit) << ", mean "
                    << temperature_text(totals.mean, unit) << ", max " << temperature_text(totals.max, unit)
                    << ", " << totals.n << " readings"
                    << (totals.faults ? ", " + std::to_string(totals.faults) + " faults" : "") << "\n"
                    << chart_text(spec);
        std::size_t shown = 0;
        for (auto const& fault : probe.history.faults) {
            if (++shown > 5) break;
            context.out << "  x  " << time_text(fault.from.wall) << " to " << time_text(fault.to.wall, false)
                        << "  " << fault.reason << "\n";
        }
        if (probe.history.faults.size() > 5) {
            context.out << "  x  and " << probe.history.faults.size() - 5 << " more\n";
        }
    }
    if (!marks.legend.empty()) context.out << "\n" << marks.legend;
    return done;
}

int print_table(Context& context, Selection const& selection, std::vector<Probe> const& probes) {
    auto const unit = selection.settings.units;
    for (auto const& probe : probes) {
        Table table;
        table.row({"from", "min", "mean", "max", "readings"});
        std::optional<WallTime> expected;
        for (auto const& point : probe.history.points) {
            if (expected && point.at.wall > *expected + std::chrono::seconds(1)) {
                table.row({time_text(*expected), "-", "-", "-",
                           "none for " + length_text(seconds(point.at.wall - *expected))});
            }
            table.row({time_text(point.at.wall), temperature_text(point.min, unit),
                       temperature_text(point.mean, unit), temperature_text(point.max, unit),
                       std::to_string(point.n)});
            expected = point.width.count() > 0 ? std::optional(point.at.wall + point.width) : std::nullopt;
        }
        for (std::size_t column = 1; column < 4; ++column) table.right(column);
        context.out << probe.name << "\n"
                    << (probe.history.points.empty() ? "  no readings\n" : table.text());
    }
    return done;
}

int print_csv(Context& context, Selection const& selection, std::vector<Probe> const& probes) {
    auto const unit = selection.settings.units;
    auto const name = std::string(unit_name(unit));
    context.out << "time,probe,min [" << name << "],mean [" << name << "],max [" << name << "],readings\n";
    for (auto const& probe : probes) {
        for (auto const& point : probe.history.points) {
            auto const cell = [&](double celsius) {
                auto const text = show(Temperature{celsius}, unit, 3);
                return text.substr(0, text.find(' '));
            };
            context.out << local_iso(point.at.wall) << "," << probe.name << "," << cell(point.min) << ","
                        << cell(point.mean) << "," << cell(point.max) << "," << point.n << "\n";
        }
    }
    return done;
}

int print_json(Context& context, Book& book, Selection const& selection, std::vector<Probe> const& probes,
               Span grain) {
    Json answer{{"from", local_iso(selection.span.from)},
                {"to", local_iso(selection.span.to)},
                {"grain_s", seconds(grain)}};
    auto const number = [](std::optional<double> value) { return value ? Json(*value) : Json(nullptr); };
    answer["series"] = Json::array();
    for (auto const& probe : probes) {
        auto const totals = totals_of(probe.history);
        Json series{{"probe", probe.name},           {"min_c", number(totals.min)},
                    {"mean_c", number(totals.mean)}, {"max_c", number(totals.max)},
                    {"readings", totals.n},          {"points", Json::array()},
                    {"faults", Json::array()}};
        for (auto const& point : probe.history.points) {
            series["points"].push_back({{"at", local_iso(point.at.wall)},
                                        {"min_c", point.min},
                                        {"mean_c", point.mean},
                                        {"max_c", point.max},
                                        {"readings", point.n},
                                        {"doubtful", point.doubtful}});
        }
        for (auto const& fault : probe.history.faults) {
            series["faults"].push_back({{"from", local_iso(fault.from.wall)},
                                        {"to", local_iso(fault.to.wall)},
                                        {"readings", fault.readings},
                                        {"kind", fault.kind},
                                        {"reason", fault.reason}});
        }
        answer["series"].push_back(std::move(series));
    }
    answer["events"] = Json::array();
    for (auto const& event : events_of(book, selection)) {
        answer["events"].push_back({{"at", local_iso(event.at.wall)},
                                    {"event", event.name},
                                    {"subject", event.subject},
                                    {"text", event.text}});
    }
    answer["alarms"] = Json::array();
    for (auto const& alarm : alarms_of(book, selection)) {
        answer["alarms"].push_back(
            {{"id", alarm.id},
             {"alarm", alarm.alarm},
             {"subject", alarm.subject},
             {"priority", alarm.priority},
             {"raised", local_iso(alarm.raised)},
             {"cleared", alarm.cleared ? Json(local_iso(*alarm.cleared)) : Json(nullptr)},
             {"text", alarm.text}});
    }
    context.out << answer.dump(-1, ' ', false, Json::error_handler_t::replace) << "\n";
    return done;
}

int history(Context& context, Options const& given) {
    Book book(context, Book::file_for(context, given.logbook, given.words));
    auto const selection = select(book, given.words, "last 3 h");
    auto const length = selection.span.to - selection.span.from;
    Span grain{0};
    if (!given.grain.empty() && given.grain != "raw") {
        auto const parsed = parse_duration(given.grain);
        if (auto const* error = std::get_if<QuantityError>(&parsed)) {
            throw Failure("--grain: " + error->wrong + "; " + error->right + ", or raw", wrong_usage);
        }
        auto const s = std::get<Duration>(parsed).seconds;
        if (s > longest_look_back_s) throw Failure("--grain is 100 years at most", wrong_usage);
        grain = from_seconds(s);
        if (grain.count() <= 0) throw Failure("--grain must be longer than nothing, or raw", wrong_usage);
    } else if (given.grain.empty() && !given.csv && !given.json && length > std::chrono::minutes(10)) {
        grain = Span(std::max<std::int64_t>(length.count() / 480, 1000));  // four points a column are enough
    }
    auto const probes = read(book, selection, grain, given.raw);
    if (grain.count() == 0) {
        Thinned thinned;
        for (auto const& probe : probes)
            thinned.look(book.reader(), probe.name, selection.span, probe.history);
        book.check();
        if (auto const words = thinned.words(); !words.empty()) std::cerr << "ingle: " << words << "\n";
    }
    if (given.json) return print_json(context, book, selection, probes, grain);
    if (given.csv) return print_csv(context, selection, probes);
    if (!given.grain.empty()) return print_table(context, selection, probes);
    return print_chart(context, book, selection, probes);
}

}  // namespace

void add_history(Verb const& app, Context& context) {
    auto command =
        app.verb("history", "what the probes showed: a chart, a table, CSV or JSON",
                 "  ingle history stockpot \"last 3 h\"\n  ingle history \"yesterday 14:00\" --grain \"10 "
                 "min\"\n"
                 "  ingle history goose-roll");
    auto const given = std::make_shared<Options>();
    command.words("WHAT", given->words,
                  "probes, vessels or dishes, and a span: \"last 3 h\", \"yesterday 14:00\", "
                  "\"mon 18:00 to tue 02:00\", a dish for its latest cook; else the last 3 h");
    command.option("--grain", given->grain,
                   "a table of stretches this long, such as \"10 min\"; raw: each reading");
    command.flag("--raw", given->raw, "values as the driver gave them, before calibration");
    command.flag("--csv", given->csv, "as CSV, in the kitchen's unit");
    command.flag("--json", given->json, "as JSON, in degC");
    command.option("--logbook", given->logbook, "read this file instead of the state folder's");
    command.does([&context, given] { return history(context, *given); });
}

}  // namespace ingle::cli
