// What a person, a plan or the machine room tells the core. What cannot be done is an event "refused".
#include <algorithm>
#include <cmath>
#include <utility>

#include "config/calibration.hpp"
#include "config/limits.hpp"
#include "config/station_pressure.hpp"
#include "daemon/kitchen/impl.hpp"
#include "daemon/model/timer_length.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType trouble_types[] = {
    {.name = "not-recording", .priority = Priority::high, .over = "records its readings again"},
    // Whatever it was that did not arrive: the next notice may be the one that counts (IEC 62682 ranks by the
    // consequence), and a channel with least = "high" must tell that another one fails, at night too.
    {.name = "not-delivered", .priority = Priority::high, .over = "has no channel any more that fails"},
    // What was cooking may be known to nobody any more.
    {.name = "logbook-damaged", .priority = Priority::high, .over = "has no damaged logbook any more"},
    // Nor where the file itself is another one.
    {.name = "logbook-new", .priority = Priority::medium, .over = "has the logbook of before again"},
    // An open lid or a pressed button would not be noticed.
    {.name = "switch-lost", .priority = Priority::medium, .over = "has no switch any more that is lost"},
    // A cook whose dish is gone from the kitchen file.
    {.name = "cook-left-behind",
     .priority = Priority::medium,
     .over = "has no cook any more without its dish"},
    // The kitchen file was edited while they cooked.
    {.name = "core-in-two-dishes",
     .priority = Priority::medium,
     .over = "has no two dishes any more that cook with one core probe"},
    // What a person said before the logbook was open, and what it held did not allow.
    {.name = "order-dropped",
     .priority = Priority::medium,
     .over = "has no order any more that was not taken up"},
    // What it was about has another name in the kitchen file now, or is gone.
    {.name = "alarm-dropped",
     .priority = Priority::medium,
     .over = "has no alarm any more without its subject"},
    // What somebody wrote into the kitchen file is not what is watched.
    {.name = "kitchen-file-refused", .priority = Priority::low, .over = "goes by its kitchen file again"},
    // The same, and nobody may have been there: the start was the machine's own.
    {.name = "kitchen-file-unusable", .priority = Priority::medium, .over = "goes by its kitchen file again"},
    // A file that was cut off is a good file.
    {.name = "kitchen-file-lacks",
     .priority = Priority::medium,
     .over = "has no kitchen file any more that lacks what it had"},
    // IEC 62682: what is out of service is listed, and never forgotten.
    {.name = "out-of-service", .priority = Priority::medium, .over = "has nothing out of service any more"},
    // A board learns the time within a minute or two of its network.
    {.name = "clock-uncertain",
     .priority = Priority::low,
     .on_delay = std::chrono::minutes(2),
     .over = "knows the time again"}};

constexpr Span longest_shown_step = std::chrono::seconds(1);  // a smaller correction of the clock is no event

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

void Kitchen::Impl::tell(std::string name, Subject about, std::string text, Effects& out) {
    out.push_back(Event{now, std::move(name), about, std::move(text), {}});
}

// Is there such a subject? Says so if not.
bool Kitchen::Impl::here(Subject subject, Effects& out) {
    if (known(subject)) return true;
    refuse({}, "there is no " + quoted(to_word(subject.kind), subject) + " in this kitchen", out);
    return false;
}

// `act` changes the dish, and answers "" or why it cannot be done.
// `order`: its name, where it can be taken back.
template <class Act>
void Kitchen::Impl::with_dish(int number, std::string_view order, Effects& out, Act act) {
    Subject const subject{SubjectKind::dish, number};
    if (!here(subject, out)) return;
    auto unordered = without_order(number, order);
    CookOutput cooked;
    std::string const refusal = act(dishes[static_cast<std::size_t>(number)], cooked);
    if (!refusal.empty()) return refuse(subject, refusal, out);
    cooked.findings.clear();  // findings are judged on the second only
    absorb(number, cooked, out);
    keep(number, std::move(unordered));
    changed(out);
}

