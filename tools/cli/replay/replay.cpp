// ingle replay: the core over a recording, as it would have been, or as it would be with other settings.
#include <algorithm>
#include <map>
#include <memory>
#include <ostream>
#include <set>

#include "daemon/model/view.hpp"
#include "daemon/replay/changed_setting.hpp"
#include "daemon/replay/lines.hpp"
#include "tools/cli/output/text.hpp"
#include "tools/cli/program/client.hpp"
#include "tools/cli/program/files.hpp"
#include "tools/cli/replay/replay_source.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::string recording, kitchen, logbook;
    std::vector<std::string> begin, set;
    bool json = false;
};

using Commands = std::vector<TimedCommand>;

// The alarms that somebody hears: one that began under another's cover is heard when that one is over.
class Heard {
public:
    enum class News { none, raised, worse, over };
    News of(AlarmChanged const& change) {
        auto const id = change.alarm.id;
        if (change.transition == Transition::raised || change.transition == Transition::unsuppressed)
            return ids_.insert(id).second ? News::raised : News::none;
        if (change.transition == Transition::worsened) return ids_.contains(id) ? News::worse : News::none;
        return change.transition == Transition::cleared && ids_.contains(id) ? News::over : News::none;
    }

private:
    std::set<decltype(Alarm::id)> ids_;
};

std::string clock_text(Recording const& recording, Instant start, Instant at) {
    if (recording.start) return time_text(*recording.start + (at - start));
    auto const s = (at - start).count() / 1000;
    auto const two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return std::to_string(s / 3600) + ":" + two(s / 60 % 60) + ":" + two(s % 60);
}

int print_json(Context& context, Settings const& settings, Recording const& recording,
               Commands const& commands) {
    std::string lines;
    auto const end = run_replay(settings, recording, commands, [&](Effect const& effect) {
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

void print_summary(std::ostream& out, std::size_t width, Settings const& settings,
                   RunSummary const& summary) {
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
    if (std::ranges::any_of(summary.dishes, &DishSummary::begun))
        out << wrapped(std::string(food_safety_caution), width, "  ") << "\n";
}

int print_text(Context& context, Settings const& settings, Recording const& recording,
               Commands const& commands) {
    auto const width = terminal().width;
    Heard heard;
    auto const end = run_replay(settings, recording, commands, [&](Effect const& effect) {
        if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            auto const news = heard.of(*change);
            if (news == Heard::News::none) return;
            bool const raised = news == Heard::News::raised || news == Heard::News::worse;
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
    print_summary(context.out, width, settings, end.summary);
    return done;
}

struct Tally {
    int raised = 0;
    std::optional<Instant> first;
};
using Tallies = std::map<std::pair<std::string, std::string>, Tally>;

Tallies tally(Settings const& settings, Recording const& recording, Commands const& commands) {
    Tallies tallies;
    Heard heard;
    run_replay(settings, recording, commands, [&](Effect const& effect) {
        auto const* change = std::get_if<AlarmChanged>(&effect);
        if (!change || heard.of(*change) != Heard::News::raised) return;
        auto& one =
            tallies[{std::string(change->alarm.type->name), subject_name(settings, change->alarm.subject)}];
        ++one.raised;
        if (!one.first) one.first = change->at;
    });
    return tallies;
}

// A band that is tried out holds from the first row to the last: what people held instead is left out.
Commands with_these_bands(Commands commands, Settings const& before, Settings const& after) {
    std::erase_if(commands, [&](TimedCommand const& timed) {
        auto const* hold = std::get_if<Hold>(&timed.command);
        if (!hold) return false;
        auto const vessel = static_cast<std::size_t>(hold->vessel);
        return before.vessels[vessel].band != after.vessels[vessel].band;
    });
    return commands;
}

// What was, beside what would have been.
int print_what_if(Context& context, Settings const& before, Settings const& after, Recording const& recording,
                  Commands const& commands) {
    auto was = tally(before, recording, commands),
         would = tally(after, recording, with_these_bands(commands, before, after));
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
        "  ingle replay goose-roll --kitchen kitchen.toml --set \"stockpot.band=175 degF to 195 degF\"\n"
        "  ingle replay raw.csv --kitchen kitchen.toml --set \"stock.calibration=33.1 degF is 32 degF\"\n"
        "A file is read with the kitchen file's calibrations: `ingle export --raw` writes what they are "
        "meant\n"
        "for; one that is calibrated already wants --set \"stock.calibration=none\". A cook of the logbook\n"
        "brings its own.");
    auto const given = std::make_shared<Options>();
    command.required("WHAT", given->recording,
                     "a recording (a CSV of readings, `ingle export` writes it), or a cook of the logbook: "
                     "a dish's name for its latest, \"cook 12\"");
    command.required("--kitchen", given->kitchen, "the kitchen file; its drivers are ignored");
    command.repeated("--begin", given->begin, "begin this dish at the first row; may be repeated");
    command.option("--logbook", given->logbook, "find the cook in this file instead of the state folder's");
    command.repeated("--set", given->set, "another setting; may be repeated");
    command.flag("--json", given->json, "one JSON object a line, in time order; temperatures in degC");
    command.does([&context, given] {
        auto settings = read_kitchen(given->kitchen);
        auto const source = replay_source(context, given->recording, given->logbook, given->begin, settings);
        auto const& recording = source.recording;
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
        if (given->json) return print_json(context, changed, recording, source.commands);
        if (!given->set.empty()) return print_what_if(context, settings, changed, recording, source.commands);
        return print_text(context, settings, recording, source.commands);
    });
}

}  // namespace ingle::cli
