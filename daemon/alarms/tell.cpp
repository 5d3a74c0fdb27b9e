#include "daemon/alarms/tell.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "daemon/alarms/life_cycle.hpp"
#include "daemon/model/group_text.hpp"
#include "daemon/model/view.hpp"

namespace ingle {

namespace {

// A channel that failed once may deliver a few seconds later; one that fails for so long is not waited for.
constexpr Span dead_after = std::chrono::seconds(10);
constexpr std::size_t common_cause_of = 3;  // as many alarms of one kind within a burst have one cause

std::string lasted(Span span) {
    return show(Duration{std::round(seconds(span))});
}

std::string name_and_alarm(Alarm const& alarm, Names const& names) {
    return names.of(alarm.subject) + ": " + std::string(alarm.type->name);
}

bool has_gone(AlarmRecord const& record, Instant now) {
    return record.truth == Truth::absent && now - record.absent_since.value_or(now) > gather_for;
}

std::string not_known(AlarmRecord const& record, Instant now, Names const& names) {
    auto text = name_and_alarm(record.alarm, names) + ", raised " + lasted(now - record.alarm.since) + " ago";
    if (record.judged_at)
        text += ", was checked " + lasted(now - *record.judged_at) + " ago for the last time";
    return text + ". It cannot be checked now: look whether it is still so.";
}

// A blip that was raised is told with what it was, as long as that is not old.
std::string newest_explanation(AlarmRecord const& record, Instant now) {
    bool const old = record.truth == Truth::unknown || has_gone(record, now);
    return old ? as_it_is(record, now).text : record.alarm.text;
}

// It was farther out than it is now.
bool is_receding(AlarmRecord const& record) {
    return record.alarm.type->value_is_celsius && std::abs(record.value - record.alarm.worst) > 0.25;
}

bool is_reminder(Reason reason) {
    return reason == Reason::repeat_due || reason == Reason::unjudged;
}

// Another alarm that this channel was told of, of the same subject or of a probe that it is judged by.
bool is_explained(AlarmRecord const& record, AlarmRecords const& records, std::size_t channel) {
    if (record.truth != Truth::unknown) return false;
    return std::ranges::any_of(records, [&](auto const& entry) {
        AlarmRecord const& other = entry.second;
        Subject const& subject = other.alarm.subject;
        bool const of_its_probe = subject.kind == SubjectKind::probe &&
                                  std::ranges::find(record.probes, subject.number) != record.probes.end();
        bool const told = other.alarm.active && other.truth == Truth::present &&
                          other.spoken[channel].raised && !is_silenced(other.alarm.state);
        return &other != &record && told && (of_its_probe || subject == record.alarm.subject);
    });
}

// Why the band alarms are silent for now, of the event that their watch named.
std::string may_explain(std::string const& event) {
    if (event == "topped-up") return "it fell at once, as when something cold is put in";
    if (event == "door-opened") return "it moved as when its door is opened";
    return event + " may explain it";
}

// A lock screen shows this many characters: whom it is about stands in them. The kitchen's own need no name.
constexpr std::size_t first_words = 40;
std::string with_whom(std::string text, Alarm const& alarm, Names const& names) {
    if (alarm.subject.kind == SubjectKind::kitchen) return text;
    auto const& name = names.of(alarm.subject);
    return text.substr(0, first_words).find(name) == std::string::npos ? name + ": " + text : text;
}

std::string quiet_for_now(AlarmRecord const& record, Instant now) {
    Span const left = longest_by_design - (now - record.design_since.value_or(now));
    double const minutes = std::max(1.0, std::ceil(seconds(left) / 60));
    return "Not told for now: " + may_explain(record.design_mute) + ". Told within " +
           show(Duration{60 * minutes}) + " if it is still so then.";
}

}  // namespace

Names::Names(Settings const& settings) : kitchen_{settings.name} {
    for (ProbeSettings const& p : settings.probes) probes_.push_back(p.name);
    for (VesselSettings const& v : settings.vessels) vessels_.push_back(v.name);
    for (DishSettings const& d : settings.dishes) dishes_.push_back(d.name);
}

std::vector<std::string> const& Names::list(SubjectKind kind) const {
    switch (kind) {
        case SubjectKind::probe:
            return probes_;
        case SubjectKind::vessel:
            return vessels_;
        case SubjectKind::dish:
            return dishes_;
        case SubjectKind::kitchen:
            break;
    }
    return kitchen_;
}

std::string const& Names::of(Subject subject) const {
    auto const& names = list(subject.kind);
    auto const number = static_cast<std::size_t>(subject.number);
    return number < names.size() ? names[number] : kitchen_[0];
}

std::optional<Subject> Names::find(SubjectKind kind, std::string const& name) const {
    if (kind == SubjectKind::kitchen) return Subject{};  // there is one, whatever it is called now
    auto const& names = list(kind);
    auto const found = std::find(names.begin(), names.end(), name);
    if (found == names.end()) return std::nullopt;
    return Subject{kind, static_cast<int>(found - names.begin())};
}

Alarm as_it_is(AlarmRecord const& record, Instant now) {
    Alarm alarm = record.alarm;
    if (!alarm.active) {
        alarm.text = "It has ended. What was told: " + alarm.text;
    } else if (alarm.state == AlarmState::suppressed_by_design) {
        alarm.action = Action::none;
        alarm.text = alarm.muted_by == record.design_mute
                         ? quiet_for_now(record, now)
                         : "Not told while " + alarm.muted_by + " covers it.";
    } else if (record.borrowed_at == now) {
        alarm.action = Action::none;  // whose text it is has its own
    } else if (record.truth == Truth::absent) {
        alarm.action = Action::none;
        alarm.text =
            "No longer so for " + lasted(now - record.absent_since.value_or(now)) + "; over if it stays so.";
    } else if (record.truth == Truth::unknown && !record.meanwhile.empty()) {
        alarm.action = Action::none;
        alarm.text = record.meanwhile;
    } else if (record.truth == Truth::unknown) {
        // What to do about a state that is not known any more is not ordered; food once to be discarded stays
        // so.
        bool const stale = alarm.action != Action::discard && !record.order.empty();
        if (stale && alarm.text.ends_with(" " + record.order)) {
            alarm.action = Action::none;
            alarm.text.resize(alarm.text.size() - record.order.size() - 1);
        }
        alarm.text = "No longer being checked. What was found last: " + alarm.text;
    }
    return alarm;
}

Teller::Teller(Settings const& settings)
    : units_(settings.units), channels_(settings.channels), gathering_(channels_.size()) {}

bool Teller::is_urgent(std::vector<Line> const& raised) {
    return std::ranges::any_of(
        raised, [](Line const& line) { return line.record->alarm.priority == Priority::high; });
}

bool Teller::is_quiet(Gathering const& gathering, Instant now) {
    return !gathering.raised_at || now - *gathering.raised_at >= gather_for;
}

bool Teller::step(Instant now, AlarmRecords& records, Names const& names, Effects& out) {
    bool said = false;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Gathering& gathering = gathering_[c];
        std::vector<Line> raised, cleared, reminders;
        for (auto& [key, record] : records) {
            if (record.alarm.id == 0) continue;
            Reason const reason = decide({record, record.spoken[c], channels_[c], gathering.raised_at, now,
                                          is_explained(record, records, c),
                                          earlier_ones_fail(now, channels_[c], record.alarm.priority)});
            if (reason == Reason::none) continue;
            (reason == Reason::cleared ? cleared
             : is_reminder(reason)     ? reminders
                                       : raised)
                .push_back({&record, reason});
        }
        if (raised.empty() && cleared.empty() && reminders.empty()) {
            gathering.since.reset();
            continue;
        }
        if (!gathering.since) gathering.since = now;
        bool const gathered = now - *gathering.since >= gather_for;
        if (!gathered && !(is_urgent(raised) && is_quiet(gathering, now))) continue;
        gathering.since.reset();
        said = true;
        say(now, c, "raised", std::move(raised), names, out);
        say(now, c, "cleared", std::move(cleared), names, out);
        say(now, c, "reminder", std::move(reminders), names, out);
    }
    return said;
}

