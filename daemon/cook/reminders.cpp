#include "daemon/cook/reminders.hpp"

#include <algorithm>
#include <cstdlib>
#include <functional>
#include <utility>

#include "daemon/model/timer_length.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {
    {.name = "reminder-due", .priority = Priority::medium, .prompt = true, .asked_for = true}};

// A pinched cable shows any temperature for a moment.
constexpr Span agreement = std::chrono::seconds(30);
constexpr std::int64_t no_cook = -1;  // whose stage it was is over: that is not taken back any more
constexpr Span long_due = std::chrono::seconds(60);  // from here on it is said for how long

std::string waits_words(Remind const& asked, ReminderFacts const& facts, Words const& words) {
    if (asked.celsius) return facts.name(asked.about) + " at " + words.at(*asked.celsius);
    if (asked.stage_end)
        return "the end of " + facts.place(asked.about.number).name + " of " + facts.name(asked.about);
    if (asked.every) return "every " + Words::in(*asked.every);
    return "a time";
}

std::string sentence(Reminder const& one, Instant now, bool unsure) {
    bool const for_a_time = !one.asked.every && !one.asked.celsius && !one.asked.stage_end;
    auto what = for_a_time ? std::string() : one.waits_for;
    Span const since = now - *one.due;
    if (unsure) return "perhaps " + one.asked.text + (what.empty() ? "" : " (" + what + ")");
    if (since >= long_due) what += (what.empty() ? "" : ", ") + Words::in(since) + " ago";
    return one.asked.text + (what.empty() ? "" : " (" + what + ")");
}

std::string refusal_of(Instant at, Remind const& asked) {
    int const kinds = int(asked.at.has_value()) + int(asked.in.has_value()) + int(asked.every.has_value()) +
                      int(asked.celsius.has_value()) + int(asked.stage_end);
    if (kinds != 1)
        return "a reminder waits for one thing: a time, every so often, a temperature or a stage's end";
    if (asked.text.empty()) return "a reminder says what is to be done: its text is missing";
    if (asked.text.size() > Reminders::longest_text) return "the text of a reminder has 200 bytes at most";
    auto const length = asked.at ? *asked.at - at : asked.in;
    if (length && *length <= Span(0)) return "that time is over";
    if (length && *length > longest_timer) return "a reminder waits for 30 days at most";
    if (asked.every && *asked.every < Reminders::shortest_every)
        return "a reminder comes once a minute at most";
    if (asked.every && *asked.every > longest_timer) return "a reminder waits for 30 days at most";
    return "";
}

}  // namespace

std::span<AlarmType const> reminder_alarms() {
    return types;
}

std::string Reminders::add(Instant at, Remind asked, ReminderFacts const& facts, std::string& told) {
    if (auto refusal = refusal_of(at, asked); !refusal.empty()) return refusal;
    if (all_.size() >= most) return "there are 50 reminders already: stop one of them first";
    Reminder one;
    one.number = ++last_;
    one.asked = std::move(asked);
    Words const words(unit_);
    one.waits_for = waits_words(one.asked, facts, words);
    if (one.asked.at) one.next = one.asked.at;
    if (one.asked.in) one.next = at + *one.asked.in;
    if (one.asked.at && facts.wall_offset_ms)
        one.wall_ms = one.asked.at->time_since_epoch().count() + *facts.wall_offset_ms;
    if (one.asked.every) one.next = at + *one.asked.every;
    if (one.asked.stage_end) one.until = facts.place(one.asked.about.number);
    told = "reminder " + std::to_string(one.number) + " is set: " + one.asked.text + " (" +
           (one.asked.at || one.asked.in ? "in " + Words::in(*one.next - at) : one.waits_for);
    if (one.asked.celsius) {
        auto const now = facts.reading(one.asked.about);
        if (now) one.rising = now->celsius <= *one.asked.celsius;
        told += now ? std::string(", when it has ") + (*one.rising ? "risen" : "fallen") + " to it; now " +
                          words.at(now->celsius)
                    : ", from its first good reading on";
    }
    told += ").";
    all_.push_back(std::move(one));
    changed_ = true;
    return "";
}

std::string Reminders::stop(std::int64_t number) {
    if (std::erase_if(all_, [&](Reminder const& one) { return one.number == number; }) == 0)
        return "there is no reminder " + std::to_string(number);
    changed_ = true;
    return "";
}

// By good readings only, and for long enough: what is not read is never there.
bool Reminders::is_there(Reminder& one, Instant now, ReminderFacts const& facts) {
    auto const reading = facts.reading(one.asked.about);
    if (reading && !one.rising) {
        one.rising = reading->celsius <= *one.asked.celsius;
        changed_ = true;
    }
    bool const there = reading && (*one.rising ? reading->celsius >= *one.asked.celsius
                                               : reading->celsius <= *one.asked.celsius);
    if (!there) {
        one.there_since = one.there_at = std::nullopt;
        return false;
    }
    if (!one.there_since) {
        one.there_since = now, one.there_at = reading->at;
        return false;
    }
    return now - *one.there_since >= agreement && reading->at > *one.there_at;
}

