// The contract of every way to send a notice. A notifier belongs to one channel and is used by that channel's
// own thread only; it may block, but never longer than attempt_limit, or than the bound that it states itself
// (a mail: email/talk.hpp).
#pragma once

#include <chrono>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include "config/load.hpp"
#include "config/settings.hpp"
#include "daemon/model/view.hpp"
#include "daemon/notices/notice.hpp"
#include "drivers/api/options.hpp"

namespace ingle {

// A library's own limit is minutes; a cook is told within seconds or by another channel.
inline constexpr std::chrono::seconds attempt_limit{10};

struct Attempt {
    enum class Outcome { delivered, try_again, give_up };
    enum class Cause { other, certificate };  // a certificate may only seem bad to a clock that is wrong
    Outcome outcome = Outcome::delivered;
    std::string reason;                               // one sentence without secrets; "" if delivered
    std::optional<std::chrono::seconds> retry_after;  // what the receiver asked for
    Cause cause = Cause::other;
    bool unreached = false;  // no connection was made: nobody can have got it

    static Attempt delivered() { return {}; }
    static Attempt try_again(std::string reason, std::optional<std::chrono::seconds> after = {},
                             Cause cause = Cause::other) {
        return {Outcome::try_again, std::move(reason), after, cause, false};
    }
    static Attempt give_up(std::string reason) {
        return {Outcome::give_up, std::move(reason), {}, Cause::other, false};
    }
};

// What somebody does with a notice on the surface that shows it.
struct NoticeAnswer {
    std::vector<std::int64_t> alarms;
    std::optional<std::chrono::milliseconds> shelve_for;  // empty: they are acknowledged
};

class Notifier {
public:
    using OnAnswer = std::function<void(NoticeAnswer const&)>;

    virtual ~Notifier() = default;
    // Never throws; returns soon after `stop` is requested.
    virtual Attempt deliver(Notice const& notice, std::stop_token stop) = 0;
    // Of an attempt under way that may take long: "host sent no greeting so far (12 s)". Any thread.
    virtual std::string so_far() const { return {}; }
    // As much as can be tried without sending anything: that the server is there and takes the login. As
    // deliver(); empty where nothing can be.
    virtual std::optional<Attempt> prove(std::stop_token) { return std::nullopt; }
    // Once, before all else: where a notice can be answered, `answered` is called, on any thread.
    virtual void answer_to(OnAnswer) {}
    // Somebody attends to this alarm, or it is over: what shows it is withdrawn. Any thread; never blocks.
    virtual void attended(std::int64_t) {}
    // Of a kind that carries no notices: how often deliver() gives a sign of life.
    virtual std::optional<std::chrono::milliseconds> beats_every() const { return std::nullopt; }
    // Whether it shows a notice's chart.
    virtual bool wants_chart() const { return false; }
    // Of a kind that shows the kitchen all the time: it is given what is known now, about once a second and
    // when an alarm changes. Any thread; never blocks.
    virtual bool wants_state() const { return false; }
    virtual void show_state(View const&) {}
    // The watching ends, or goes on with other settings: it shows nothing any more. As show_state().
    virtual void retire() {}
};

struct NotifierInfo {
    std::string_view name;
    std::string_view summary;
    std::span<OptionInfo const> options;  // besides name, kind, least, after and policy_options()
    // Throws std::runtime_error with a sentence where these options can never work. `state` is the state
    // folder.
    std::unique_ptr<Notifier> (*make)(FreeKeys const& options, std::filesystem::path const& state);
    bool carries_notices = true;  // else least, after and policy_options() mean nothing
};

std::span<NotifierInfo const* const> notifiers();          // in the order of notices.def
NotifierInfo const* find_notifier(std::string_view kind);  // nullptr if this build has none of that kind

// Everything that is wrong with the channels' own keys.
std::vector<ConfigError> channel_problems(Settings const& settings);

// A key's texts, be it one text or a list; empty if it is absent.
std::vector<std::string> texts_of(FreeKeys const& options, std::string_view key);
std::string text_of(FreeKeys const& options, std::string_view key, std::string_view otherwise = "");

}  // namespace ingle
