// What a person, a plan or the machine room tells the core. What cannot be done is an event "refused".
#include <algorithm>
#include <cmath>

#include "config/calibration.hpp"
#include "config/limits.hpp"
#include "config/station_pressure.hpp"
#include "daemon/kitchen/impl.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType trouble_types[] = {
    {.name = "not-recording", .priority = Priority::high},
    {.name = "not-delivered", .priority = Priority::high},
    // A board learns the time within a minute or two of its network.
    {.name = "clock-uncertain", .priority = Priority::low, .on_delay = std::chrono::minutes(2)}};

constexpr Span longest_shown_step = std::chrono::seconds(1);  // a smaller correction of the clock is no event

template <class... Fs>
struct Overloaded : Fs... {
    using Fs::operator()...;
};
template <class... Fs>
Overloaded(Fs...) -> Overloaded<Fs...>;  // older Clang does not deduce it

std::string quoted(std::string_view name, Subject subject) {
    return std::string(name) + " " + std::to_string(subject.number);
}

}  // namespace

std::span<AlarmType const> kitchen_alarms() {
    return trouble_types;
}

bool Kitchen::Impl::known(Subject subject) const {
    auto const below = [&](std::size_t count) {
        return subject.number >= 0 && static_cast<std::size_t>(subject.number) < count;
    };
    switch (subject.kind) {
        case SubjectKind::kitchen:
            return subject.number == 0;
        case SubjectKind::probe:
            return below(probes.size());
        case SubjectKind::vessel:
            return below(vessels.size());
        case SubjectKind::dish:
            return below(dishes.size());
    }
    return false;
}

void Kitchen::Impl::refuse(Subject about, std::string sentence, Effects& out) {
    if (!known(about)) about = {};
    out.push_back(Event{now, "refused", about, std::move(sentence), {}});
}

