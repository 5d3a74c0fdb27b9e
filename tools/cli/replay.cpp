// ingle replay: the core over a recording, as it would have been, or as it would be with other settings.
#include <algorithm>
#include <map>
#include <memory>
#include <ostream>

#include "daemon/kitchen/replay_lines.hpp"
#include "tools/cli/client.hpp"
#include "tools/cli/files.hpp"
#include "tools/cli/replay_run.hpp"
#include "tools/cli/text.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string recording, kitchen;
    std::vector<std::string> begin, set;
    bool json = false;
};

std::vector<int> dishes_to_begin(Settings const& settings, std::vector<std::string> const& names) {
    std::vector<int> numbers;
    for (auto const& name : names) {
        auto const dish = std::ranges::find(settings.dishes, name, &DishSettings::name);
        if (dish == settings.dishes.end()) {
            throw Failure("the kitchen file has no dish \"" + name + "\"", wrong_usage);
        }
        numbers.push_back(static_cast<int>(dish - settings.dishes.begin()));
    }
    return numbers;
}

std::string clock_text(Recording const& recording, Instant start, Instant at) {
    if (recording.start) return time_text(*recording.start + (at - start));
    auto const s = (at - start).count() / 1000;
    auto const two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return std::to_string(s / 3600) + ":" + two(s / 60 % 60) + ":" + two(s % 60);
}

int print_json(Context& context, Settings const& settings, Recording const& recording,
               std::vector<int> const& dishes) {
    std::string lines;
    auto const end = run_replay(settings, recording, dishes, [&](Effect const& effect) {
        if (auto const line = replay_line(settings, Instant{}, effect)) {
            lines += *line;
            lines += '\n';
        }
        if (lines.size() > 1 << 16) {
            context.out << lines;
            lines.clear();
        }
    });
    context.out << lines << summary_line(settings, end.start, end.end, end.summary) << "\n";
    return done;
}

void print_summary(std::ostream& out, Settings const& settings, RunSummary const& summary) {
    Table vessels;
    vessels.row({"vessel", "in band", "above", "below", "no data", "min", "mean", "max"});
    for (std::size_t v = 0; v < summary.vessels.size(); ++v) {
        auto const& s = summary.vessels[v];
        vessels.row({settings.vessels[v].name, length_text(s.in_s), length_text(s.above_s),
                     length_text(s.below_s), length_text(s.no_data_s),
                     temperature_text(s.min_c, settings.units), temperature_text(s.mean_c, settings.units),
                     temperature_text(s.max_c, settings.units)});
    }
    out << "\n" << vessels.text();
    for (std::size_t d = 0; d < summary.dishes.size(); ++d) {
        auto const& s = summary.dishes[d];
        if (!s.begun) continue;
        out << "  " << settings.dishes[d].name << ": peak core "
            << temperature_text(s.peak_core_c, settings.units);
        if (s.danger_zone_s) out << ", in the danger zone " << length_text(*s.danger_zone_s);
        out << ", cooling " << s.cooling << "\n";
    }
}

int print_text(Context& context, Settings const& settings, Recording const& recording,
               std::vector<int> const& dishes) {
    auto const width = terminal().width;
    auto const end = run_replay(settings, recording, dishes, [&](Effect const& effect) {
        if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            bool const raised = change->transition == Transition::raised;
            if (!raised && change->transition != Transition::cleared) return;
            context.out << clock_text(recording, Instant{}, change->at) << "  "
                        << (raised ? std::string(to_word(change->alarm.priority)) + " alarm"
                                   : std::string("over"))
                        << "  " << change->alarm.type->name << "  "
                        << subject_name(settings, change->alarm.subject) << "\n";
            if (raised) context.out << wrapped(change->alarm.text, width, "      ") << "\n";
        } else if (auto const* event = std::get_if<Event>(&effect)) {
            context.out << clock_text(recording, Instant{}, event->at) << "  " << event->name << "  "
                        << subject_name(settings, event->subject) << "  " << event->text << "\n";
        }
    });
    print_summary(context.out, settings, end.summary);
    return done;
}

struct Tally {
    int raised = 0;
    std::optional<Instant> first;
};
using Tallies = std::map<std::pair<std::string, std::string>, Tally>;

Tallies tally(Settings const& settings, Recording const& recording, std::vector<int> const& dishes) {
    Tallies tallies;
    run_replay(settings, recording, dishes, [&](Effect const& effect) {
        auto const* change = std::get_if<AlarmChanged>(&effect);
        if (!change || change->transition != Transition::raised) return;
        auto& one =
            tallies[{std::string(change->alarm.type->name), subject_name(settings, change->alarm.subject)}];
        ++one.raised;
        if (!one.first) one.first = change->at;
    });
    return tallies;
}

// What was, beside what would have been.
int print_what_if(Context& context, Settings const& before, Settings const& after, Recording const& recording,
                  std::vector<int> const& dishes) {
    auto was = tally(before, recording, dishes), would = tally(after, recording, dishes);
    for (auto const& [key, ignored] : would) was.try_emplace(key);
    auto const cell = [&](Tally const& one) {
        if (one.raised == 0) return std::string("-");
        return std::to_string(one.raised) + (one.raised == 1 ? " time" : " times") + ", first " +
               clock_text(recording, Instant{}, *one.first);
    };
    Table table;
    table.row({"alarm", "about", "as it is", "with the change"});
    for (auto const& [key, one] : was) table.row({key.first, key.second, cell(one), cell(would[key])});
    context.out << (was.empty() ? "no alarms, neither as it is nor with the change\n" : table.text(""));
    return done;
}

}  // namespace

void add_replay(Verb const& app, Context& context) {
    auto command = app.verb(
        "replay", "run the watches over a recording, with these or other settings",
        "  ingle replay supper.csv --kitchen kitchen.toml --begin goose-roll\n"
        "  ingle replay supper.csv --kitchen kitchen.toml --set \"stockpot.band=175 degF to 195 degF\"\n"
        "  ingle replay raw.csv --kitchen kitchen.toml --set \"stock.calibration=33.1 degF is 32 degF\"\n"
        "The kitchen file's calibrations are applied: `ingle export --raw` writes what they are meant for. "
        "For a\n"
        "recording that is calibrated already, say --set \"stock.calibration=none\".");
    auto const given = std::make_shared<Options>();
    command.required("RECORDING", given->recording, "a CSV of readings (`ingle export` writes it)");
    command.required("--kitchen", given->kitchen, "the kitchen file; its drivers are ignored");
    command.repeated("--begin", given->begin, "begin this dish at the first row; may be repeated");
    command.repeated("--set", given->set, "another setting; may be repeated");
    command.flag("--json", given->json, "one JSON object a line, in time order; temperatures in degC");
    command.does([&context, given] {
        auto const settings = read_kitchen(given->kitchen);
        auto const recording = read_recording(given->recording);
        auto changed = settings;
        for (auto const& text : given->set) {
            auto const wrong = apply_setting(changed, text);
            if (!wrong.empty()) throw Failure(wrong, wrong_usage);
        }
        bool known = false;
        for (auto const& column : recording.columns) {
            known = known || std::ranges::find(settings.probes, column.name, &ProbeSettings::name) !=
                                 settings.probes.end();
        }
        if (!known)
            throw Failure("no column of the recording has the name of a probe of the kitchen", wrong_usage);
        auto const dishes = dishes_to_begin(settings, given->begin);
        if (given->json) return print_json(context, changed, recording, dishes);
        if (!given->set.empty()) return print_what_if(context, settings, changed, recording, dishes);
        return print_text(context, settings, recording, dishes);
    });
}

}  // namespace ingle::cli
