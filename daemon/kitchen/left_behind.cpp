// What the kitchen file does not have any more, or has again. Nothing is thrown away with a name.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

constexpr std::size_t most_names = 100;  // of a kind; a name that is changed every day ends somewhere
constexpr char untold_no_more[] = "told-missing";  // of a vessel that was held: somebody was told

// Of the texts "KIND.NAME.…": the names that `known` does not have.
template <class All>
std::vector<std::string> unknown_names(Memory const& memory, std::string const& kind, All const& known) {
    std::vector<std::string> names;
    for (auto at = memory.first_with(kind); at != memory.all().end() && at->first.starts_with(kind); ++at) {
        auto const name = at->first.substr(kind.size(), at->first.find('.', kind.size()) - kind.size());
        if (names.size() < most_names && (names.empty() || names.back() != name) &&
            std::ranges::none_of(known, [&](auto const& one) { return one.name == name; }))
            names.push_back(name);
    }
    return names;
}

void keep_texts(Memory& kept, Memory const& memory, std::string const& prefix) {
    for (auto at = memory.first_with(prefix); at != memory.all().end() && at->first.starts_with(prefix); ++at)
        kept.put_as_in(memory, at->first);
}

// How what happened once ends; empty for what ends when it is mended.
std::string_view seen_words(std::string_view alarm) {
    if (alarm == "logbook-damaged") return "Somebody has seen that the logbook was damaged.";
    if (alarm == "logbook-new") return "Somebody has seen that the logbook is a new one.";
    if (alarm == "order-dropped") return "Somebody has seen that an order was not taken up.";
    if (alarm == "kitchen-file-lacks") return "Somebody has seen that the kitchen file has lost parts of it.";
    if (alarm == "alarm-dropped")
        return "Somebody has seen that an alarm is not part of this kitchen any more.";
    return {};
}

}  // namespace

void Kitchen::Impl::leave_behind(Memory const& memory, Effects& out) {
    auto const tell_of = [&](std::string const& alarm, std::string const& text) {
        auto& told = troubles[alarm];
        told += (told.empty() ? "" : " ") + text;
    };
    for (auto const& name : unknown_names(memory, "dish.", settings.dishes)) {
        auto const prefix = "dish." + name + ".";
        if (memory.integer(prefix + "cook.begun").value_or(0) == 0) continue;
        keep_texts(left_behind, memory, prefix);
        std::string text = name +
                           " cooks, and the kitchen file has no such dish any more: it is not watched. Its "
                           "cook is kept, and goes on when the dish is put back.";
        tell_of("cook-left-behind", text);
        out.push_back(Event{now, "not-restored", {}, std::move(text), {}});
    }
    for (auto const& name : unknown_names(memory, "vessel.", settings.vessels)) {
        auto const prefix = "vessel." + name + ".";
        bool const held = memory.integer(prefix + "held").value_or(0) != 0;
        if (!held && !memory.number(prefix + "band.low")) continue;
        keep_texts(left_behind, memory, prefix);
        if (!held) continue;
        bool const told_before = memory.integer(prefix + untold_no_more).value_or(0) != 0;
        left_behind.put(prefix + untold_no_more, std::int64_t{1});
        std::string text = "The kitchen file has no " + name +
                           " any more: it is not watched. What it was to be held at is kept, and holds when "
                           "it is put back.";
        if (!told_before) tell_of("order-dropped", text);
        out.push_back(Event{now, "not-restored", {}, std::move(text), {}});
    }
    for (auto const& name : unknown_names(memory, "probe.", settings.probes)) {
        auto const prefix = "probe." + name + ".";
        keep_texts(left_behind, memory, prefix);
        if (memory.integer(prefix + "calibration.points").value_or(0) == 0) continue;
        out.push_back(Event{now,
                            "not-restored",
                            {},
                            "The kitchen file has no probe " + name +
                                " any more. Its calibration is kept, and holds when it is put back.",
                            {}});
    }
}

