#include "daemon/run/notice_desk.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <atomic>
#include <map>
#include <mutex>
#include <random>
#include <stdexcept>
#include <utility>

#include "daemon/model/late_alarms.hpp"
#include "daemon/run/names.hpp"
#include "daemon/run/own_secret.hpp"
#include "daemon/run/own_trouble.hpp"

namespace ingle {
namespace {

constexpr std::size_t key_length = 52;                    // 260 bits
constexpr std::size_t most_attended = 500;                // alarms; of older ones nothing waits
constexpr std::chrono::seconds longest_test_awaited{15};  // less than a client waits for any answer

std::string random_word() {
    std::random_device device;
    constexpr char letters[] = "0123456789abcdefghjkmnpqrstvwxyz";
    std::string word;
    for (int i = 0; i < 10; ++i) word += letters[device() % 32];
    return word;
}

// `before`: what is known of the channels, from the settings before these.
std::vector<Delivery::Channel> make_channels(Settings const& settings, std::string const& state_folder,
                                             std::vector<Delivery::ChannelState> const& before,
                                             std::string const& key) {
    std::vector<Delivery::Channel> channels;
    for (auto const& channel : settings.channels) {
        auto const* kind = find_notifier(channel.kind);
        if (!kind)
            throw std::runtime_error("channel " + channel.name + ": there is no kind \"" + channel.kind +
                                     "\"");
        auto const same = std::ranges::find_if(
            before, [&](auto const& each) { return each.name == channel.name && each.kind == channel.kind; });
        bool const known = same != before.end();
        channels.push_back({channel.name,
                            channel.kind,
                            kind->make(channel.options, state_folder),
                            policy_of(channel.options),
                            known ? same->trouble : std::string(),
                            known && same->trouble_of_proof,
                            {link_base(text_of(channel.options, "links")), key}});
    }
    return channels;
}

// The key with which links are signed; "" where no channel has any.
std::string key_for_links(Settings const& settings, std::string const& state_folder) {
    auto const has_links = [](auto const& channel) { return !text_of(channel.options, "links").empty(); };
    if (std::ranges::none_of(settings.channels, has_links)) return {};
    auto const path = state_folder + "/notice.key";
    auto key = own_secret(path, key_length);
    if (key.empty())
        spdlog::warn("notices carry no links to acknowledge: {} cannot be made, or others may read it", path);
    return key;
}

}  // namespace

bool carries_notices(ChannelSettings const& channel) {
    auto const* kind = find_notifier(channel.kind);
    return kind && kind->carries_notices;
}

struct NoticeDesk::Wall {
    explicit Wall(TimeZone in) : zone(std::move(in)) {}
    TimeZone zone;
    std::atomic<bool> certain = false, proven = false;
    mutable std::mutex mutex;
    std::optional<std::set<std::int64_t>> open;
    bool open_awaited = false;
    std::map<std::int64_t, std::string> attended;

