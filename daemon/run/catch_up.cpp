#include "daemon/run/catch_up.hpp"

#include <algorithm>
#include <utility>

namespace ingle {
namespace {

std::string key_of(Subject subject) {
    return ' ' + std::to_string(static_cast<int>(subject.kind)) + '.' + std::to_string(subject.number);
}

std::string key_of(Alarm const& alarm) {
    return ' ' + std::string(alarm.type ? alarm.type->name : "") + key_of(alarm.subject);
}

std::int64_t* alarm_number(Command& command) {
    if (auto* shelve = std::get_if<Shelve>(&command)) return &shelve->alarm;
    if (auto* acknowledge = std::get_if<Acknowledge>(&command))
        return acknowledge->alarm ? &*acknowledge->alarm : nullptr;
    return nullptr;
}

template <class All>
std::optional<typename All::value_type> numbered(All const& all, std::int64_t number) {
    auto const found = std::ranges::find(all, number, &All::value_type::number);
    return found != all.end() ? std::optional(*found) : std::nullopt;
}

bool is_same(TimerView const& a, TimerView const& b) {
    return a.text == b.text && a.length == b.length && a.ends == b.ends;
}

bool is_same(ReminderView const& a, ReminderView const& b) {
    return a.text == b.text && a.waits_for == b.waits_for && a.next == b.next && a.every == b.every;
}

// The number of the newest that is the same; 0: there is none.
template <class All>
std::int64_t number_of(All const& all, std::optional<typename All::value_type> const& meant) {
    std::int64_t number = 0;
    for (auto const& each : all)
        if (meant && is_same(each, *meant)) number = std::max(number, each.number);
    return number;
}

bool is_held(View const& view, int vessel) {
    auto const found = std::ranges::find(view.vessels, vessel, &VesselView::number);
    return found != view.vessels.end() && found->band;
}

// That an order to a running cook is for; -1: it is none.
int dish_of(Command const& command) {
    if (auto const* next = std::get_if<Next>(&command)) return next->dish;
    if (auto const* end = std::get_if<End>(&command)) return end->dish;
    if (auto const* back = std::get_if<Back>(&command)) return back->dish;
    return -1;
}

}  // namespace

void Journal::took(int probe, Reading const& reading) {
    inputs_.emplace_back(Taken{probe, reading});
    ++readings_;
}

void Journal::was_commanded(Instant at, Command const& command, View const& view) {
    // "All of them" was said of those that were shown, not of those that the logbook still held.
    if (auto const* all = std::get_if<Acknowledge>(&command); all && !all->alarm) {
        for (auto const& alarm : view.alarms) {
            auto one = *all;
            one.alarm = alarm.id;
            was_commanded(at, one, view);
        }
        return;
    }
    Given given{at, command, nullptr, {}};
    if (auto const* number = alarm_number(given.command)) {
        auto const alarm = std::ranges::find(view.alarms, *number, &Alarm::id);
        if (alarm != view.alarms.end()) given.type = alarm->type, given.subject = alarm->subject;
    }
    if (auto const* stop = std::get_if<StopTimer>(&command)) given.timer = numbered(view.timers, stop->timer);
    if (auto const* stop = std::get_if<StopReminder>(&command))
        given.reminder = numbered(view.reminders, stop->reminder);
    if (auto const* next = std::get_if<Next>(&command); next && next->dish >= 0)
        if (auto const dish = std::ranges::find(view.dishes, next->dish, &DishView::number);
            dish != view.dishes.end())
            given.stage_number = dish->stage_number;
    if (auto const* hold = std::get_if<Hold>(&command); hold && !hold->band)
        given.nothing_held = !is_held(view, hold->vessel);
    inputs_.emplace_back(std::move(given));
}

void Journal::was_refused() {
    if (!inputs_.empty() && std::holds_alternative<Given>(inputs_.back())) inputs_.pop_back();
}

void Journal::passed(Instant now) {
    if (inputs_.empty() || !std::holds_alternative<Instant>(inputs_.back()))
        inputs_.emplace_back(now);
    else
        inputs_.back() = now;
}

void Journal::forget_oldest_readings() {
    std::deque<Input> commands;
    while (too_long()) {
        auto& oldest = inputs_.front();
        if (auto const* taken = std::get_if<Taken>(&oldest)) {
            start_ = std::max(start_, taken->reading.at);
            --readings_;
        } else if (auto const* now = std::get_if<Instant>(&oldest)) {
            start_ = std::max(start_, *now);
        } else {
            commands.push_back(std::move(oldest));
        }
        inputs_.pop_front();
    }
    inputs_.insert(inputs_.begin(), std::make_move_iterator(commands.begin()),
                   std::make_move_iterator(commands.end()));
}

std::string Seen::key(Effect const& effect) {
    if (auto const* change = std::get_if<AlarmChanged>(&effect))
        return 'a' + std::to_string(change->at.time_since_epoch().count()) + key_of(change->alarm) + ' ' +
               std::to_string(static_cast<int>(change->transition));
    if (auto const* event = std::get_if<Event>(&effect))
        return 'e' + std::to_string(event->at.time_since_epoch().count()) + ' ' + event->name +
               key_of(event->subject);
    if (auto const* forecast = std::get_if<Forecast>(&effect))
        return 'f' + std::to_string(forecast->at.time_since_epoch().count()) + ' ' + forecast->what +
               key_of(forecast->subject);
    if (auto const* tell = std::get_if<Tell>(&effect)) {
        auto text = 't' + std::to_string(tell->channel) + ' ' + tell->kind;
        for (auto const& alarm : tell->alarms) text += key_of(alarm);
        return text;
    }
    return {};
}

void Seen::note(Effects const& effects) {
    for (auto const& effect : effects)
        if (auto text = key(effect); !text.empty()) keys_.insert(std::move(text));
}

void CatchUp::add(Effects const& effects) {
    for (auto const& effect : effects) {
        auto const* change = std::get_if<AlarmChanged>(&effect);
        if ((change && change->transition != Transition::updated) || std::holds_alternative<Event>(effect) ||
            std::holds_alternative<Tell>(effect))
            effects_.push_back(effect);
    }
}

bool CatchUp::step(Span budget, std::function<void(Instant)> const& after_command) {
    auto const until = BootClock::now() + budget;
    while (next_ < journal_.inputs_.size()) {
        auto const& input = journal_.inputs_[next_++];
        live(input);
        if (auto const* given = std::get_if<Journal::Given>(&input); given && after_command)
            after_command(given->at);
        if (next_ % 16 == 0 && BootClock::now() >= until) break;
    }
    return next_ == journal_.inputs_.size();
}

// It was an order to the cook that seemed to begin then; the one that was under way goes on untouched.
void CatchUp::refuse(int dish) {
    auto const& name = kitchen_.settings().dishes[static_cast<std::size_t>(dish)].name;
    refused_.push_back("an order to " + name + " that was given to a cook of that time");
}

// Whoever said `next` meant the stage that was seen. Where that is over by itself there is nothing to leave,
// and nothing to take back.
bool CatchUp::has_gone_on(Journal::Given const& given) {
    int const dish = dish_of(given.command);
    if (dish < 0) return false;
    auto& orders = not_needed_[dish];
    if (std::holds_alternative<Back>(given.command)) {
        bool const nothing_to_take_back = !orders.empty() && orders.back();
        if (!orders.empty()) orders.pop_back();
        return nothing_to_take_back;
    }
    auto const dishes = kitchen_.view().dishes;
    auto const now = std::ranges::find(dishes, dish, &DishView::number);
    orders.push_back(std::holds_alternative<Next>(given.command) && now != dishes.end() && now->begun &&
                     now->stage_number > given.stage_number);
    return orders.back();
}

bool CatchUp::renumber(Journal::Given const& given, Command& command) {
    auto const not_there = [this](std::string what) {
        refused_.push_back(std::move(what) + ", which is not there");
        return false;
    };
    if (auto* number = alarm_number(command)) {
        auto const alarms = kitchen_.view().alarms;
        auto const alarm = std::ranges::find_if(alarms, [&](Alarm const& each) {
            return each.type == given.type && each.subject == given.subject;
        });
        // What is not so here needs nobody who has seen it, and no silence.
        if (alarm == alarms.end()) return false;
        *number = alarm->id;
    }
    if (past_known_) return true;
    if (auto const* hold = std::get_if<Hold>(&command);
        hold && given.nothing_held && is_held(kitchen_.view(), hold->vessel)) {
        refused_.push_back("that " +
                           kitchen_.settings().vessels[static_cast<std::size_t>(hold->vessel)].name +
                           " is not held: nobody knew then that it was, and its band is watched");
        return false;
    }
    if (auto* stop = std::get_if<StopTimer>(&command)) {
        stop->timer = number_of(kitchen_.view().timers, given.timer);
        if (stop->timer == 0) return not_there("that a timer was stopped");
    }
    if (auto* stop = std::get_if<StopReminder>(&command)) {
        stop->reminder = number_of(kitchen_.view().reminders, given.reminder);
        if (stop->reminder == 0) return not_there("that a reminder was stopped");
    }
    return true;
}

void CatchUp::live(Journal::Input const& input) {
    fresh_.clear();
    if (auto const* now = std::get_if<Instant>(&input)) {
        kitchen_.advance(*now, fresh_);
    } else if (auto const* taken = std::get_if<Journal::Taken>(&input)) {
        kitchen_.take(taken->probe, taken->reading, fresh_);
    } else {
        auto const& given = std::get<Journal::Given>(input);
        auto command = given.command;
        if (!renumber(given, command)) return;
        int const dish = dish_of(command);
        if (dish >= 0 && not_begun_.contains(dish)) return refuse(dish);
        if (has_gone_on(given)) return;
        kitchen_.command(given.at, command, fresh_);
        for (auto const& effect : fresh_)
            if (auto const* event = std::get_if<Event>(&effect); event && event->name == "refused") {
                refused_.push_back(event->text);
                if (auto const* begin = std::get_if<Begin>(&command)) not_begun_.insert(begin->dish);
            }
    }
    add(fresh_);
}

}  // namespace ingle