// With what else is not watched by it.
std::string Kitchen::Impl::no_longer_held(int number, bool was_watched) const {
    auto const& vessel = settings.vessels[static_cast<std::size_t>(number)];
    if (!was_watched) return vessel.name + " was not held.";
    auto text = vessel.name + " is no longer held.";
    if (!vessels[static_cast<std::size_t>(number)].stages.empty())
        return text + " The band of the dish in it is not watched either, until its next stage.";
    if (!vessel.band) return text;
    auto const low = show(vessel.band->low, settings.units);
    auto const band = low.substr(0, low.find(' ')) + " to " + show(vessel.band->high, settings.units);
    return text + " The kitchen file's band is not watched either; it is again by `ingle hold " +
           vessel.name + " " + band + "`.";
}

void Kitchen::Impl::obey(Hold const& hold, Effects& out) {
    Subject const subject{SubjectKind::vessel, hold.vessel};
    if (!here(subject, out)) return;
    auto const& name = settings.vessels[static_cast<std::size_t>(hold.vessel)].name;
    if (hold.band) {
        auto const mistake =
            mistake_in_band(*hold.band, settings.vessels[static_cast<std::size_t>(hold.vessel)], settings);
        if (mistake) return refuse(subject, name + ": " + mistake->wrong + "; " + mistake->right, out);
    }
    if (settings.vessels[static_cast<std::size_t>(hold.vessel)].medium < 0) {
        return refuse(subject, name + " has no probe in its medium: its band cannot be watched", out);
    }
    if (hold.length && (*hold.length <= Span(0) || *hold.length > longest_timer))
        return refuse(subject, name + ": " + timer_too_long, out);
    auto& vessel = vessels[static_cast<std::size_t>(hold.vessel)];
    bool const was_watched = vessel.band.has_value();
    vessel.held = hold.band;
    auto const timer = vessel.hold_timer;
    auto const uncounted = end_time_of_hold(vessel);
    timers.stop(timer);  // one that has rung is answered by this
    vessel.hold_for = hold.length;
    vessel.kept = vessel.needed || hold.length;
    vessel.emptied = false;
    vessel.person_is_newer = true;
    settle_band(hold.vessel);
    tell("note", subject,
         hold.band ? "holding " + name + " at " + show(hold.band->low, settings.units) + " to " +
                         show(hold.band->high, settings.units) +
                         (hold.length ? " for " + Words::in(*hold.length) : "") + "."
                   : no_longer_held(hold.vessel, was_watched),
         out);
    if (uncounted && !hold.length)
        std::get<Event>(out.back()).text +=
            " The time that it was to be held, " + Words::in(*uncounted) + " more, is not counted any more.";
    for (int d = 0; d < static_cast<int>(dishes.size()); ++d)
        if (dishes[static_cast<std::size_t>(d)].cook.vessel() == hold.vessel)
            if (auto const by = counted_by(d); !by.empty())
                std::get<Event>(out.back()).text +=
                    " Of " + std::string(dishes[static_cast<std::size_t>(d)].cook.stage_name()) + " of " +
                    settings.dishes[static_cast<std::size_t>(d)].name + " " + by + ".";
    auto& numbers = std::get<Event>(out.back()).numbers;
    if (hold.band)
        numbers = {{"low_c", hold.band->low.celsius}, {"high_c", hold.band->high.celsius}};
    else
        numbers = {{"held", 0}};
    changed(out);
}

// A probe is in one dish: what it reads cannot be the core of two. "" = in no other that cooks.
std::string Kitchen::Impl::where_its_core_is(int number) const {
    for (auto const& other : settings.dishes) {
        auto const at = static_cast<std::size_t>(&other - settings.dishes.data());
        if (static_cast<int>(at) == number || !dishes[at].cook.begun()) continue;
        for (int const probe : dishes[static_cast<std::size_t>(number)].probes)
            if (std::ranges::count(dishes[at].probes, probe) > 0)
                return settings.probes[static_cast<std::size_t>(probe)].name + " is in " + other.name +
                       ", which cooks: end that one, or give one of them another core";
    }
    return {};
}