void Teller::channels_fail(Instant now, std::vector<std::string> const& names) {
    std::erase_if(failing_, [&](auto const& one) { return std::ranges::count(names, one.first) == 0; });
    for (auto const& name : names) failing_.try_emplace(name, now);
}

// Whoever would be told before this channel is, and cannot be.
bool Teller::earlier_ones_fail(Instant now, ChannelSettings const& channel, Priority priority) const {
    bool any = false;
    for (auto const& other : channels_) {
        if (other.after.seconds >= channel.after.seconds || priority < other.least) continue;
        auto const failing = failing_.find(other.name);
        if (failing == failing_.end() || now - failing->second < dead_after) return false;
        any = true;
    }
    return any;
}

void Teller::untold_since(std::size_t channel, Instant raised) {
    auto& since = gathering_[channel].since;
    since = since ? std::min(*since, raised) : raised;
}

void Teller::say(Instant now, std::size_t channel, char const* kind, std::vector<Line> lines,
                 Names const& names, Effects& out) {
    if (lines.empty()) return;
    std::stable_sort(lines.begin(), lines.end(), [](Line const& a, Line const& b) {
        Alarm const &x = a.record->alarm, &y = b.record->alarm;
        return x.priority != y.priority ? x.priority > y.priority : x.id < y.id;
    });
    Tell tell;
    tell.at = now;
    tell.channel = static_cast<int>(channel);
    tell.kind = kind;
    tell.reason = to_word(lines.front().reason);
    tell.text = words(now, lines, names);
    for (Line const& line : lines) {
        AlarmRecord& record = *line.record;
        tell.alarms.push_back(record.alarm);
        tell.alarms.back().text = whole_line(now, line, names);
        Spoken& spoken = record.spoken[channel];
        if (line.reason == Reason::cleared) {
            spoken = {};
            continue;
        }
        spoken.repeats = is_reminder(line.reason) ? spoken.repeats + 1 : 0;
        spoken.raised = true;
        spoken.again = false;
        spoken.at = now;
        spoken.priority = record.alarm.priority;
        spoken.grade = record.alarm.grade;
        if (record.alarm.type->good_news) record.announced = true;
        if (!is_reminder(line.reason)) gathering_[channel].raised_at = now;
    }
    out.emplace_back(std::move(tell));
}