bool Reminders::has_come(Reminder& one, Instant now, ReminderFacts const& facts) {
    if (one.asked.celsius) return !one.due && is_there(one, now, facts);
    if (one.asked.stage_end) {
        auto const place = facts.place(one.asked.about.number);
        bool const past = place.cook != one.until.cook || place.stage > one.until.stage ||
                          (place.stage == one.until.stage && place.over);
        return !one.due && past;
    }
    return one.next && *one.next <= now;
}

void Reminders::set_next(Reminder& one, Instant now) {
    if (!one.asked.every) return one.next.reset();
    auto const missed = (now - *one.next) / *one.asked.every;
    *one.next += *one.asked.every * (missed + 1);
}

Finding Reminders::step(Instant now, ReminderFacts const& facts) {
    Finding finding;
    finding.type = &types[0];
    std::vector<Reminder const*> due;
    for (auto& one : all_) {
        if (has_come(one, now, facts)) {
            one.due = one.next ? *one.next : now;
            if (one.next) set_next(one, now);
            ++rang_;
            changed_ = true;
        }
        if (one.due) due.push_back(&one);
    }
    std::ranges::stable_sort(due, std::greater(), [](Reminder const* one) { return *one->due; });
    bool unsure = false;
    for (auto const* one : due) {  // what has just come first
        bool const nobody_knows = std::ranges::find(unsure_, one->number) != unsure_.end();
        unsure = unsure || nobody_knows;
        finding.truth = Truth::present;
        if (!finding.text.empty()) finding.text += "; ";
        finding.text += sentence(*one, now, nobody_knows);
        if (nobody_knows) continue;
        finding.value = std::max(finding.value, seconds(now - *one->due));
        finding.since = std::max(finding.since.value_or(*one->due), *one->due);
    }
    if (!finding.text.empty()) finding.text += ".";
    if (unsure)
        finding.text += " The program was off for an unknown time: it may be too early, or long over.";
    if (finding.truth == Truth::present && !not_due_.empty()) finding.text += " " + not_due_;
    finding.grade = rang_;
    return finding;
}

void Reminders::acknowledged() {
    for (auto& one : all_)
        if (one.due && one.asked.every) one.due.reset();
    std::erase_if(all_, [](Reminder const& one) { return one.due.has_value(); });
    changed_ = true;
    unsure_.clear();
    not_due_.clear();
}

std::string Reminders::correct(Reminders const& before, Instant now) {
    not_due_.clear();
    for (auto const& one : all_) {
        auto const was = std::ranges::find(before.all_, one.number, &Reminder::number);
        if (one.due || (one.next && *one.next <= now) || was == before.all_.end() || !was->due) continue;
        not_due_ += (not_due_.empty() ? "Not due yet: " : "; ") + one.asked.text +
                    (one.next ? ", in " + Words::in(*one.next - now) : "");
    }
    if (!not_due_.empty()) not_due_ += ".";
    // What comes due from now on is further news, however many were due there.
    rang_ = std::max(rang_, before.rang_) + (not_due_.empty() ? 0 : 1);
    changed_ = true;
    return not_due_;
}

std::vector<std::int64_t> Reminders::order_taken_back(int dish, std::int64_t cook,
                                                      ReminderFacts const& facts) {
    std::vector<std::int64_t> dropped;
    auto const place = facts.place(dish);
    for (auto& one : all_) {
        if (!one.asked.stage_end || one.asked.about.number != dish || one.until.cook != cook) continue;
        bool const begun = place.cook == one.until.cook && place.stage >= one.until.stage;
        if (!begun)
            dropped.push_back(one.number);
        else if (place.stage == one.until.stage && !place.over)
            one.due.reset();
        changed_ = true;
    }
    std::erase_if(
        all_, [&](Reminder const& one) { return std::ranges::find(dropped, one.number) != dropped.end(); });
    return dropped;
}

void Reminders::follow_clock(std::int64_t wall_offset_ms) {
    for (auto& one : all_) {
        if (!one.wall_ms || !one.next) continue;  // not of the day, or it has come
        Instant const next(Span(*one.wall_ms - wall_offset_ms));
        changed_ = changed_ || next != *one.next;
        one.next = next;
    }
}