void Kitchen::Impl::obey(Begin const& begin, Effects& out) {
    constexpr Span longest_ago = std::chrono::hours(24 * 30);
    auto const at = std::min(begin.when.value_or(now), now);
    if (now - at > longest_ago)
        return refuse({SubjectKind::dish, begin.dish}, "a cook can be begun 30 days back at most", out);
    with_dish(begin.dish, "begin", out, [&](DishState& dish, CookOutput& cooked) {
        if (auto where = where_its_core_is(begin.dish); !where.empty()) return where;
        auto const& ended = ended_at[static_cast<std::size_t>(begin.dish)];
        if (ended && at < *ended)
            return settings.dishes[static_cast<std::size_t>(begin.dish)].name +
                   " was in an earlier cook until " + Words::in(now - *ended) +
                   " ago: begin it after that, or take the end back with `ingle back`";
        if (!dish.cook.begun()) begin_ledger(begin.dish, at);
        auto refusal = dish.cook.begin(at, last_cook + 1, cooked);
        if (refusal.empty()) {
            ++last_cook;
            // What was told of an earlier cook is news again in this one.
            desk.forget(now, {SubjectKind::dish, begin.dish}, out);
            if (at < now) {
                auto const present = std::exchange(now, at);
                absorb(begin.dish, cooked, out);
                cooked = {};
                now = present;
                live_through(begin.dish, at, begin.read, out);
            }
        }
        return refusal;
    });
}

void Kitchen::Impl::obey(Next const& next, Effects& out) {
    constexpr Span second_press = std::chrono::seconds(10);
    with_dish(next.dish, "next", out, [&](DishState& dish, CookOutput& cooked) -> std::string {
        auto const& given = without[static_cast<std::size_t>(next.dish)];
        auto const& name = settings.dishes[static_cast<std::size_t>(next.dish)].name;
        if (!next.meant && !given.empty() && given.back().order == "next" &&
            now - given.back().given < second_press)
            return name + " went on to " + std::string(dish.cook.stage_name()) + " " +
                   Words::in(now - given.back().given) + " ago. On once more: `ingle next " + name +
                   " --again`. Back: `ingle back " + name + "`";
        return dish.cook.next(now, cooked);
    });
}

void Kitchen::Impl::obey(End const& end, Effects& out) {
    with_dish(end.dish, "end", out, [&](DishState& dish, CookOutput& cooked) {
        auto refusal = dish.cook.end(now, cooked);
        if (refusal.empty()) {
            auto const number = static_cast<std::size_t>(end.dish);
            ended_for[number] = settings.dishes[number].serve_at;
            ended_at[number] = now;
            desk.forget(now, {SubjectKind::dish, end.dish}, out);
            dish.forecast.reset();
            dish.cooling.reset();
        }
        return refusal;
    });
}

void Kitchen::Impl::obey(Note const& note, Effects& out) {
    constexpr std::size_t most_notes = 20;
    if (!here(note.about, out)) return;
    auto const at = std::min(note.when.value_or(now), now);
    out.push_back(Event{at, "note", note.about, note.text, {}});
    if (notes.size() == most_notes) notes.erase(notes.begin());
    notes.push_back({at, note.about, note.text});
    changed(out);
}

void Kitchen::Impl::obey(StartTimer const& timer, Effects& out) {
    std::int64_t number = 0;
    auto const refusal = timers.start(now, timer.length, timer.text, number);
    if (!refusal.empty()) return refuse({}, refusal, out);
    tell("note", {},
         "timer " + std::to_string(number) + " is set: " + Words::in(timer.length) +
             (timer.text.empty() ? "" : ", " + timer.text) + ".",
         out);
    std::get<Event>(out.back()).numbers = {{"timer", static_cast<double>(number)}};
    changed(out);
}

void Kitchen::Impl::obey(StopTimer const& timer, Effects& out) {
    auto const refusal = timers.stop(timer.timer);
    if (!refusal.empty()) return refuse({}, refusal, out);
    tell("note", {}, "timer " + std::to_string(timer.timer) + " is stopped.", out);
    changed(out);
}

void Kitchen::Impl::obey(Acknowledge const& acknowledge, Effects& out) {
    bool const rings = desk.active("timer-over", {}), reminds = desk.active("reminder-due", {});
    desk.command(now, acknowledge, out);
    bool const timers_seen = rings && !desk.active("timer-over", {});
    bool const reminders_seen = reminds && !desk.active("reminder-due", {});
    if (timers_seen) timers.acknowledged();
    if (reminders_seen) reminders.acknowledged();
    if (timers_seen || reminders_seen) changed(out);
    trouble_seen();
}

void Kitchen::Impl::obey(Shelve const& shelve, Effects& out) {
    desk.command(now, shelve, out);
}

void Kitchen::Impl::obey(OutOfService const& service, Effects& out) {
    if (!here(service.subject, out)) return;
    if (service.out && service.subject.kind == SubjectKind::kitchen)
        return refuse(
            {},
            "the kitchen as a whole cannot be out of service: nobody would hear its timers, or that it "
            "does not record. Name a vessel, a dish or a probe",
            out);
    desk.command(now, service, out);
}

