// What a link of a notice may do, and does once.
#include <algorithm>

#include "daemon/run/guest_pass.hpp"
#include "daemon/run/host.hpp"
#include "daemon/run/outcome.hpp"
#include "daemon/run/own_secret.hpp"

namespace ingle {
namespace {

constexpr std::int64_t ms_per_s = 1000;

NoticeLink refused(int status, std::string text) {
    return {status, std::move(text), false, {}};
}

// Another timer, another stage than its reader was told of: that one has a notice of its own.
bool has_news(View const& view, Alarm const& alarm, LinkAct const& act) {
    auto const came_ms = alarm.since.time_since_epoch().count() + view.wall_offset_ms.value_or(0);
    return alarm.type->prompt && came_ms / ms_per_s > act.told_s;
}

bool is_left(View const& view, Alarm const& alarm, LinkAct const& act) {
    if (alarm.state == AlarmState::normal || std::ranges::find(act.alarms, alarm.id) == act.alarms.end())
        return false;
    if (!act.shelve && has_news(view, alarm, act)) return false;
    return act.shelve ? alarm.state != AlarmState::shelved : !alarm.acknowledged;
}

std::vector<Alarm> left_of(View const& view, LinkAct const& act) {
    std::vector<Alarm> left;
    for (auto const& alarm : view.alarms)
        if (is_left(view, alarm, act)) left.push_back(alarm);
    return left;
}

}  // namespace

// Another token, or another guest.key in the state folder, and no pass is good any more.
std::string Host::guest_key(std::string const& token) {
    constexpr std::size_t key_length = 32;
    if (token.empty()) return {};
    if (!guest_secret_) guest_secret_ = own_secret(parts_.state_folder + "/guest.key", key_length);
    return guest_secret_->empty() ? std::string() : *guest_secret_ + '.' + token;
}

std::string Host::guest_pass(std::string const& token, WallMs until) {
    return ingle::guest_pass(guest_key(token), until / ms_per_s);
}

std::optional<WallMs> Host::guest_until(std::string const& token, std::string_view pass) {
    auto const until_s = ingle::guest_until(guest_key(token), pass);
    return until_s ? std::optional(*until_s * ms_per_s) : std::nullopt;
}

NoticeLink Host::notice_link(std::string const& token) {
    auto const view = parts_.core.view();
    auto const act = parts_.notices.links().read(token);
    if (!act) {
        return refused(404,
                       "This link is not one of this kitchen's, or it was changed on its way. The newest "
                       "notice has one that works.");
    }
    if (!view.wall_offset_ms) {
        return refused(503,
                       "The time is not known here yet, so nobody can say whether this link still holds. "
                       "Try it again in a minute.");
    }
    if (!parts_.core.knows_the_past()) {
        return refused(503,
                       "The logbook is not open yet, so nobody can say whether this link was used before. "
                       "Try it again in a minute.");
    }
    auto const now_s = (now().time_since_epoch().count() + *view.wall_offset_ms) / ms_per_s;
    if (now_s >= act->until_s) {
        return refused(410, "This link has expired. A newer notice has one that works.");
    }
    if (parts_.core.used_links().knows(signature_of(token)))
        return refused(410, "This link was used already, and each works once.");
    NoticeLink link{200, "", act->shelve, {}};
    for (auto const& alarm : left_of(view, *act)) link.alarms.push_back(alarm.text);
    if (!link.alarms.empty()) return link;
    for (auto const& alarm : view.alarms)
        if (std::ranges::find(act->alarms, alarm.id) != act->alarms.end() && has_news(view, alarm, *act) &&
            !alarm.acknowledged && !act->shelve)
            return refused(409, "Something newer has been told since: " + alarm.text +
                                    " The newest notice has a link that works.");
    return refused(409, act->shelve ? "There is nothing to shelve any more: it is over, or shelved already."
                                    : "There is nothing to acknowledge any more: it is over, or somebody has "
                                      "acknowledged it.");
}

void Host::use_notice_link(std::string const& token, Reply<NoticeLink> reply) {
    auto link = notice_link(token);
    auto const act = parts_.notices.links().read(token);
    if (link.status != 200 || !act) return reply(std::move(link));
    if (retired_) return reply(refused(503, "The kitchen file was read anew meanwhile: try it again."));
    auto const moment = BootClock::now();
    auto const now_s =
        (moment.time_since_epoch().count() + parts_.core.view().wall_offset_ms.value_or(0)) / ms_per_s;
    // Before the commands, so that it is on the disk with what they do.
    parts_.core.used_links().add(signature_of(token), act->until_s, now_s);
    std::string const by = "the link sent to " + act->channel;
    std::uint64_t ticket = 0;
    Effects all;
    Command last;
    for (auto const& alarm : left_of(parts_.core.view(), *act)) {
        last = act->shelve ? Command(Shelve{alarm.id, std::chrono::duration_cast<Span>(link_shelves_for), by})
                           : Command(Acknowledge{alarm.id, by});
        auto effects = parts_.core.command(moment, last, &ticket);
        all.insert(all.end(), effects.begin(), effects.end());
    }
    auto const outcome = outcome_of(settings(), last, all);
    if (!outcome.done) {
        parts_.core.used_links().remove(signature_of(token));
        return reply(refused(409, outcome.text));
    }
    reply_when_durable(ticket, outcome, [link, reply = std::move(reply)](Outcome const& done) mutable {
        link.text = done.text;
        reply(std::move(link));
    });
}

}  // namespace ingle