std::string Teller::words(Instant now, std::vector<Line> const& lines, Names const& names) const {
    bool const about_food =
        std::ranges::any_of(lines, [](Line const& l) { return l.record->alarm.type->judges_food; });
    auto text = sentences(now, lines, names);
    return about_food ? text + "\n" + std::string(food_safety_caution) : text;
}

std::string Teller::whole_line(Instant now, Line const& line, Names const& names) const {
    return with_whom(this->line(now, line, names), line.record->alarm, names);
}

std::string Teller::sentences(Instant now, std::vector<Line> const& lines, Names const& names) const {
    auto const whole = [&](Line const& l) { return whole_line(now, l, names); };
    if (lines.size() == 1) return whole(lines.front());
    bool const one_kind = std::all_of(lines.begin(), lines.end(), [&](Line const& l) {
        return l.record->alarm.type == lines.front().record->alarm.type &&
               l.record->alarm.active == lines.front().record->alarm.active;
    });
    std::string text;
    bool const over = !lines.front().record->alarm.active;
    if (!over && one_kind && lines.size() >= common_cause_of) {
        text = std::to_string(lines.size()) +
               " at once: " + std::string(lines.front().record->alarm.type->name) + " of ";
        for (std::size_t i = 0; i < lines.size(); ++i)
            text += (i == 0 ? "" : ", ") + names.of(lines[i].record->alarm.subject);
        // That probes fail in one moment speaks for their line; that vessels leave their bands, for nothing.
        bool const probes = std::ranges::all_of(
            lines, [](Line const& l) { return l.record->alarm.subject.kind == SubjectKind::probe; });
        text += probes ? ". Probably one cause: look for what they share." : ".";
        for (Line const& l : lines) text += "\n- " + whole(l);
        return text;
    }
    std::vector<std::string> each;
    for (Line const& l : lines) each.push_back(whole(l));
    return group_text(each);
}

std::string Teller::line(Instant now, Line const& line, Names const& names) const {
    AlarmRecord const& record = *line.record;
    Alarm const& alarm = record.alarm;
    bool const gone = has_gone(record, now);
    std::string what = newest_explanation(record, now);
    if (what.empty())
        what = name_and_alarm(alarm, names) + ".";
    else if (gone)
        what = name_and_alarm(alarm, names) + ". " + what;
    switch (line.reason) {
        case Reason::cleared: {
            if (!record.retraction.empty()) return record.retraction;
            std::string text = names.of(alarm.subject) + " " + std::string(alarm.type->over) +
                               ". It lasted " + lasted(alarm.cleared.value_or(now) - alarm.since);
            if (alarm.type->value_is_celsius) text += "; furthest " + show(Temperature{alarm.worst}, units_);
            if (alarm.spells > 1) text += "; it came and went " + std::to_string(alarm.spells) + " times";
            text += ".";
            // Which channel, which switch it was stands there only.
            if (alarm.subject.kind == SubjectKind::kitchen && !alarm.text.empty())
                text += " What was told: " + alarm.text;
            return text;
        }
        case Reason::worse: {
            if (alarm.type->prompt || (is_unjudged(record) && !record.lent)) return what;
            return (record.lent || is_receding(record) ? "More urgent now: " : "Worse: ") + what;
        }
        case Reason::repeat_due:
            return (gone || record.truth == Truth::unknown
                        ? "Raised " + lasted(now - alarm.since) + " ago: "
                        : "Still, after " + lasted(now - alarm.since) + ": ") +
                   what;
        case Reason::unjudged:
            return not_known(record, now, names);
        case Reason::escalated:
            return "Not acknowledged for " + lasted(now - record.heard_since.value_or(alarm.since)) + ": " +
                   (is_unjudged(record) ? not_known(record, now, names) : what);
        case Reason::none:
        case Reason::first:
        case Reason::new_in_group:
            break;
    }
    return what;
}

}  // namespace ingle
