#include "daemon/run/outcome.hpp"

#include <algorithm>

#include "daemon/run/names.hpp"

namespace ingle {
namespace {

struct Sentence {
    Settings const& settings;
    Effects const& effects;

    std::string name(SubjectKind kind, int number) const { return name_of(settings, {kind, number}); }

    // A stage that was left before what it waits for was seen is not left in silence.
    std::string left_open() const {
        for (auto const& effect : effects)
            if (auto const* event = std::get_if<Event>(&effect); event && event->name == "stage-ended")
                for (auto const& [number, value] : event->numbers)
                    if (number == "left_open") return event->text + " ";
        return {};
    }
    std::string event_text(std::string_view wanted) const {
        for (auto const& effect : effects)
            if (auto const* event = std::get_if<Event>(&effect); event && event->name == wanted)
                return event->text;
        return {};
    }
    std::string about_alarms(Transition wanted, std::string const& verb) const {
        std::string text;
        for (auto const& effect : effects) {
            auto const* change = std::get_if<AlarmChanged>(&effect);
            if (!change || change->transition != wanted) continue;
            text += (text.empty() ? "" : ", ") + std::string(change->alarm.type->name) + " of " +
                    name_of(settings, change->alarm.subject);
        }
        return text.empty() ? "nothing to be " + verb : verb + ": " + text;
    }

    std::string operator()(Hold const& hold) const {
        auto const vessel = name(SubjectKind::vessel, hold.vessel);
        auto const stages = whose_time_counts();
        if (!hold.band)
            return vessel +
                   (event_text("note").ends_with(" was not held.") ? ": was not held" : ": no longer held") +
                   stages;
        auto low = show(hold.band->low, settings.units);
        auto text = vessel + ": holding " + low.substr(0, low.find(' ')) + " to " +
                    show(hold.band->high, settings.units);
        if (!hold.length) return text + stages;
        return text + " for " + show(Duration{seconds(*hold.length)}) +
               " from the moment that it is there; you are told when it is over, and it is watched on" +
               stages;
    }
    // What the note of a hold goes on with: stages whose time counts by that band now.
    std::string whose_time_counts() const {
        auto const note = event_text("note");
        auto const first = note.find(". ");
        return first == std::string::npos ? "" : note.substr(first, note.size() - 1 - first);
    }
    std::string operator()(Begin const& begin) const {
        auto const stage = event_text("stage-began");
        return name(SubjectKind::dish, begin.dish) + " begun" +
               (stage.empty() ? "" : ": " + without_name(stage, begin.dish)) + conflict();
    }
    std::string operator()(Next const& next) const {
        auto const stage = event_text("stage-began");
        auto const band = stage.empty() ? event_text("note") : std::string();  // of a vessel that it has left
        return left_open() + name(SubjectKind::dish, next.dish) + ": " +
               (stage.empty() ? "that was the last stage." + (band.empty() ? "" : " " + band)
                              : without_name(stage, next.dish)) +
               conflict() + undo(next.dish);
    }
    std::string conflict() const {
        auto const text = event_text("band-conflict");
        return text.empty() ? "" : " But " + text;
    }
    // The event of a stage begins with the dish, which the answer has named already.
    std::string without_name(std::string const& text, int dish) const {
        auto const start = name(SubjectKind::dish, dish) + ": ";
        return text.starts_with(start) ? text.substr(start.size()) : text;
    }
    std::string undo(int dish) const {
        return " Not meant? `ingle back " + name(SubjectKind::dish, dish) + "`";
    }
    std::string operator()(Back const& back) const {
        auto text = event_text("taken-back");
        for (auto const& effect : effects)
            if (auto const* event = std::get_if<Event>(&effect); event && event->name == "taken-back")
                for (auto const& [key, value] : event->numbers)
                    if (key == "began_s")
                        text += " To begin it as it was: `ingle begin " + name(SubjectKind::dish, back.dish) +
                                " --when \"" + show(Duration{value}) + " ago\"`.";
        return text + conflict();
    }
    std::string operator()(NoteBack const&) const { return event_text("taken-back"); }
    std::string operator()(End const& end) const {
        auto const band = event_text("note");  // of a vessel that it has left
        return left_open() + name(SubjectKind::dish, end.dish) + " ended" +
               (band.empty() ? "." : "; " + band) + undo(end.dish);
    }
    std::string operator()(Note const&) const { return "noted"; }
    std::string operator()(Acknowledge const&) const {
        return about_alarms(Transition::acknowledged, "acknowledged");
    }
    std::string operator()(Shelve const& shelve) const {
        return shelve.length.count() > 0 ? about_alarms(Transition::shelved, "shelved")
                                         : about_alarms(Transition::unshelved, "unshelved");
    }
    std::string operator()(OutOfService const& command) const {
        return name_of(settings, command.subject) +
               (command.out ? " is out of service" : " is in service again");
    }
    std::string operator()(Calibrate const& command) const {
        return name(SubjectKind::probe, command.probe) + ": calibration stored";
    }
    std::string operator()(StartTimer const&) const { return event_text("note"); }
    std::string operator()(StopTimer const&) const { return event_text("note"); }
    std::string operator()(Remind const&) const { return event_text("note"); }
    std::string operator()(ServeAt const&) const { return event_text("note"); }
    std::string operator()(StopReminder const&) const { return event_text("note"); }
    std::string operator()(auto const&) const { return "done"; }
};

}  // namespace

Outcome outcome_of(Settings const& settings, Command const& command, Effects const& effects) {
    for (auto const& effect : effects)
        if (auto const* event = std::get_if<Event>(&effect); event && event->name == "refused")
            return {false, event->text};
    return {true, std::visit(Sentence{settings, effects}, command)};
}

}  // namespace ingle