void Kitchen::Impl::command(Command const& command, Effects& out) {
    // Answers whether there is such a subject, and says so if not.
    auto const here = [&](Subject subject) {
        if (known(subject)) return true;
        refuse({}, "there is no " + quoted(to_word(subject.kind), subject) + " in this kitchen", out);
        return false;
    };
    auto const told = [&](std::string name, Subject about, std::string text) {
        out.push_back(Event{now, std::move(name), about, std::move(text), {}});
    };
    auto const with_dish = [&](int number, auto act) {
        Subject const subject{SubjectKind::dish, number};
        if (!here(subject)) return;
        CookOutput cooked;
        std::string const refusal = act(dishes[static_cast<std::size_t>(number)], cooked);
        if (!refusal.empty()) return refuse(subject, refusal, out);
        cooked.findings.clear();  // findings are judged on the second only
        absorb(number, cooked, out);
        changed(out);
    };

    std::visit(
        Overloaded{
            [&](Hold const& hold) {
                Subject const subject{SubjectKind::vessel, hold.vessel};
                if (!here(subject)) return;
                auto const& name = settings.vessels[static_cast<std::size_t>(hold.vessel)].name;
                if (hold.band) {
                    auto const mistake = mistake_in_band(
                        *hold.band, settings.vessels[static_cast<std::size_t>(hold.vessel)], settings);
                    if (mistake)
                        return refuse(subject, name + ": " + mistake->wrong + "; " + mistake->right, out);
                }
                if (settings.vessels[static_cast<std::size_t>(hold.vessel)].medium < 0) {
                    return refuse(subject, name + " has no probe in its medium: its band cannot be watched",
                                  out);
                }
                auto& vessel = vessels[static_cast<std::size_t>(hold.vessel)];
                vessel.held = hold.band;
                vessel.kept = vessel.needed;
                vessel.emptied = false;
                vessel.person_is_newer = true;
                settle_band(hold.vessel);
                told("note", subject,
                     hold.band ? name + " is to be held at " + show(hold.band->low, settings.units) + " to " +
                                     show(hold.band->high, settings.units) + "."
                               : name + " is not held any more.");
                auto& numbers = std::get<Event>(out.back()).numbers;
                if (hold.band)
                    numbers = {{"low_c", hold.band->low.celsius}, {"high_c", hold.band->high.celsius}};
                else
                    numbers = {{"held", 0}};
                changed(out);
            },
            [&](Begin const& begin) {
                with_dish(begin.dish, [&](DishState& dish, CookOutput& cooked) {
                    if (!dish.cook.begun()) begin_ledger(begin.dish, now);
                    auto refusal = dish.cook.begin(now, last_cook + 1, cooked);
                    if (refusal.empty()) {
                        ++last_cook;
                        // What was told of an earlier cook is news again in this one.
                        desk.forget(now, {SubjectKind::dish, begin.dish}, out);
                    }
                    return refusal;
                });
            },
            [&](Next const& next) {
                with_dish(next.dish,
                          [&](DishState& dish, CookOutput& cooked) { return dish.cook.next(now, cooked); });
            },
            [&](End const& end) {
                with_dish(end.dish, [&](DishState& dish, CookOutput& cooked) {
                    auto refusal = dish.cook.end(now, cooked);
                    if (refusal.empty()) {
                        desk.forget(now, {SubjectKind::dish, end.dish}, out);
                        dish.forecast.reset();
                        dish.cooling.reset();
                    }
                    return refusal;
                });
            },
            [&](Note const& note) {
                if (!here(note.about)) return;
                out.push_back(
                    Event{std::min(note.when.value_or(now), now), "note", note.about, note.text, {}});
            },
            [&](StartTimer const& timer) {
                std::int64_t number = 0;
                auto const refusal = timers.start(now, timer.length, timer.text, number);
                if (!refusal.empty()) return refuse({}, refusal, out);
                told("note", {},
                     "timer " + std::to_string(number) + " is set: " + Words::in(timer.length) +
                         (timer.text.empty() ? "" : ", " + timer.text) + ".");
                std::get<Event>(out.back()).numbers = {{"timer", static_cast<double>(number)}};
                changed(out);
            },
            [&](StopTimer const& timer) {
                auto const refusal = timers.stop(timer.timer);
                if (!refusal.empty()) return refuse({}, refusal, out);
                told("note", {}, "timer " + std::to_string(timer.timer) + " is stopped.");
                changed(out);
            },
            [&](Acknowledge const& acknowledge) {
                bool const rings = desk.active("timer-over", {});
                desk.command(now, acknowledge, out);
                if (!rings || desk.active("timer-over", {})) return;
                timers.acknowledged();
                changed(out);
            },
            [&](Shelve const& shelve) { desk.command(now, shelve, out); },
            [&](OutOfService const& service) {
                if (here(service.subject)) desk.command(now, service, out);
            },
            [&](ClockAnchor const& anchor) {
                auto const moved = wall_offset_ms ? anchor.offset_ms - *wall_offset_ms : 0;
                bool const learnt = anchor.certain && !clock_certain;
                if (learnt || std::abs(moved) > longest_shown_step.count()) {
                    Event event{now, "clock-set", {}, "the time of day is known", {}};
                    if (!anchor.certain) event.text = "the clock was moved and is not certain";
                    if (std::abs(moved) > longest_shown_step.count()) {
                        event.text += "; it moved by " +
                                      show(Duration{static_cast<double>(std::abs(moved)) / 1000.0}) +
                                      (moved < 0 ? " back" : " ahead");
                    }
                    event.text += ".";
                    event.numbers = {{"moved_s", static_cast<double>(moved) / 1000.0}};
                    out.push_back(std::move(event));
                }
                wall_offset_ms = anchor.offset_ms;
                clock_certain = anchor.certain;
                if (anchor.certain)
                    troubles.erase("clock-uncertain");
                else
                    troubles["clock-uncertain"] =
                        "The board does not know the time of day yet; what is recorded "
                        "is dated when it learns it.";
            },
            [&](Switch const& lid) {
                Subject const subject{SubjectKind::vessel, lid.vessel};
                if (!here(subject)) return;
                vessels[static_cast<std::size_t>(lid.vessel)].door_switch_open = lid.open;
            },
            [&](PressureNow const& pressure) {
                if (!is_station_pressure(pressure.pressure)) {
                    return refuse(
                        {}, std::string("that is no pressure of the air: ") + station_pressure_range, out);
                }
                measured_pressure = pressure.pressure;
                for (int v = 0; v < static_cast<int>(vessels.size()); ++v) settle_boiling(v);
                memory_dirty = true;
            },
            [&](KitchenTrouble const& trouble) {
                if (!find_type(kitchen_alarms(), trouble.alarm)) {
                    return refuse({}, "there is no kitchen alarm called " + trouble.alarm, out);
                }
                if (trouble.present)
                    troubles[trouble.alarm] = trouble.text;
                else
                    troubles.erase(trouble.alarm);
            },
            [&](DriverEvent const& event) {
                Subject const subject =
                    event.probe < 0 ? Subject{} : Subject{SubjectKind::probe, event.probe};
                if (here(subject)) told(event.event, subject, event.text);
            },
            [&](Calibrate const& calibrate) {
                Subject const subject{SubjectKind::probe, calibrate.probe};
                if (!here(subject)) return;
                if (auto const wrong = calibration_problems(calibrate.points); !wrong.empty())
                    return refuse(subject,
                                  "the calibration " + wrong.front().wrong + ": " + wrong.front().right, out);
                auto const p = static_cast<std::size_t>(calibrate.probe);
                conditioners[p].calibrate(calibrate.points);
                told("note", subject,
                     settings.probes[p].name + (calibrate.points.empty()
                                                    ? " is read without calibration from now on."
                                                    : " has a new calibration."));
                changed(out);
            }},
        command);
}

}  // namespace ingle