void Kitchen::Impl::obey(ClockAnchor const& anchor, Effects& out) {
    auto const moved = wall_offset_ms ? anchor.offset_ms - *wall_offset_ms : 0;
    bool const learnt = (anchor.certain && !clock_certain) || (anchor.proven && !clock_proven);
    if (learnt || std::abs(moved) > longest_shown_step.count()) {
        Event event{now, "clock-set", {}, "the time of day is known", {}};
        if (!anchor.proven) event.text = "the time of day is this machine's, and nothing vouches for it yet";
        if (!anchor.certain) event.text = "the clock was moved and is not certain";
        if (std::abs(moved) > longest_shown_step.count()) {
            event.text += "; it moved by " + show(Duration{static_cast<double>(std::abs(moved)) / 1000.0}) +
                          (moved < 0 ? " back" : " ahead");
        }
        event.text += ".";
        event.numbers = {{"moved_s", static_cast<double>(moved) / 1000.0}};
        out.push_back(std::move(event));
    }
    know_the_time(anchor);
}

void Kitchen::Impl::know_the_time(ClockAnchor const& anchor) {
    wall_offset_ms = anchor.offset_ms;
    clock_certain = anchor.certain;
    clock_proven = anchor.proven;
    if (anchor.certain) reminders.follow_clock(anchor.offset_ms);
    if (anchor.certain)
        troubles.erase("clock-uncertain");
    else
        troubles["clock-uncertain"] =
            "The board does not know the time of day yet; what is recorded "
            "is dated when it learns it.";
}

void Kitchen::Impl::obey(Switch const& lid, Effects& out) {
    Subject const subject{SubjectKind::vessel, lid.vessel};
    if (!here(subject, out)) return;
    vessels[static_cast<std::size_t>(lid.vessel)].door_switch_open = lid.open;
}

void Kitchen::Impl::obey(PressureNow const& pressure, Effects& out) {
    if (!is_station_pressure(pressure.pressure)) {
        return refuse({}, std::string("that is no pressure of the air: ") + station_pressure_range, out);
    }
    measured_pressure = pressure.pressure;
    for (int v = 0; v < static_cast<int>(vessels.size()); ++v) settle_boiling(v);
    memory_dirty = true;
}

void Kitchen::Impl::obey(KitchenTrouble const& trouble, Effects& out) {
    if (!find_type(kitchen_alarms(), trouble.alarm)) {
        return refuse({}, "there is no kitchen alarm called " + trouble.alarm, out);
    }
    if (trouble.alarm == "not-delivered") desk.channels_fail(now, trouble.channels);
    auto& joined = in_trouble[trouble.alarm];
    if (!trouble.present || (!troubles.contains(trouble.alarm) && !desk.active(trouble.alarm, {})))
        joined.clear();
    if (trouble.present) {
        troubles[trouble.alarm] = trouble.text;
        if (!trouble.of.empty()) joined.insert(trouble.of);
    } else {
        troubles.erase(trouble.alarm), desk.is_known_to_be_over(trouble.alarm, {});
    }
    memory_dirty = true;
}

void Kitchen::Impl::obey(DriverEvent const& event, Effects& out) {
    Subject const subject = event.probe < 0 ? Subject{} : Subject{SubjectKind::probe, event.probe};
    if (here(subject, out)) tell(event.event, subject, event.text, out);
}

void Kitchen::Impl::obey(Calibrate const& calibrate, Effects& out) {
    Subject const subject{SubjectKind::probe, calibrate.probe};
    if (!here(subject, out)) return;
    if (auto const wrong = calibration_problems(calibrate.points); !wrong.empty())
        return refuse(subject, "the calibration " + wrong.front().wrong + ": " + wrong.front().right, out);
    auto const p = static_cast<std::size_t>(calibrate.probe);
    conditioners[p].calibrate(calibrate.points);
    tell("note", subject,
         settings.probes[p].name + (calibrate.points.empty() ? " is read without calibration from now on."
                                                             : " has a new calibration."),
         out);
    changed(out);
}

void Kitchen::Impl::command(Command const& command, Effects& out) {
    std::visit([&](auto const& one) { obey(one, out); }, command);
}

}  // namespace ingle