    SendQueue::Now now() const {
        SendQueue::Now now;
        now.clock_proven = proven;
        {
            std::lock_guard const lock(mutex);
            now.open = open;
            now.open_awaited = open_awaited;
            now.attended = attended;
        }
        if (!certain) return now;
        auto const wall = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
        now.wall = std::chrono::floor<std::chrono::seconds>(wall);
        auto const local = zone.local(wall);
        auto const in_day = local - std::chrono::floor<std::chrono::days>(local);
        now.minute = static_cast<int>(std::chrono::floor<std::chrono::minutes>(in_day).count());
        now.date = zone.iso(wall).substr(0, 10);
        return now;
    }
};

NoticeDesk::NoticeDesk(boost::asio::io_context& io, Settings const& settings, std::string const& state_folder,
                       logbook::Writer& writer, TimeZone const& zone, OnTrouble on_trouble,
                       NoticeDesk const* earlier)
    : io_(io),
      settings_(settings),
      writer_(writer),
      shelf_(earlier ? earlier->shelf_ : std::make_shared<NoticeShelf>(writer)),
      wall_(std::make_shared<Wall>(zone)),
      obey_(std::make_shared<std::function<void(Command)>>()),
      hour_(settings),
      link_key_(key_for_links(settings, state_folder)),
      spared_(earlier ? earlier->spared_ : std::set<std::string>()),
      run_(random_word()),
      signs_(earlier ? earlier->signs_ : std::set<std::string>()),
      knows_signs_(earlier && earlier->knows_signs_) {
    auto const before = earlier ? earlier->delivery_->channels() : std::vector<Delivery::ChannelState>();
    auto const post_on = [&io, on_trouble = std::move(on_trouble)](std::string const& channel, bool present,
                                                                   std::string const& text) {
        boost::asio::post(io, [=] { on_trouble(channel, present, text); });
    };
    auto channels = make_channels(settings, state_folder, before, link_key_);
    if (earlier) hour_.continue_from(earlier->hour_);
    for (auto const& channel : channels) {
        wants_state_ = wants_state_ || channel.notifier->wants_state();
        wants_charts_ = wants_charts_ || channel.notifier->wants_chart();
    }
    for (auto& channel : channels)
        channel.notifier->answer_to([&io, obey = std::weak_ptr(obey_),
                                     name = channel.name](NoticeAnswer const& answer) {
            boost::asio::post(io, [obey, name, answer] {
                auto const does = obey.lock();
                for (auto const alarm : answer.alarms) {
                    if (!does || !*does) return;
                    if (answer.shelve_for)
                        (*does)(Shelve{alarm, std::chrono::duration_cast<Span>(*answer.shelve_for), name});
                    else
                        (*does)(Acknowledge{alarm, name});
                }
            });
        });
    delivery_ = std::make_unique<Delivery>(std::move(channels), *shelf_, post_on, DeliveryTiming{},
                                           [wall = wall_] { return wall->now(); });
}

NoticeDesk::~NoticeDesk() {
    stop();
}

void NoticeDesk::give_signs_of_life(std::function<std::string()> const& text) {
    auto const now = wall_->now();
    if (!now.minute) return;
    for (std::size_t channel = 0; channel < settings_.channels.size(); ++channel) {
        auto const at = policy_of(settings_.channels[channel].options).sign_of_life;
        if (!at || !sign_of_life_due(*at, *now.minute, knows_signs_)) continue;
        auto const id = logbook::sign_of_life_prefix + now.date + '-' + settings_.channels[channel].name;
        if (!signs_.insert(id).second) continue;
        auto notice = notice_now("summary", "Daily sign of life of " + settings_.name + ": " + text());
        notice.id = id;
        delivery_->send(channel, std::move(notice));
    }
}

void NoticeDesk::went_round(std::function<std::string()> const& text) {
    delivery_->went_round([&] { return notice_now("heartbeat", settings_.name + " is watched: " + text()); });
}

Notice NoticeDesk::notice_now(std::string kind, std::string text) {
    Notice notice;
    notice.id = run_ + '-' + std::to_string(++last_);
    notice.kind = std::move(kind);
    notice.priority = "low";
    notice.subject = settings_.name;
    notice.text = std::move(text);
    if (wall_->certain) {
        auto const now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
        notice.at = iso_time(now, wall_->zone.offset(now));
    }
    return notice;
}

void NoticeDesk::note(Effects const& effects) {
    bool changed = false;
    for (auto const& effect : effects) {
        if (auto const* reading = std::get_if<Recorded>(&effect); reading && wants_charts_)
            hour_.note(*reading);
        auto const* change = std::get_if<AlarmChanged>(&effect);
        if (!change || change->transition == Transition::updated) continue;
        changed = true;
        know_attended(change->alarm, change->transition == Transition::acknowledged);
        if (change->transition == Transition::cleared || change->transition == Transition::acknowledged ||
            change->transition == Transition::shelved)
            delivery_->attended(change->alarm.id);
    }
    if (changed) show(), delivery_->look_again();
}

// `acknowledged`: just now. What ends with it is not among the open ones any more.
void NoticeDesk::know_attended(Alarm const& alarm, bool acknowledged) {
    auto const by = [](std::string const& who) { return who.empty() ? who : " by " + who; };
    std::lock_guard const lock(wall_->mutex);
    auto& attended = wall_->attended;
    for (auto const id : numbers_told(alarm)) {
        if (acknowledged || alarm.state == AlarmState::acknowledged)
            attended[id] = "acknowledged meanwhile" + by(alarm.acknowledged_by);
        else if (alarm.state == AlarmState::shelved)
            attended[id] = "shelved meanwhile";
        else if (alarm.state == AlarmState::out_of_service)
            attended[id] = "out of service meanwhile";
        else if (alarm.state != AlarmState::normal)
            attended.erase(id);
    }
    if (attended.size() > most_attended) attended.erase(attended.begin());
}

// Its own, and the one under which it was told before the logbook opened: what waits bears that.
std::vector<std::int64_t> NoticeDesk::numbers_told(Alarm const& alarm) {
    std::vector<std::int64_t> numbers{alarm.id};
    auto const what = std::pair(std::string(alarm.type ? alarm.type->name : ""), alarm.subject);
    if (is_late_alarm(alarm.id))
        late_numbers_[what] = alarm.id;
    else if (auto const late = late_numbers_.find(what); late != late_numbers_.end())
        numbers.push_back(late->second);
    return numbers;
}

void NoticeDesk::know_open(std::vector<Alarm> const& alarms) {
    for (auto const& alarm : alarms) know_attended(alarm, false);
    std::set<std::int64_t> open;
    for (auto const& alarm : alarms)
        if (alarm.active && alarm.state != AlarmState::suppressed_by_design)
            for (auto const id : numbers_told(alarm)) open.insert(id);
    bool was_awaited = false;
    {
        std::lock_guard const lock(wall_->mutex);
        wall_->open = std::move(open);
        was_awaited = std::exchange(wall_->open_awaited, false);
    }
    if (was_awaited) delivery_->look_again();
}

// The core is about to take up what it knew: in the next turn of the thread the open alarms are known.
void NoticeDesk::await_open() {
    {
        std::lock_guard const lock(wall_->mutex);
        wall_->open_awaited = !wall_->open;
    }
    boost::asio::post(io_, [this, here = std::weak_ptr(obey_)] {
        if (!here.expired()) show();
    });
}

void NoticeDesk::retire() {
    obey({});
    view_ = {};
    delivery_->retire();
}

void NoticeDesk::know_the_time(ClockAnchor const& anchor) {
    wall_->certain = anchor.certain;
    wall_->proven = anchor.proven;
    delivery_->clock_was_set();
}

void NoticeDesk::take_over() {
    shelf_->write_to(writer_);
    await_open();
    delivery_->resume();
}

void NoticeDesk::resume(logbook::Resumed const& earlier_run) {
    signs_.insert(earlier_run.signs.begin(), earlier_run.signs.end());
    knows_signs_ = earlier_run.known;
    if (earlier_run.known) await_open();
    shelf_->take_up(earlier_run.pending, earlier_run.sent);
    delivery_->resume();
}

void NoticeDesk::tell(Tell const& all, std::optional<ClockAnchor> const& clock, TimeZone const& zone) {
    auto const channel = static_cast<std::size_t>(all.channel);
    if (channel >= settings_.channels.size() || !carries_notices(settings_.channels[channel])) return;
    auto const& name = settings_.channels[channel].name;
    if (spares(all, name)) return;
    auto const tell = without_trouble_of(name, all);
    auto notice = notice_of(settings_, tell, clock, zone, run_ + '-' + std::to_string(++last_));
    // It is told although somebody attended to it: it became worse, or is not silenced any more.
    {
        std::lock_guard const lock(wall_->mutex);
        for (auto const& alarm : tell.alarms) wall_->attended.erase(alarm.id);
    }
    add_chart(notice, tell, clock, zone);
    delivery_->send(channel, std::move(notice));
}

// A channel is not told that it did not deliver, nor reminded of it, nor that it does again: whoever reads it
// there has what it did not deliver, and by then it is over.
bool NoticeDesk::spares(Tell const& tell, std::string const& channel) {
    auto const about_channels = [](Alarm const& alarm) {
        return alarm.type && alarm.type->name == "not-delivered";
    };
    if (tell.alarms.empty() || !std::ranges::all_of(tell.alarms, about_channels)) return false;
    auto const text = without_own_trouble(tell.text, channel);
    // Who was spared is forgotten with a kill; what the alarm said of this channel stays in its text.
    auto const about_this_one = [&](Alarm const& alarm) {
        return alarm.text.find(own_trouble(channel)) != std::string::npos;
    };
    if (tell.kind == "cleared")
        return spared_.erase(channel) > 0 || std::ranges::any_of(tell.alarms, about_this_one);
    if (text.find(own_trouble(channel)) != std::string::npos) return spared_.insert(channel), true;
    if (tell.kind == "raised") spared_.erase(channel);
    return spared_.contains(channel);
}

void NoticeDesk::test(std::string const& channel, Reply<Outcome> reply) {
    auto const found = std::ranges::find(settings_.channels, channel, &ChannelSettings::name);
    if (found == settings_.channels.end()) return reply({false, "there is no channel \"" + channel + "\""});
    Notice notice;
    notice.id = run_ + "-test-" + std::to_string(++last_);
    notice.kind = "test";
    notice.priority = "low";
    notice.subject = settings_.name;
    notice.text = "This is a test of the channel " + channel + " of " + settings_.name + ".";
    auto const number = static_cast<std::size_t>(found - settings_.channels.begin());
    auto const asked = std::make_shared<Reply<Outcome>>(std::move(reply));  // empty: it has its answer
    auto const answer = [asked](Outcome const& outcome) {
        if (auto const once = std::exchange(*asked, {})) once(outcome);
    };
    auto const patience = std::make_shared<boost::asio::steady_timer>(io_, longest_test_awaited);
    std::erase_if(tests_, [](auto const& other) { return other.expired(); });
    tests_.push_back(patience);
    patience->async_wait([this, here = std::weak_ptr(obey_), patience, answer, channel, number](auto failed) {
        if (failed || here.expired())
            return answer(
                {false, channel + ": not known: the kitchen file was read anew meanwhile; try it again"});
        auto const waits = delivery_->channels()[number].so_far;
        answer({false,
                channel + ": not known yet: " + (waits.empty() ? "its attempts before are not done" : waits) +
                    ". It is still tried; `ingle notices` shows how it ends"});
    });
    delivery_->test(number, notice,
                    [&io = io_, shelf = shelf_, notice, patience, answer, channel](Attempt const& attempt) {
                        shelf->tested(channel, notice, attempt);
                        bool const done = attempt.outcome == Attempt::Outcome::delivered;
                        Outcome outcome{done, channel + (done ? ": delivered" : ": " + attempt.reason)};
                        boost::asio::post(io, [answer, outcome, patience] {
                            answer(outcome);
                            patience->cancel();
                        });
                    });
}

void NoticeDesk::leave_tests() {
    for (auto const& test : tests_)
        if (auto const patience = test.lock()) patience->cancel();
}

std::vector<PendingNotice> NoticeDesk::pending() const {
    std::vector<PendingNotice> list;
    auto const boot_now = BootClock::now();
    auto const steady_now = std::chrono::steady_clock::now();
    auto const boot = [&](std::chrono::steady_clock::time_point at) {
        return boot_now + std::chrono::duration_cast<Span>(at - steady_now);
    };
    for (auto const& waiting : delivery_->waiting())
        list.push_back({waiting.notice.id, waiting.channel, waiting.notice.kind, waiting.notice.text,
                        boot(waiting.since), waiting.attempts, boot(waiting.next_try), waiting.last_error,
                        waiting.held});
    return list;
}

std::vector<ChannelStatus> NoticeDesk::channels() const {
    std::vector<ChannelStatus> list;
    auto const to_boot =
        BootClock::now().time_since_epoch() - std::chrono::steady_clock::now().time_since_epoch();
    for (auto const& state : delivery_->channels()) {
        list.push_back({state.name, state.kind, state.trouble, state.pending, state.delivered, state.given_up,
                        std::nullopt, shelf_->last_delivered(state.name)});
        if (state.last_beat)
            list.back().last_beat =
                Instant(std::chrono::floor<Span>(state.last_beat->time_since_epoch() + to_boot));
    }
    return list;
}

void NoticeDesk::stop() {
    if (delivery_) delivery_->stop();
}

}  // namespace ingle
