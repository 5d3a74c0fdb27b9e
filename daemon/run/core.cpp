#include "daemon/run/core.hpp"

#include <algorithm>
#include <utility>

#include "daemon/logbook/kept_forecast.hpp"
#include "daemon/model/late_alarms.hpp"

namespace ingle {
namespace {

constexpr Span standstill = std::chrono::seconds(15);  // between two moments; a busy machine is late by less

// To be compared with itself only.
std::string text_of(std::vector<CalibrationPoint> const& points) {
    std::string text;
    for (auto const& point : points)
        text += show(point.reads, TemperatureUnit::celsius, 6) + " is " +
                show(point.is, TemperatureUnit::celsius, 6) + "; ";
    return text;
}

std::string key_of(ProbeSettings const& probe) {
    return "file." + probe.name + ".calibration";
}

bool same_point(CalibrationPoint const& a, CalibrationPoint const& b) {
    return a.reads.celsius == b.reads.celsius && a.is.celsius == b.is.celsius;
}

bool is_refused(Effects const& effects) {
    return std::ranges::any_of(effects, [](Effect const& effect) {
        auto const* event = std::get_if<Event>(&effect);
        return event && event->name == "refused";
    });
}

}  // namespace

Core::Core(Settings settings, Instant start, logbook::Writer& writer, Neighbours neighbours)
    : kitchen_(std::move(settings), start),
      writer_(writer),
      neighbours_(std::move(neighbours)),
      counts_(kitchen_.settings().probes.size()),
      cooks_(kitchen_.settings().dishes.size()),
      journal_(start) {}

void Core::recall(logbook::Resumed resumed, ClockAnchor const& clock) {
    if (past_known_) return;
    if (!resumed.known) {
        late_ = true;
        return kitchen_.number_from(last_alarm_before_late, 0);
    }
    bool const late = journal_ && (late_ || journal_->size() > 0);
    clock_ = clock;
    resumed_ = std::move(resumed);
    used_links_.load(resumed_->memory);
    unmeasured_ = logbook::unmeasured(*resumed_, clock);
    if (late) return begin_catching_up(clock);
    past_known_ = true;
    writer_.taken_up();
    Effects effects;
    recall_into(kitchen_, clock, effects);
    for (auto const& dish : kitchen_.view().dishes) cooks_[static_cast<std::size_t>(dish.number)] = dish.cook;
    // The logbook began with the kitchen file's calibrations; the core may have recalled a newer one.
    std::vector<std::vector<CalibrationPoint>> file;
    for (auto const& probe : settings().probes) file.push_back(probe.calibration);
    begin_calibrations(file);
    dispatch(effects);
    watch_journal();
}

void Core::go_on(logbook::Resumed handed, std::optional<ClockAnchor> const& clock) {
    Effects effects;
    kitchen_.goes_on(clock, effects);
    recall(std::move(handed), clock.value_or(ClockAnchor{}));
    dispatch(effects);
}

void Core::inherit(Core& earlier) {
    auto const same = [](auto const& a, auto const& b) {
        return std::ranges::equal(
            a, b, {}, [](auto const& one) { return one.name; }, [](auto const& one) { return one.name; });
    };
    auto const& before = earlier.settings();
    if (!past_known_ || !earlier.resumed_ || !earlier.journal_ || !same(settings().probes, before.probes) ||
        !same(settings().vessels, before.vessels) || !same(settings().dishes, before.dishes))
        return;
    resumed_ = std::exchange(earlier.resumed_, {});
    unmeasured_ = earlier.unmeasured_;
    journal_ = std::exchange(earlier.journal_, {});
    seen_ = std::move(earlier.seen_);
    if (clock_.proven) begin_catching_up(clock_);
}

void Core::record_running_cooks() {
    std::ranges::fill(cooks_, 0);
    follow_cooks(kitchen_, kitchen_.view().at);
}

void Core::recall_into(Kitchen& kitchen, ClockAnchor const& clock, Effects& effects) {
    auto const memory = logbook::memory_in_this_boot(*resumed_, clock);
    kitchen.number_from(resumed_->last_alarm, resumed_->last_cook);
    kitchen.recall(memory, logbook::off_since(*resumed_, clock), effects);
    if (logbook::is_a_sum(*resumed_, clock)) unmeasured_.reset();
    obey_edited_calibrations(kitchen, memory, effects);
    if (!logbook::off_since_can_be_learnt(*resumed_, clock)) resumed_.reset();
}

void Core::begin_calibrations(std::vector<std::vector<CalibrationPoint>> const& before) {
    auto const now = kitchen_.view();
    for (std::size_t p = 0; p < now.probes.size(); ++p)
        if (!std::ranges::equal(now.probes[p].calibration, before[p], same_point))
            writer_.calibrated(now.at, now.probes[p].number, now.probes[p].calibration);
}

// As long as something of the past can still be learnt, what comes in is kept.
void Core::watch_journal() {
    if (!journal_) return;
    if (past_known_ && !resumed_ && !second_) {
        journal_.reset();
        seen_.clear();
    } else if (journal_->too_long() && !second_) {
        if (!past_known_) return journal_->forget_oldest_readings();
        resumed_.reset();  // nobody told the time for hours: the outage stays one of unknown length
        watch_journal();
    }
}

void Core::begin_catching_up(ClockAnchor const& clock) {
    second_ = std::make_unique<CatchUp>(kitchen_.as_filed(), *journal_, past_known_);
    Effects effects;
    recall_into(second_->kitchen(), clock, effects);
    second_->add(effects);
    if (past_known_) return;
    for (auto const& dish : second_->kitchen().view().dishes)
        cooks_[static_cast<std::size_t>(dish.number)] = dish.cook;
}

bool Core::catch_up(Span budget) {
    if (!second_) return false;
    auto const follow = [this](Instant at) { follow_cooks(second_->kitchen(), at); };
    if (!second_->step(budget, past_known_ ? std::function<void(Instant)>() : follow)) return true;
    past_known_ ? take_up_outage() : take_up_past();
    second_.reset();
    // The time may have become known while the second one caught up.
    if (resumed_ && clock_.proven) begin_catching_up(clock_);
    watch_journal();
    return second_ != nullptr;
}

// Everything as if the logbook had been open from the start; what was told already is not told again.
void Core::take_up_past() {
    std::vector<std::vector<CalibrationPoint>> before;
    for (auto const& probe : kitchen_.view().probes) before.push_back(probe.calibration);
    kitchen_ = std::move(second_->kitchen());
    past_known_ = true;
    writer_.taken_up();
    begin_calibrations(before);
    auto effects = second_->effects();
    auto const now = kitchen_.view().at;
    effects.emplace_back(
        Event{now,
              "past-taken-up",
              {},
              "The logbook could not be read when watching began. What it held is taken up now.",
              {}});
    std::string dropped;
    for (auto const& why : second_->refused()) {
        auto text = "Done before the logbook was open, and not taken up: " + why + ".";
        dropped += (dropped.empty() ? "" : " ") + text;
        effects.emplace_back(Event{now, "not-taken-up", {}, std::move(text), {}});
    }
    if (!dropped.empty()) kitchen_.command(now, KitchenTrouble{"order-dropped", true, dropped}, effects);
    write(effects);
    std::erase_if(effects, [&](Effect const& effect) { return seen_.knows(effect); });
    for (auto const& effect : effects)
        if (auto const* tell = std::get_if<Tell>(&effect)) neighbours_.tell(*tell);
    neighbours_.publish(effects);
    remember(now);
    writer_.commit_now();
}

// The food, the stages and the watches as if the time had been known from the start; alarms go on as they are
// and are judged anew by it.
void Core::take_up_outage() {
    unmeasured_.reset();
    second_->kitchen().continue_alarms_of(kitchen_);
    kitchen_ = std::move(second_->kitchen());
    Effects effects;
    auto const now = kitchen_.view().at;
    for (auto const& effect : second_->effects()) {
        auto const* event = std::get_if<Event>(&effect);
        if (!event || event->name == "started") continue;
        if (event->name == "gap") {
            effects.emplace_back(
                Event{now, "gap", {}, "The time is known now: " + event->text, event->numbers});
        } else if (!seen_.knows(effect)) {
            effects.push_back(effect);
        }
    }
    write(effects);
    neighbours_.publish(effects);
    remember(now);
    writer_.commit_now();
}

// A calibration made at run time outlives the restart, but not a later word in the kitchen file.
void Core::obey_edited_calibrations(Kitchen& kitchen, Memory const& memory, Effects& effects) {
    auto const now = kitchen.view().at;
    auto const& probes = settings().probes;
    for (std::size_t number = 0; number < probes.size(); ++number) {
        auto const before = memory.text(key_of(probes[number]));
        if (before && *before != text_of(probes[number].calibration))
            kitchen.command(now, Calibrate{static_cast<int>(number), probes[number].calibration}, effects);
    }
}

Memory Core::state() const {
    auto memory = kitchen_.remember();
    for (auto const& probe : settings().probes) memory.put(key_of(probe), text_of(probe.calibration));
    used_links_.save(memory);
    if (unmeasured_) logbook::put(memory, *unmeasured_);
    return memory;
}

// Time comes through here once a second, and does not while the program or its machine stands still.
void Core::notice_standstill(Instant now) {
    auto const before = std::exchange(went_on_, std::max(now, went_on_.value_or(now)));
    if (!before || now - *before < standstill) return;
    Effects effects;
    kitchen_.stood_still(now, effects);
    dispatch(effects);
}

void Core::take(int probe, Reading const& reading) {
    notice_standstill(reading.at);
    auto& count = counts_[static_cast<std::size_t>(probe)];
    ++(reading.ok() ? count.good : count.faulty);
    count.newest = reading;
    effects_.clear();
    if (journal_) journal_->took(probe, reading);
    kitchen_.take(probe, reading, effects_);
    dispatch(effects_);
}

Effects Core::command(Instant at, Command const& command, std::uint64_t* ticket) {
    notice_standstill(at);
    Effects effects;
    if (journal_) journal_->was_commanded(at, command, kitchen_.view());
    kitchen_.command(at, command, effects);
    if (journal_ && is_refused(effects)) journal_->was_refused();
    auto last = dispatch(effects);
    if (auto const* clock = std::get_if<ClockAnchor>(&command)) {
        clock_ = *clock;
        if (clock_.proven && past_known_ && resumed_ && !second_) begin_catching_up(clock_);
    }
    if (past_known_ && (std::holds_alternative<Begin>(command) || std::holds_alternative<Next>(command) ||
                        std::holds_alternative<End>(command) || std::holds_alternative<Back>(command)))
        follow_cooks(kitchen_, at);
    if (auto const* calibrate = std::get_if<Calibrate>(&command); calibrate && calibrate->probe >= 0)
        last = writer_.calibrated(at, calibrate->probe, calibrate->points);
    if (ticket) *ticket = past_known_ ? std::max(last, writer_.remember(state())) : logbook::never_durable;
    writer_.commit_now();
    return effects;
}

void Core::advance(Instant now) {
    notice_standstill(now);
    effects_.clear();
    if (journal_) journal_->passed(now);
    kitchen_.advance(now, effects_);
    dispatch(effects_);
    watch_journal();
}

std::uint64_t Core::remember(Instant now) {
    if (!past_known_) return logbook::never_durable;
    follow_cooks(kitchen_, now);
    return writer_.remember(state());
}

std::uint64_t Core::dispatch(Effects const& effects) {
    for (auto const& effect : effects)
        if (auto const* reading = std::get_if<Recorded>(&effect)) writer_.record(*reading);
    if (journal_) seen_.note(effects);
    // The notice is queued for the disk before the state that says that it was told: killed between the two,
    // it is told twice and not never.
    bool told = false;
    for (auto const& effect : effects)
        if (auto const* tell = std::get_if<Tell>(&effect)) neighbours_.tell(*tell), told = true;
    // All of them at once: each channel waits for the disk to have its own.
    if (told) writer_.commit_now();
    auto const ticket = past_known_ ? write(effects) : logbook::never_durable;
    if (!effects.empty()) neighbours_.publish(effects);
    return ticket;
}

// Alarms, events and the state that they belong to.
std::uint64_t Core::write(Effects const& effects) {
    std::uint64_t ticket = 0;
    bool remember = false, lasting = false;
    for (auto const& effect : effects) {
        if (auto const* change = std::get_if<AlarmChanged>(&effect)) {
            lasting = true;
            if (change->transition != Transition::updated) ticket = writer_.record(*change);
        } else if (auto const* event = std::get_if<Event>(&effect)) {
            lasting = true;
            ticket = writer_.record(*event);
        } else if (auto const* forecast = std::get_if<Forecast>(&effect)) {
            if (forecast->kept) ticket = writer_.record(logbook::event_of(*forecast));
        } else if (std::holds_alternative<MemoryChanged>(effect)) {
            remember = true;
        }
    }
    if (remember) ticket = writer_.remember(state());
    if (remember || lasting) follow_cooks(kitchen_, kitchen_.view().at);
    return ticket;
}

void Core::follow_cooks(Kitchen const& kitchen, Instant now) {
    auto const& settings = kitchen.settings();
    for (auto const& dish : kitchen.view().dishes) {
        auto& running = cooks_[static_cast<std::size_t>(dish.number)];
        auto const cook = dish.begun ? dish.cook : 0;
        if (cook == running) continue;
        auto const& plan = settings.dishes[static_cast<std::size_t>(dish.number)].plan;
        if (running != 0) writer_.cook_ended(running, now);
        if (cook != 0) writer_.cook_begun({cook, dish.name, dish.food, plan, dish.began.value_or(now)});
        running = cook;
    }
}

}  // namespace ingle