void Reminders::stages_moved(
    std::function<std::optional<std::size_t>(int, std::int64_t, std::size_t)> const& now) {
    for (auto& one : all_) {
        if (!one.asked.stage_end) continue;
        if (auto const stage = now(one.asked.about.number, one.until.cook, one.until.stage))
            one.until.stage = *stage;
        else
            one.until.cook = no_cook;
    }
}

std::vector<ReminderView> Reminders::view() const {
    std::vector<ReminderView> out;
    for (auto const& one : all_)
        out.push_back({one.number, one.asked.text, one.waits_for, one.next, one.asked.every, one.due});
    return out;
}

bool Reminders::changed() {
    return std::exchange(changed_, false);
}

void Reminders::remember(Memory& memory, std::string const& prefix, ReminderFacts const& facts) const {
    if (last_ == 0) return;  // there was never one
    for (auto const& [key, text] : gone_.all()) memory.put(key, text);
    memory.put(prefix + "last", last_);
    memory.put(prefix + "rang", std::int64_t{rang_});
    for (auto const& one : all_) {
        auto const key = prefix + std::to_string(one.number) + ".";
        memory.put(key + "text", one.asked.text);
        memory.put(key + "waits-for", one.waits_for);
        if (one.next) memory.put(key + "next", *one.next);
        if (one.wall_ms) memory.put(key + "wall-ms", *one.wall_ms);
        if (one.asked.every) memory.put(key + "every", std::int64_t{one.asked.every->count()});
        if (one.asked.celsius) memory.put(key + "celsius", *one.asked.celsius);
        if (one.rising) memory.put(key + "rising", std::int64_t{*one.rising});
        if (one.asked.celsius || one.asked.stage_end)
            memory.put(key + "about",
                       std::string(to_word(one.asked.about.kind)) + " " + facts.name(one.asked.about));
        if (one.asked.stage_end) {
            memory.put(key + "cook", one.until.cook);
            memory.put(key + "place", static_cast<std::int64_t>(one.until.stage));
        }
        if (one.due) memory.put(key + "due", *one.due);
        if (std::ranges::find(unsure_, one.number) != unsure_.end())
            memory.put(key + "unsure", std::int64_t{1});
    }
}

std::vector<std::string> Reminders::recall(
    Memory const& memory, std::string const& prefix, Instant now, bool off_known,
    std::function<std::optional<Subject>(std::string const&)> const& find) {
    std::vector<std::string> gone;
    last_ = memory.integer(prefix + "last").value_or(0);
    rang_ = static_cast<int>(memory.integer(prefix + "rang").value_or(0));
    for (auto at = memory.first_with(prefix); at != memory.all().end() && at->first.starts_with(prefix);
         ++at) {
        if (!at->first.ends_with(".text")) continue;
        auto const key = at->first.substr(0, at->first.size() - 4);
        Reminder one;
        one.number = std::atoll(key.c_str() + prefix.size());
        one.asked.text = memory.text(key + "text").value_or("");
        one.waits_for = memory.text(key + "waits-for").value_or("");
        one.next = memory.instant(key + "next");
        one.wall_ms = memory.integer(key + "wall-ms");
        one.due = memory.instant(key + "due");
        if (auto const every = memory.integer(key + "every"); every && *every >= shortest_every.count())
            one.asked.every = Span(*every);
        one.asked.celsius = memory.number(key + "celsius");
        if (auto const rising = memory.integer(key + "rising")) one.rising = *rising != 0;
        auto const about = memory.text(key + "about");
        auto const subject = about ? find(*about) : std::nullopt;
        if (subject) one.asked.about = *subject;
        auto const cook = memory.integer(key + "cook"), place = memory.integer(key + "place");
        one.asked.stage_end = cook && place && *place >= 0;
        if (one.asked.stage_end) {
            one.until.cook = *cook, one.until.stage = static_cast<std::size_t>(*place);
        }
        bool const waits = one.next || one.due || one.asked.celsius || one.asked.stage_end;
        last_ = std::max(last_, one.number);
        if (one.number <= 0 || !waits || (about && !subject)) {
            if (!memory.text(key + "gone")) gone.push_back(one.asked.text);
            for (auto item = memory.first_with(key);
                 item != memory.all().end() && item->first.starts_with(key); ++item)
                gone_.put_as_in(memory, item->first);
            gone_.put(key + "gone", std::int64_t{1});
            continue;
        }
        bool const unsure = memory.integer(key + "unsure").value_or(0) != 0;
        bool const known = off_known && memory.is_placed(key + "next");
        if (unsure || (!known && one.next)) unsure_.push_back(one.number);
        if (!known && one.next) {
            one.due = now;
            ++rang_;
            one.next = one.asked.every ? std::optional(now + *one.asked.every) : std::nullopt;
        }
        all_.push_back(std::move(one));
    }
    std::ranges::sort(all_, {}, &Reminder::number);
    return gone;
}

}  // namespace ingle
