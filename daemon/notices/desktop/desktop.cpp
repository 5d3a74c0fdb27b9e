// Shows a notice on the desktop of the user whom the daemon runs as, with buttons to acknowledge and to
// shelve; it is withdrawn as soon as somebody attends to the alarm, wherever, or the alarm ends.
#include <chrono>

#include "config/quantity.hpp"
#include "daemon/notices/desktop/screen.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::desktop {
namespace {

constexpr OptionInfo options[] = {
    {"bus",
     OptionKind::text,
     false,
     "",
     {},
     0,
     0,
     "address of the session's D-Bus; else that of the user whom the daemon runs as"},
    {"shelve-for", OptionKind::text, false, "30 min", {}, 0, 0, "for how long its button shelves"},
};
constexpr std::chrono::seconds shelve_least{60}, shelve_most{24 * 3600};

class Desktop final : public Notifier {
public:
    Desktop(std::unique_ptr<Screen> screen, std::chrono::milliseconds shelve_for)
        : screen_(std::move(screen)),
          shelve_for_(shelve_for),
          shelve_label_("Shelve for " + show(Duration{std::chrono::duration<double>(shelve_for).count()})) {}

    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        return screen_->show(notice, shelve_label_, stop);
    }
    std::optional<Attempt> prove(std::stop_token stop) override { return screen_->reach(stop); }
    void answer_to(OnAnswer answered) override {
        screen_->answer_to([answered = std::move(answered), shelve_for = shelve_for_](
                               std::set<std::int64_t> const& alarms, bool shelve) {
            answered({{alarms.begin(), alarms.end()}, shelve ? std::optional(shelve_for) : std::nullopt});
        });
    }
    void attended(std::int64_t alarm) override { screen_->attended(alarm); }
    // What it showed stays: the channel of the settings after these takes it up.
    void retire() override { screen_->retire(); }

private:
    std::unique_ptr<Screen> screen_;
    std::chrono::milliseconds shelve_for_;
    std::string shelve_label_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const& state) {
    auto const parsed = parse_duration(text_of(keys, "shelve-for", "30 min"));
    auto const* length = std::get_if<Duration>(&parsed);
    auto const in = [](std::chrono::seconds limit) { return static_cast<double>(limit.count()); };
    if (!length || length->seconds < in(shelve_least) || length->seconds > in(shelve_most))
        throw WrongOption("shelve-for", "is no time from 1 min to 1 day", "such as \"30 min\"");
    auto const address = text_of(keys, "bus");
    if (!address.empty() && address.find(':') == std::string::npos)
        throw WrongOption("bus", "is no address of a D-Bus", "such as \"unix:path=/run/user/1000/bus\"");
    return std::make_unique<Desktop>(
        Screen::of(address, state),
        std::chrono::milliseconds(static_cast<std::int64_t>(length->seconds * 1000)));
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"desktop", "a notification on the desktop of the daemon's user, with buttons",
                        options, &make};

}  // namespace ingle::desktop
