// ingle alarms: the present ones, the past ones, and how well they behave.
#include <memory>
#include <ostream>

#include "tools/cli/live/alarm_report.hpp"
#include "tools/cli/live/now_text.hpp"
#include "tools/cli/output/fitted.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

struct Options {
    std::vector<std::string> words;
    std::string logbook;
    bool report = false, json = false;
};

Json spell_json(AlarmSpell const& spell) {
    auto const time = [](std::optional<WallTime> at) { return at ? Json(local_iso(*at)) : Json(nullptr); };
    return {{"id", spell.id},
            {"alarm", spell.alarm},
            {"subject", spell.subject},
            {"priority", spell.priority},
            {"raised", local_iso(spell.raised)},
            {"acknowledged", time(spell.acknowledged)},
            {"acknowledged_by", spell.acknowledged_by.empty() ? Json(nullptr) : Json(spell.acknowledged_by)},
            {"cleared", time(spell.cleared)},
            {"text", spell.text}};
}

std::string spell_line(AlarmSpell const& spell, WallTime now) {
    auto line = "  " + time_text(spell.raised) + "  #" + std::to_string(spell.id) + " " + spell.priority +
                "  " + spell.alarm + (spell.subject.empty() ? "" : "  " + spell.subject) + ", ";
    line += spell.cleared ? "lasted " + length_text(seconds(*spell.cleared - spell.raised))
                          : "still there after " + length_text(seconds(now - spell.raised));
    if (spell.acknowledged) {
        line += ", acknowledged after " + length_text(seconds(*spell.acknowledged - spell.raised));
        if (!spell.acknowledged_by.empty()) line += " by " + spell.acknowledged_by;
    }
    return line;
}

int past(Context& context, Options const& given) {
    Book book(context, given.logbook);
    auto const selection = select(book, given.words, "last 24 h");
    auto const span = selection.span;
    auto const spells = spells_in(book, selection);
    auto const report = report_of(spells, span.from, span.to);
    auto const width = terminal().width;
    if (given.json) {
        Json answer{{"from", local_iso(span.from)}, {"to", local_iso(span.to)}, {"alarms", Json::array()}};
        for (auto const& spell : spells) answer["alarms"].push_back(spell_json(spell));
        if (given.report) {
            Json kinds = Json::array(), chatter = Json::array(), stale = Json::array();
            for (auto const& bad : report.most_frequent) {
                kinds.push_back({{"alarm", bad.alarm},
                                 {"subject", bad.subject},
                                 {"raised", bad.raised},
                                 {"longest_s", bad.longest_s}});
            }
            for (auto const& bad : report.chattering)
                chatter.push_back({{"alarm", bad.alarm}, {"subject", bad.subject}});
            for (auto const& spell : report.stale) stale.push_back(spell.id);
            answer["report"] = {{"raised", report.raised},
                                {"per_hour", report.per_hour},
                                {"peak_10_min", report.peak_10_min},
                                {"acknowledged", report.acknowledged},
                                {"most_frequent", kinds},
                                {"chattering", chatter},
                                {"stale", stale}};
        }
        context.out << answer.dump(2, ' ', false, Json::error_handler_t::replace) << "\n";
        return done;
    }
    context.out << time_text(span.from) << " to " << time_text(span.to) << ": " << report.raised
                << (report.raised == 1 ? " alarm\n" : " alarms\n");
    if (!given.report) {
        for (auto const& spell : spells) {
            context.out << fitted(spell_line(spell, span.to), width) << "\n";
            if (!spell.text.empty()) context.out << wrapped(spell.text, width, "      ") << "\n";
        }
        return done;
    }
    if (report.raised == 0) return done;
    context.out << "  "
                << show(Temperature{report.per_hour}, TemperatureUnit::celsius, 2)
                       .substr(0, show(Temperature{report.per_hour}, TemperatureUnit::celsius, 2).find(' '))
                << " an hour, at most " << report.peak_10_min << " in ten minutes (from "
                << time_text(report.peak_at) << "), " << report.acknowledged * 100 / report.raised
                << " % acknowledged\n\nmost frequent\n";
    Table table;
    for (auto const& bad : report.most_frequent) {
        table.row({bad.alarm, bad.subject,
                   std::to_string(bad.raised) + (bad.raised == 1 ? " time" : " times"),
                   "longest " + length_text(bad.longest_s)});
    }
    context.out << table.text();
    if (!report.chattering.empty()) {
        context.out << "\nchattering (three or more within a minute): likely a nuisance; a wider deadband or "
                       "a longer on-delay prevents it\n";
        for (auto const& bad : report.chattering)
            context.out << "  " << bad.alarm << "  " << bad.subject << "\n";
    }
    if (!report.stale.empty()) {
        context.out << "\nstale (standing for more than a day): put right what it says, or take the subject "
                       "out of service\n";
        for (auto const& spell : report.stale) context.out << spell_line(spell, span.to) << "\n";
    }
    context.out << "\nlongest\n";
    for (auto const& spell : report.longest) context.out << spell_line(spell, span.to) << "\n";
    return done;
}

int present(Context& context, bool json) {
    auto const answer = Client(context.socket()).get("/api/alarms");
    if (json) {
        context.out << answer.dump(2) << "\n";
        return done;
    }
    auto const text = alarms_text(answer.at("alarms"), 0, terminal());
    context.out << (text.empty() ? "no alarms\n" : text);
    return done;
}

}  // namespace

void add_alarms(Verb const& app, Context& context) {
    auto command = app.verb("alarms", "the present alarms, or those of a span",
                            "  ingle alarms\n  ingle alarms \"last 24 h\" --report");
    auto const given = std::make_shared<Options>();
    command.words(
        "SPAN", given->words,
        "past ones: \"last 24 h\", \"yesterday\"; of a vessel, a probe or a dish, by its name; a dish "
        "for its latest cook");
    command.flag("--report", given->report,
                 "how the alarms behave: how many, chattering, stale, acknowledged");
    command.option("--logbook", given->logbook, "read this file instead of the state folder's");
    command.flag("--json", given->json, "answer in JSON");
    command.does([&context, given] {
        if (given->words.empty() && !given->report && given->logbook.empty()) {
            try {
                return present(context, given->json);
            } catch (NoDaemon const& failure) {
                std::error_code ignored;
                // A program that asks for the present alarms would take those of the past for them.
                if (given->json || !std::filesystem::exists(context.logbook(), ignored)) throw;
                context.out << failure.what()
                            << "\nWhat stands at this moment is not known. From the logbook:\n";
                past(context, *given);
                return no;
            }
        }
        return past(context, *given);
    });
}

}  // namespace ingle::cli
