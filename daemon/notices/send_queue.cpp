#include "daemon/notices/send_queue.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

#include "daemon/notices/late_words.hpp"
#include "daemon/notices/newer.hpp"
#include "daemon/notices/summary.hpp"

namespace ingle {
namespace {

using std::chrono::milliseconds;

// However often an attempt fails, and whatever a receiver asks for (Retry-After), a notice of each priority
// is tried again after this long.
// What is refused is said again after the pause for it, doubled up to the longest, while somebody needs it: a
// receiver may be wrong for as long as its settings are edited.
struct Level {
    milliseconds longest_pause, refused_pause, longest_refused_pause;
};
using std::chrono::minutes;
constexpr Level levels[] = {{minutes(1), minutes(1), minutes(10)},
                            {minutes(5), minutes(5), minutes(30)},
                            {minutes(15), minutes(15), minutes(120)}};
constexpr int most_doublings = 20;
// A receiver that wants to be left alone for longer is told of at once.
constexpr std::chrono::seconds long_retry_after{60};
constexpr std::chrono::hours rate_over{1};
// After an outage, or when what was held back may go, as many as these are one message.
constexpr std::size_t merge_from = 2;
constexpr int minutes_of_day = 24 * 60;

std::size_t level_of(Notice const& notice) {
    return ingle::level_of(notice.priority);
}

bool same_subject(Notice const& a, Notice const& b) {
    return a.alarm == b.alarm && a.subject == b.subject;
}

// Of what is about several alarms, a newer notice of one of them says not all.
Newer word_after(Notice const& newer, Notice const& older) {
    return older.single ? newer_word(newer, older) : Newer::beside;
}

bool tells_what_is(Notice const& notice) {
    return notice.kind == "raised" || notice.kind == "reminder";
}

}  // namespace

SendQueue::SendQueue(DeliveryTiming timing, DeliveryPolicy policy, unsigned seed)
    : timing_(timing), policy_(policy), random_(seed) {}

void SendQueue::add_what_never_came(Notice& notice) const {
    for (auto const& job : jobs_)
        if (!job.in_work && word_after(notice, job.notice) == Newer::its_end &&
            notice.text.find(never_came(job.notice)) == std::string::npos)
            notice.text += never_came(job.notice);
}

std::vector<SendQueue::Dropped> SendQueue::add(Notice notice, int attempts, Moment now) {
    std::vector<Dropped> dropped;
    bool was_held = false;
    // A reminder of what never arrived is the first word of it.
    for (auto job = jobs_.begin(); job != jobs_.end();) {
        auto const word = word_after(notice, job->notice);
        if (job->in_work || word == Newer::beside) {
            ++job;
            continue;
        }
        if (notice.kind == "reminder" && job->notice.kind == "raised") notice.kind = "raised";
        was_held = was_held || job->was_held;
        if (job->in_batch) dissolve_batch();
        dropped.push_back({job->notice.id, word == Newer::its_end
                                               ? "it was over before; the notice of its end tells of both"
                                               : "a newer notice says it"});
        job = jobs_.erase(job);
    }
    int const refusals = refusals_of(notice.id);
    bool const taken_up = notice.late;
    jobs_.push_back(
        {std::move(notice), attempts, now, {}, false, was_held, false, ++added_, refusals, {}, taken_up});
    if (jobs_.size() > timing_.most_waiting) {
        auto const oldest = std::ranges::find(jobs_, false, &Job::in_work);
        dropped.push_back({oldest->notice.id, "too many notices are waiting", true});
        if (oldest->in_batch) dissolve_batch();
        jobs_.erase(oldest);
    }
    return dropped;
}

std::vector<SendQueue::Dropped> SendQueue::drop_pointless(Now const& now) {
    std::vector<Dropped> dropped;
    std::erase_if(jobs_, [&](Job const& job) {
        auto const& alarms = job.notice.link_alarms;
        if (job.in_work || alarms.empty() || !tells_what_is(job.notice)) return false;
        bool const attended = std::ranges::all_of(alarms, [&](auto id) { return now.attended.contains(id); });
        bool const over = job.refusals > 0 && job.not_before <= now.at && now.open &&
                          std::ranges::none_of(alarms, [&](auto id) { return now.open->contains(id); });
        if (attended)
            dropped.push_back({job.notice.id, "not sent any more: " + now.attended.at(alarms.front())});
        else if (over)
            dropped.push_back({job.notice.id, "not sent any more: it was refused, and is over by now"});
        return attended || over;
    });
    if (!dropped.empty()) dissolve_batch();
    return dropped;
}

// With another content it is another message, and gets another identity.
void SendQueue::dissolve_batch() {
    for (auto& job : jobs_) job.in_batch = false;
}

SendQueue::Reason SendQueue::held(Job const& job, Now const& now) const {
    if (level_of(job.notice) == 0 || job.in_batch) return Reason::due;
    bool const quiet = policy_.quiet && now.minute && policy_.quiet->holds(*now.minute);
    if (quiet && !job.notice.asked_for) return Reason::quiet_hours;
    auto const recent = std::ranges::count_if(sent_, [&](Moment at) { return at + rate_over > now.at; });
    return policy_.most_per_hour && recent >= *policy_.most_per_hour ? Reason::rate_limit : Reason::due;
}

SendQueue::Moment SendQueue::held_until(Reason why, Now const& now) const {
    if (why == Reason::quiet_hours)
        return now.at +
               std::chrono::minutes((policy_.quiet->to - *now.minute + minutes_of_day) % minutes_of_day);
    auto const first = static_cast<std::ptrdiff_t>(sent_.size()) - *policy_.most_per_hour;
    return sent_[static_cast<std::size_t>(first)] + rate_over;
}

std::string SendQueue::held_words(Reason why) const {
    if (why == Reason::quiet_hours) return "held back: quiet until " + clock_text(policy_.quiet->to);
    if (why == Reason::rate_limit)
        return "held back: at most " + std::to_string(*policy_.most_per_hour) + " messages an hour";
    return {};
}

bool SendQueue::is_late(Job const& job, Moment now) const {
    return job.notice.late || now - job.since > timing_.late_after;
}

// What goes out now: the oldest of the most urgent, an earlier one of the same alarm before it, or what
// waited long together with the others that did.
std::vector<SendQueue::Job*> SendQueue::choose(Now const& now, Reason& reason) {
    std::vector<Job*> ready, late, batch;
    for (auto& job : jobs_) {
        auto const why = held(job, now);
        if (job.in_batch) batch.push_back(&job);
        if (waits(job, now)) continue;
        if (why != Reason::due) {
            job.was_held = true;
            continue;
        }
        // Whatever its own level waits for, it goes out with another one that does.
        bool const is_news = job.notice.kind != "summary";
        if (job.was_held || (is_news && is_late(job, now.at))) late.push_back(&job);
        if (back_off_[level_of(job.notice)] <= now.at) ready.push_back(&job);
    }
    reason = Reason::due;
    if (ready.empty()) return {};
    // One that its receiver never takes holds up none of its like.
    auto const urgent = std::ranges::min_element(
        ready, {}, [](Job const* job) { return std::pair(level_of(job->notice), job->attempts); });
    auto const level = level_of((*urgent)->notice);
    auto const covers = [level](std::vector<Job*> const& some) {
        return std::ranges::any_of(some, [&](Job const* job) { return level_of(job->notice) == level; });
    };
    if (covers(batch)) return reason = batch_reason_, batch;
    if (batch.empty() && late.size() >= merge_from && covers(late)) {
        bool const all_held = std::ranges::all_of(late, &Job::was_held);
        return reason = all_held ? Reason::merged_held : Reason::merged_late, late;
    }
    auto const earlier = std::ranges::find_if(jobs_, [&](Job const& job) {
        return !job.in_batch && !waits(job, now) && held(job, now) == Reason::due &&
               same_subject(job.notice, (*urgent)->notice);
    });
    return {&*earlier};
}

SendQueue::Verdict SendQueue::next(Now const& now) {
    Verdict verdict;
    std::erase_if(sent_, [&](Moment at) { return at + rate_over <= now.at; });
    auto const chosen = choose(now, verdict.reason);
    for (auto* job : chosen) {
        job->in_work = true;
        job->in_batch = chosen.size() > 1;
        verdict.ids.push_back(job->notice.id);
    }
    if (chosen.size() > 1) batch_reason_ = verdict.reason;
    // What waited and was of several alarms may be true of some of them only by now.
    bool const outdated = chosen.size() == 1 && now.open && tells_what_is(chosen.front()->notice) &&
                          is_late(*chosen.front(), now.at) &&
                          is_partly_over(chosen.front()->notice, *now.open);
    if (chosen.size() > 1 || outdated) {
        verdict.notice = merged(chosen, now);
    } else if (!chosen.empty()) {
        verdict.notice = chosen.front()->notice;
        verdict.notice.late = is_late(*chosen.front(), now.at);
        // After a restart: what is open is known by its number still.
        if (verdict.notice.alarms.empty() && now.open && tells_what_is(verdict.notice))
            std::ranges::copy_if(verdict.notice.link_alarms, std::back_inserter(verdict.notice.alarms),
                                 [&](auto id) { return now.open->contains(id); });
        if (verdict.notice.late)
            verdict.notice.text = late_words(verdict.notice, now.date, chosen.front()->was_held);
    }
    if (verdict.sends()) return verdict;
    verdict.reason = Reason::empty;
    for (auto const& job : jobs_) {
        if (job.taken_up && now.open_awaited) continue;  // whoever comes to know it says so
        auto const why = held(job, now);
        auto const until = why == Reason::due ? next_try(job) : held_until(why, now);
        if (until < verdict.look_again) {
            verdict.look_again = until;
            verdict.reason = why == Reason::due ? Reason::backing_off : why;
        }
    }
    return verdict;
}

SendQueue::Moment SendQueue::next_try(Job const& job) const {
    return std::max(back_off_[level_of(job.notice)], job.not_before);
}

Notice SendQueue::merged(std::vector<Job*> const& jobs, Now const& now) {
    std::vector<Waited> waited;
    for (auto const* job : jobs) waited.push_back({&job->notice, job->was_held});
    return summary_of(waited, now.open ? &*now.open : nullptr, now.date);
}

SendQueue::Result SendQueue::finished(Attempt attempt, Now const& now) {
    using Outcome = Attempt::Outcome;
    Result result;
    milliseconds age{0};
    int attempts = 0;
    std::size_t level = level_count - 1;
    std::array<bool, level_count> tried{};
    for (auto& job : jobs_) {
        if (!job.in_work) continue;
        job.in_work = false;
        attempts = std::max(attempts, ++job.attempts);
        level = std::min(level, level_of(job.notice));
        tried[level_of(job.notice)] = true;
        age = std::max(age, std::chrono::duration_cast<milliseconds>(now.at - job.since));
        job.last_error = attempt.reason;
        result.ids.push_back(job.notice.id);
    }
    if (attempt.outcome == Outcome::try_again && attempt.cause == Attempt::Cause::certificate &&
        now.clock_proven)
        attempt.outcome = Outcome::give_up;
    if (attempt.outcome == Outcome::try_again && age > timing_.patience)
        attempt =
            Attempt::give_up("given up after " + show(Duration{std::chrono::duration<double>(age).count()}) +
                             ": " + attempt.reason);
    result.failing = attempt.outcome == Outcome::give_up || attempts >= timing_.tell_after || level == 0 ||
                     attempt.retry_after.value_or(std::chrono::seconds(0)) > long_retry_after;
    if (attempt.outcome == Outcome::try_again) {
        // Whatever is not more urgent than this one would fail as it did; but it gets its turn.
        for (auto each = level; each < level_count; ++each) {
            bool const has_its_turn = !tried[each] && std::exchange(owed_[each], true);
            if (!has_its_turn) back_off_[each] = std::max(back_off_[each], now.at + pause(attempt, each));
            if (tried[each]) owed_[each] = false;
        }
        ++failures_;
        if (attempt.unreached) dissolve_batch();
    } else {
        std::vector<Job> done;
        std::erase_if(jobs_, [&](Job& job) {
            bool const was_sent = std::ranges::find(result.ids, job.notice.id) != result.ids.end();
            if (was_sent) done.push_back(std::move(job));
            return was_sent;
        });
        bool const refused = attempt.outcome == Outcome::give_up && age <= timing_.patience;
        if (refused)
            for (auto& job : done) say_again(std::move(job), result, now);
        clock_was_set();
        if (attempt.outcome == Outcome::delivered && policy_.most_per_hour) sent_.push_back(now.at);
    }
    result.attempt = std::move(attempt);
    return result;
}

void SendQueue::say_again(Job job, Result& result, Now const& now) {
    auto const& [most, first, longest] = levels[level_of(job.notice)];
    if (!tells_what_is(job.notice) && job.notice.kind != "cleared") return;
    for (auto& other : jobs_) {
        auto const word = word_after(other.notice, job.notice);
        if (other.order < job.order || word == Newer::beside) continue;
        bool const tells_of_both = word == Newer::its_end && other.attempts == 0;
        if (tells_of_both && !other.in_work) other.notice.text += never_came(job.notice);
        return;
    }
    auto const pause = first * (std::int64_t{1} << std::min(job.refusals, most_doublings));
    Job again{job.notice, 0, job.since, job.last_error};
    again.was_held = job.was_held;
    again.order = job.order;
    again.refusals = job.refusals + 1;
    again.not_before = now.at + std::min<milliseconds>(pause, longest);
    again.notice.id = next_identity(job.notice.id);
    again.notice.late = true;
    result.again.push_back(again.notice);
    jobs_.insert(std::ranges::upper_bound(jobs_, again.order, {}, &Job::order), std::move(again));
}

void SendQueue::broken_off() {
    for (auto& job : jobs_) job.in_work = false;
}

void SendQueue::forget(std::string const& id) {
    dissolve_batch();
    for (auto& job : jobs_) job.in_work = false;
    std::erase_if(jobs_, [&](Job const& job) { return job.notice.id == id; });
}

void SendQueue::sent_before(Moment at) {
    bool const known = std::ranges::any_of(
        sent_, [&](Moment one) { return std::chrono::abs(one - at) < milliseconds(100); });
    if (policy_.most_per_hour && !known) sent_.insert(std::ranges::upper_bound(sent_, at), at);
}

void SendQueue::clock_was_set() {
    back_off_ = {};
    owed_ = {};
    failures_ = 0;
}

std::vector<SendQueue::Waiting> SendQueue::waiting(Now const& now) const {
    std::vector<Waiting> out;
    for (auto const& job : jobs_) {
        auto const why = job.in_work ? Reason::due : held(job, now);
        auto const until = why == Reason::due ? next_try(job) : held_until(why, now);
        out.push_back({job.notice, job.attempts, job.since, until, job.last_error, held_words(why)});
    }
    return out;
}

// Doubling, with up to a quarter more or less so that several senders do not come in step.
milliseconds SendQueue::pause(Attempt const& attempt, std::size_t level) {
    auto const doubled = timing_.first_pause * (std::int64_t{1} << std::min(failures_, most_doublings));
    auto const base = std::min<milliseconds>(doubled, timing_.longest_pause);
    std::uniform_real_distribution<double> jitter(0.75, 1.25);
    milliseconds own(static_cast<std::int64_t>(static_cast<double>(base.count()) * jitter(random_)));
    if (attempt.retry_after) own = std::max<milliseconds>(own, *attempt.retry_after);
    return std::min(own, levels[level].longest_pause);
}

}  // namespace ingle
