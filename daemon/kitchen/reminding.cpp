// Reminders: what they wait for, as the kitchen sees it.
#include <algorithm>

#include "daemon/kitchen/impl.hpp"

namespace ingle {
namespace {

bool can_be_judged_by(Signal const& signal) {
    return signal.fresh && !signal.fault && !signal.doubtful && signal.fault_rate <= too_many_lost;
}

}  // namespace

// Of a dish what counts as its core, and only while none of its probes is in doubt.
std::optional<GoodReading> Kitchen::Impl::good_reading(Subject about) const {
    auto const number = static_cast<std::size_t>(about.number);
    if (about.kind == SubjectKind::dish) {
        auto const& dish = dishes[number];
        auto const core = dish.cook.core();
        if (!core || dish.probes.empty()) return std::nullopt;
        GoodReading reading{*core, {}};
        for (int const probe : dish.probes) {
            auto const& signal = signals[static_cast<std::size_t>(probe)];
            if (!can_be_judged_by(signal)) return std::nullopt;
            reading.at = std::max(reading.at, signal.sample_at);
        }
        return reading;
    }
    int const probe = about.kind == SubjectKind::probe    ? about.number
                      : about.kind == SubjectKind::vessel ? settings.vessels[number].medium
                                                          : -1;
    if (probe < 0) return std::nullopt;
    auto const& signal = signals[static_cast<std::size_t>(probe)];
    if (!can_be_judged_by(signal)) return std::nullopt;
    return GoodReading{signal.celsius, signal.sample_at};
}

ReminderFacts Kitchen::Impl::reminder_facts() const {
    return {[this](Subject about) { return good_reading(about); },
            [this](int dish) {
                auto const& cook = dishes[static_cast<std::size_t>(dish)].cook;
                return cook.begun() ? CookPlace{cook.number(), cook.place(), std::string(cook.stage_name()),
                                                cook.waits_to_be_moved()}
                                    : CookPlace{};
            },
            [this](Subject about) -> std::string {
                auto const number = static_cast<std::size_t>(about.number);
                if (about.kind == SubjectKind::dish) return settings.dishes[number].name;
                if (about.kind == SubjectKind::vessel) return settings.vessels[number].name;
                return about.kind == SubjectKind::probe ? settings.probes[number].name : settings.name;
            },
            clock_certain ? wall_offset_ms : std::nullopt};
}

// A plan may have been edited: the stages that reminders wait for have moved with their cooks, of which some
// can only be taken back. And the clock may have been corrected.
void Kitchen::Impl::place_reminders() {
    reminders.stages_moved([this](int dish, std::int64_t cook, std::size_t stage) {
        auto const number = static_cast<std::size_t>(dish);
        if (dishes[number].cook.number() == cook && dishes[number].cook.begun())
            return dishes[number].cook.place_now(stage);
        for (auto const& one : without[number])
            if (one.dish.cook.number() == cook && one.dish.cook.begun())
                return one.dish.cook.place_now(stage);
        return std::optional(stage);
    });
    if (clock_certain && wall_offset_ms) reminders.follow_clock(*wall_offset_ms);
}

std::optional<Subject> Kitchen::Impl::find_subject(std::string const& kind_and_name) const {
    auto const space = kind_and_name.find(' ');
    if (space == std::string::npos) return std::nullopt;
    auto const kind = kind_and_name.substr(0, space), name = kind_and_name.substr(space + 1);
    auto const found = [](SubjectKind of, int number) {
        return number < 0 ? std::nullopt : std::optional(Subject{of, number});
    };
    if (kind == to_word(SubjectKind::dish)) return found(SubjectKind::dish, number_of(settings.dishes, name));
    if (kind == to_word(SubjectKind::vessel))
        return found(SubjectKind::vessel, number_of(settings.vessels, name));
    if (kind == to_word(SubjectKind::probe))
        return found(SubjectKind::probe, number_of(settings.probes, name));
    return std::nullopt;
}

void Kitchen::Impl::obey(Remind const& remind, Effects& out) {
    if (!here(remind.about, out)) return;
    auto const facts = reminder_facts();
    auto const about = facts.name(remind.about);
    auto const kind = remind.about.kind;
    auto const number = static_cast<std::size_t>(remind.about.number);
    if (remind.celsius) {
        bool const read = kind == SubjectKind::probe ||
                          (kind == SubjectKind::vessel && settings.vessels[number].medium >= 0) ||
                          (kind == SubjectKind::dish && !dishes[number].probes.empty());
        if (!read) return refuse(remind.about, about + " has no probe: its temperature is not known", out);
    }
    if (remind.stage_end) {
        if (kind != SubjectKind::dish || !dishes[number].cook.stage())
            return refuse(remind.about, about + " is in no stage now: there is no end to wait for", out);
    }
    std::string told;
    auto const refusal = reminders.add(now, remind, facts, told);
    if (!refusal.empty()) return refuse(remind.about, refusal, out);
    tell("note", remind.about, std::move(told), out);
    changed(out);
}

void Kitchen::Impl::obey(StopReminder const& reminder, Effects& out) {
    auto const refusal = reminders.stop(reminder.reminder);
    if (!refusal.empty()) return refuse({}, refusal, out);
    tell("note", {}, "reminder " + std::to_string(reminder.reminder) + " is stopped.", out);
    changed(out);
}

}  // namespace ingle
