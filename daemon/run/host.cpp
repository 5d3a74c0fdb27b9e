#include "daemon/run/host.hpp"

#include <algorithm>
#include <filesystem>
#include <utility>

#include "daemon/planning/document.hpp"
#include "daemon/planning/past_stages.hpp"
#include "daemon/run/outcome.hpp"
#include "daemon/run/past.hpp"
#include "daemon/schedule/cooking.hpp"

namespace ingle {
namespace {

constexpr std::int64_t a_minute_ms = 60'000;
constexpr Span heard_lately{300'000};
constexpr Span longest_wait{3000};  // a person waits no longer for a slow card than this

}  // namespace

Host::Host(Parts const& parts) : parts_(parts) {
    parts_.notices.look_through([this] { return view(); }, [this] { return parts_.core.knows_the_past(); });
    parts_.notices.obey([this](Command command) { submit(std::move(command), [](Outcome const&) {}); });
}

Status Host::status() {
    Status status;
    status.version = INGLE_VERSION;
    status.started = parts_.started;
    if (!settings().file.empty()) {
        std::error_code none;
        status.kitchen_file = std::filesystem::absolute(settings().file, none).string();
    }
    status.zone = settings().zone;
    auto const trouble = parts_.writer.trouble();
    status.past_known = parts_.core.knows_the_past();
    status.recording = !trouble && status.past_known;
    if (trouble)
        status.recording_trouble = trouble->text;
    else if (!status.past_known)
        status.recording_trouble = "the logbook has not opened yet";
    status.clock_proven = parts_.core.clock_proven();
    auto const counts = parts_.writer.counts();
    status.waiting = static_cast<std::int64_t>(counts.waiting);
    status.lost = static_cast<std::int64_t>(counts.lost);
    status.committed = counts.last_commit;
    if (trouble) status.unrecorded_since = counts.last_commit.value_or(trouble->since);
    status.logbook_bytes = counts.bytes;
    status.channels = parts_.notices.channels();
    for (int probe = 0; probe < static_cast<int>(settings().probes.size()); ++probe)
        status.probes.push_back({parts_.core.readings(probe), parts_.core.faults(probe),
                                 parts_.probes.trouble(probe), parts_.core.newest(probe)});
    return status;
}

void Host::submit(Command command, Reply<Outcome> reply) {
    auto const offset_ms = parts_.core.view().wall_offset_ms;
    auto* begin = std::get_if<Begin>(&command);
    if (begin && begin->when && *begin->when < BootClock::now() && offset_ms)
        return begin_afterwards(std::move(*begin), *offset_ms, std::move(reply));
    obey(command, std::move(reply));
}

// What was read since then is asked of the logbook; where it does not answer, it is not known.
void Host::begin_afterwards(Begin begin, std::int64_t offset_ms, Reply<Outcome> reply) {
    auto const wall = [&](Instant at) {
        return WallTime(std::chrono::milliseconds(at.time_since_epoch().count() + offset_ms));
    };
    std::vector<std::string> probes;
    for (auto const& probe : settings().probes) probes.push_back(probe.name);
    logbook::Window const window{wall(*begin.when), wall(BootClock::now())};
    parts_.archive.ask<PastReadings>(
        [probes = std::move(probes), window, offset_ms](auto& reader) {
            return past_readings(reader, probes, window, offset_ms);
        },
        [this, begin = std::move(begin), reply = std::move(reply)](PastReadings read) mutable {
            if (retired_) return reply({false, "the kitchen file was read anew meanwhile: say it again"});
            begin.read = std::move(read.value);
            obey(std::move(begin), std::move(reply));
        });
}

void Host::retire() {
    retired_ = true;
    parts_.notices.retire();
}

void Host::obey(Command const& command, Reply<Outcome> reply) {
    std::uint64_t ticket = 0;
    auto const now = BootClock::now();
    auto const effects = parts_.core.command(now, command, &ticket);
    auto outcome = outcome_of(settings(), command, effects);
    if (!outcome.done) {
        if (!parts_.core.knows_the_past())
            outcome.text +=
                ". What was before this start is not read from the logbook yet: say it again when it is";
        return reply(std::move(outcome));
    }
    reply_when_durable(ticket, std::move(outcome), std::move(reply));
}

void Host::commit(Reply<Outcome> reply) {
    auto const ticket = parts_.core.remember(BootClock::now());
    parts_.writer.commit_now();
    reply_when_durable(ticket, {true, "on disk"}, std::move(reply));
}

void Host::reply_when_durable(std::uint64_t ticket, Outcome outcome, Reply<Outcome> reply) {
    if (parts_.writer.durable() >= ticket) return reply(std::move(outcome));
    waiting_.push_back({ticket, BootClock::now(), std::move(outcome), std::move(reply)});
}

void Host::settle(Instant now) {
    auto const durable = parts_.writer.durable();
    auto waiting = std::exchange(waiting_, {});
    for (auto& one : waiting) {
        if (durable < one.ticket && now - one.since < longest_wait) {
            waiting_.push_back(std::move(one));
            continue;
        }
        if (durable < one.ticket) one.outcome.text += " (done, but not on disk yet)";
        one.reply(std::move(one.outcome));
    }
}

void Host::settle_all() {
    settle(Instant::max());
}

std::string Host::sign_of_life(Instant now) {
    auto const& probes = settings().probes;
    int heard = 0;
    for (int probe = 0; probe < static_cast<int>(probes.size()); ++probe) {
        auto const newest = parts_.core.newest(probe);
        heard += newest && newest->ok() && now - newest->at <= heard_lately ? 1 : 0;
    }
    auto const standing =
        std::ranges::count_if(view().alarms, [](Alarm const& alarm) { return alarm.active; });
    return std::to_string(heard) + " of " + std::to_string(probes.size()) +
           " probes gave a value in the last 5 min, " +
           (standing == 0 ? "no alarm stands."
                          : std::to_string(standing) + (standing == 1 ? " alarm stands." : " alarms stand."));
}

void Host::test_channel(std::string name, Reply<Outcome> reply) {
    parts_.notices.test(name, std::move(reply));
}

void Host::history(HistoryQuery query, Reply<Answer<History>> reply) {
    parts_.archive.ask<Answer<History>>(
        [query = std::move(query)](auto& reader) { return past_history(reader, query); }, std::move(reply));
}

void Host::past_alarms(TimeSpan span, Reply<Answer<std::vector<PastAlarm>>> reply) {
    parts_.archive.ask<Answer<std::vector<PastAlarm>>>(
        [span](auto& reader) { return ingle::past_alarms(reader, span); }, std::move(reply));
}

void Host::past_notices(TimeSpan span, Reply<Answer<PastNotices>> reply) {
    parts_.archive.ask<Answer<PastNotices>>(
        [span](auto& reader) { return ingle::past_notices(reader, span); }, std::move(reply));
}

void Host::past_cooks(TimeSpan span, Reply<Answer<std::vector<PastCook>>> reply) {
    parts_.archive.ask<Answer<std::vector<PastCook>>>(
        [span](auto& reader) { return ingle::past_cooks(reader, span); }, std::move(reply));
}

// On a thread of its own, where however many dishes delay no reading; by a count of steps, never without
// end.
void Host::schedule(Reply<Answer<std::string>> reply) {
    auto const view = parts_.core.view();
    if (!view.wall_offset_ms) return reply({"", "the time is not known yet, and a schedule goes by it"});
    auto const at = (view.at.time_since_epoch().count() + *view.wall_offset_ms) / a_minute_ms * 60;
    auto const second = (view.at.time_since_epoch().count() + *view.wall_offset_ms) / 1000;
    auto of = std::to_string(at);
    for (auto const& dish : view.dishes)
        of += '\n' + std::to_string(dish.cook) + (dish.begun ? " begun " : " ") + dish.stage +
              (dish.clock.state.starts_with("over") ? " over" : "");
    for (auto const& dish : settings().dishes) of += '\n' + std::to_string(dish.serve_at.value_or(0));
    auto& waiting = (*schedules_)[of];
    waiting.push_back(std::move(reply));
    if (waiting.size() > 1) return;
    auto running = schedule::running_dishes(schedule::cooking_in(view.dishes, view.at), settings(), second);
    parts_.planner.ask<Answer<std::string>>(
        [settings = settings(), zone = parts_.zone, at, running = std::move(running)](auto& reader) {
            auto const made = schedule::make_schedule(
                {settings, zone, at, running, schedule::past_stages(reader, settings)});
            return Answer<std::string>{schedule::schedule_document(made, settings, zone), ""};
        },
        [all = schedules_, of](Answer<std::string> const& answer) {
            for (auto const& each : std::exchange((*all)[of], {})) each(answer);
            all->erase(of);
        });
}

void Host::export_page(ExportQuery query, std::string cursor, Reply<Answer<ExportPage>> reply) {
    parts_.archive.ask<Answer<ExportPage>>(
        [query = std::move(query), cursor = std::move(cursor), unit = settings().units,
         zone = parts_.zone](auto& reader) { return ingle::export_page(reader, query, cursor, unit, zone); },
        std::move(reply));
}

}  // namespace ingle
