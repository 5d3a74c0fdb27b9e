#include "daemon/cook/timers.hpp"

#include <algorithm>
#include <cstdlib>
#include <utility>

#include "daemon/model/timer_length.hpp"
#include "daemon/watches/words.hpp"

namespace ingle {
namespace {

constexpr AlarmType types[] = {
    {.name = "timer-over", .priority = Priority::medium, .prompt = true, .asked_for = true}};
std::string const prefix = "timer.";

constexpr Span long_over = std::chrono::seconds(60);  // from here on it is said for how long

std::string named(TimerView const& timer, Instant now, bool unsure) {
    auto const length = Words::in(timer.length);
    if (unsure)
        return timer.text.empty() ? "timer " + std::to_string(timer.number) + " of " + length + " may be over"
                                  : "perhaps " + length + " are over: " + timer.text;
    auto text = timer.text.empty() ? "timer " + std::to_string(timer.number) + " of " + length + " is over"
                                   : length + " are over: " + timer.text;
    Span const since = now - timer.ends;
    if (since >= long_over) text += " (" + Words::in(since) + " ago)";
    return text;
}

}  // namespace

std::span<AlarmType const> timer_alarms() {
    return types;
}

std::string Timers::start(Instant at, Span length, std::string text, std::int64_t& number) {
    if (length <= Span(0)) return "a timer must run for longer than nothing";
    if (length > longest_timer) return timer_too_long;
    if (text.size() > longest_text) return "the text of a timer has 200 bytes at most";
    if (timers_.size() >= most) return "there are 50 timers already: stop one of them first";
    number = ++last_;
    timers_.push_back({number, std::move(text), length, at + length, false});
    std::ranges::stable_sort(timers_, {}, &TimerView::ends);
    changed_ = true;
    return "";
}

std::string Timers::stop(std::int64_t number) {
    if (std::erase_if(timers_, [&](TimerView const& t) { return t.number == number; }) == 0)
        return "there is no timer " + std::to_string(number);
    changed_ = true;
    return "";
}

Finding Timers::step(Instant now) {
    Finding finding;
    finding.type = &types[0];
    bool unsure = false;
    for (auto last = timers_.rbegin(); last != timers_.rend(); ++last) {  // what has just rung comes first
        TimerView& timer = *last;
        if (!timer.over && timer.ends <= now) {
            timer.over = true;
            ++rang_;
            changed_ = true;
            if (now > corrected_at_) not_over_.clear();  // it was of that moment
        }
        if (!timer.over) continue;
        bool const nobody_knows = std::ranges::find(unsure_, timer.number) != unsure_.end();
        unsure = unsure || nobody_knows;
        finding.truth = Truth::present;
        if (!finding.text.empty()) finding.text += "; ";
        finding.text += named(timer, now, nobody_knows);
        if (nobody_knows) continue;
        finding.value = std::max(finding.value, seconds(now - timer.ends));
        finding.since = std::max(finding.since.value_or(timer.ends), timer.ends);
    }
    if (!finding.text.empty()) finding.text += ".";
    if (unsure)
        finding.text += " The program was off for an unknown time: it may be too early, or long over.";
    if (finding.truth == Truth::present && !not_over_.empty()) finding.text += " " + not_over_;
    finding.grade = rang_;
    return finding;
}

void Timers::acknowledged() {
    if (std::erase_if(timers_, [](TimerView const& t) { return t.over; }) > 0) changed_ = true;
    unsure_.clear();
    not_over_.clear();
}

std::string Timers::correct(Timers const& before, Instant now) {
    not_over_.clear();
    corrected_at_ = now;
    for (TimerView const& timer : timers_) {
        auto const rang = std::ranges::find(before.timers_, timer.number, &TimerView::number);
        if (timer.over || timer.ends <= now || rang == before.timers_.end() || !rang->over) continue;
        not_over_ += (not_over_.empty() ? "Not over yet: " : "; ") +
                     (timer.text.empty() ? "timer " + std::to_string(timer.number) : timer.text) + ", " +
                     Words::in(timer.ends - now) + " left of " + Words::in(timer.length);
    }
    if (!not_over_.empty()) not_over_ += ".";
    // What rings from now on is further news, however many rang there.
    rang_ = std::max(rang_, before.rang_) + (not_over_.empty() ? 0 : 1);
    changed_ = true;
    return not_over_;
}

bool Timers::changed() {
    return std::exchange(changed_, false);
}

void Timers::remember(Memory& memory) const {
    memory.put("timers.last", last_);
    memory.put("timers.rang", std::int64_t{rang_});
    for (TimerView const& timer : timers_) {
        auto const key = prefix + std::to_string(timer.number) + ".";
        memory.put(key + "ends", timer.ends);
        memory.put(key + "length", std::int64_t{timer.length.count()});
        memory.put(key + "text", timer.text);
        memory.put(key + "over", std::int64_t{timer.over});
        if (std::ranges::find(unsure_, timer.number) != unsure_.end())
            memory.put(key + "unsure", std::int64_t{1});
    }
}

void Timers::recall(Memory const& memory, bool off_known) {
    last_ = memory.integer("timers.last").value_or(0);
    rang_ = static_cast<int>(memory.integer("timers.rang").value_or(0));
    for (auto at = memory.first_with(prefix); at != memory.all().end() && at->first.starts_with(prefix);
         ++at) {
        if (!at->first.ends_with(".ends")) continue;
        auto const key = at->first.substr(0, at->first.size() - 4);
        TimerView timer;
        timer.number = std::atoll(key.c_str() + prefix.size());
        auto const length = memory.integer(key + "length");
        if (timer.number <= 0 || !length) continue;
        auto const ends = memory.instant(key + "ends", Span(*length));
        if (!ends) continue;
        bool const known = off_known && memory.is_placed(key + "ends", Span(*length));
        timer.ends = *ends;
        timer.length = Span(*length);
        timer.text = memory.text(key + "text").value_or("");
        timer.over = memory.integer(key + "over").value_or(0) != 0;
        last_ = std::max(last_, timer.number);
        bool const unsure = memory.integer(key + "unsure").value_or(0) != 0;
        if (unsure && known && memory.is_joined()) {
            timer.over = false;  // it may have been; now it is known, and rings where it is
        } else if (unsure || (!known && !timer.over)) {
            unsure_.push_back(timer.number);
        }
        if (!known && !timer.over) {
            timer.over = true;
            ++rang_;
        }
        timers_.push_back(std::move(timer));
    }
    std::ranges::stable_sort(timers_, {}, &TimerView::ends);
}

}  // namespace ingle