std::string Kitchen::Impl::shared_cores() const {
    std::string text;
    for (std::size_t d = 0; d < dishes.size(); ++d)
        for (std::size_t other = d + 1; other < dishes.size(); ++other) {
            if (!dishes[d].cook.begun() || !dishes[other].cook.begun()) continue;
            auto const& cores = dishes[other].probes;
            for (int const probe : dishes[d].probes) {
                if (std::ranges::find(cores, probe) == cores.end()) continue;
                text +=
                    (text.empty() ? "" : " ") + settings.probes[static_cast<std::size_t>(probe)].name +
                    " is the core probe of " + settings.dishes[d].name + " and of " +
                    settings.dishes[other].name +
                    ", which both cook: what it reads is taken for both. Give one of them another core in "
                    "the kitchen file, or end one.";
            }
        }
    return text;
}

// The time of a hold does not run where nobody sees whether it is held.
void Kitchen::Impl::stop_holds_left_behind(Memory const& memory) {
    for (auto const& name : unknown_names(memory, "vessel.", settings.vessels)) {
        auto const prefix = "vessel." + name + ".";
        auto const number = memory.integer(prefix + "hold-timer").value_or(0);
        auto const timer = std::ranges::find(timers.all(), number, &TimerView::number);
        if (number == 0) continue;
        left_behind.put(prefix + "hold-timer", std::int64_t{0});
        if (timer == timers.all().end() || timer->over) continue;
        left_behind.put(prefix + "hold-for-ms", std::int64_t{(timer->ends - now).count()});
        timers.stop(number);
    }
}

// A dish or a vessel that a kitchen file in between did not have has its stage's band all the same.
void Kitchen::Impl::lay_missing_bands(int number, Effects& out) {
    auto& vessel = vessels[static_cast<std::size_t>(number)];
    for (int d = 0; d < static_cast<int>(dishes.size()); ++d) {
        auto const& cook = dishes[static_cast<std::size_t>(d)].cook;
        auto const* stage = cook.stage();
        if (!stage || !stage->band || stage->vessel != number ||
            std::ranges::find(vessel.stages, d, &StageBand::dish) != vessel.stages.end())
            continue;
        vessel.stages.push_back({d, *stage->band});
        if (vessel.held && vessel.person_is_newer) continue;  // held otherwise: it has another
        tell("note", {SubjectKind::vessel, number},
             settings.vessels[static_cast<std::size_t>(number)].name + " has the band of " +
                 std::string(cook.stage_name()) + " of " + settings.dishes[static_cast<std::size_t>(d)].name +
                 ".",
             out);
    }
}

// An alarm that stood does not vanish with a name in the kitchen file.
void Kitchen::Impl::tell_dropped(Effects const& out) {
    for (auto const& effect : out) {
        auto const* event = std::get_if<Event>(&effect);
        if (!event || event->name != "alarm-dropped" || event->numbers.empty() ||
            event->numbers.front().second == 0)
            continue;
        auto& alarm = troubles["alarm-dropped"];
        alarm += (alarm.empty() ? "" : " ") + event->text + ".";
    }
}

// What happened once and cannot end by itself is told until somebody has seen it, over a restart too.
void Kitchen::Impl::trouble_unseen() {
    for (auto const& alarm : desk.open()) {
        if (seen_words(alarm.type->name).empty() || !alarm.active || alarm.acknowledged) continue;
        auto& text = troubles[std::string(alarm.type->name)];
        auto const before = desk.found_text(alarm.type->name, alarm.subject);
        text = text.empty() || text == before ? before : before + " " + text;
    }
}

void Kitchen::Impl::trouble_seen() {
    for (auto const& alarm : desk.open()) {
        auto const words = seen_words(alarm.type->name);
        if (words.empty() || !alarm.active || !alarm.acknowledged) continue;
        desk.retract(alarm.type->name, {}, std::string(words));
        desk.is_known_to_be_over(alarm.type->name, {});
        troubles.erase(std::string(alarm.type->name));
    }
}

}  // namespace ingle
