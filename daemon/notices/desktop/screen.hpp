// What a channel shows in a desktop session: kept in a file over a reload and a restart, as long as the same
// desktop still shows it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <set>
#include <stop_token>
#include <string>
#include <vector>

#include "daemon/notices/desktop/card.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::desktop {

struct Shown {
    std::uint32_t id = 0;
    std::set<std::int64_t> open;  // alarms that nobody attends to yet
    Card card;
};

// `by`: who answers for them now.
std::string to_text(std::string const& by, std::string const& session, std::vector<Shown> const& shown);
std::string by_whom(std::string const& text);  // "" where nothing can be read
std::vector<Shown> shown_in(std::string const& text, std::string const& session);

class Screen {
public:
    using Answered = std::function<void(std::set<std::int64_t> const& alarms, bool shelve)>;

    // `address` "": the session's own.
    static std::unique_ptr<Screen> of(std::string const& address, std::filesystem::path const& state);
    virtual ~Screen() = default;
    virtual void answer_to(Answered answered) = 0;  // on the screen's own thread
    // No answers any more; what is shown is left to whoever takes it up. Any thread.
    virtual void retire() = 0;
    // Each waits for its end within attempt_limit.
    virtual Attempt reach(std::stop_token const& stop) = 0;
    virtual Attempt show(Notice const& notice, std::string const& shelve_label,
                         std::stop_token const& stop) = 0;
    virtual void attended(std::int64_t alarm) = 0;  // any thread; never blocks
};

}  // namespace ingle::desktop
