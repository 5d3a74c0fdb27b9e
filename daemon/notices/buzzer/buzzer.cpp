// Sounds a buzzer on a GPIO line: as many beeps as the alarm is urgent. An all-clear makes no sound.
#include <stdexcept>
#include <system_error>
#include <thread>

#include "daemon/notices/buzzer/beeps.hpp"
#include "daemon/notices/notifier.hpp"
#include "drivers/bus/gpio_line.hpp"

namespace ingle::buzzer {
namespace {

constexpr std::string_view levels[] = {"low", "high"};
constexpr OptionInfo options[] = {
    {"chip", OptionKind::text, true, "", {}, 0, 0, "GPIO chip: its path or its label"},
    {"line", OptionKind::text, true, "", {}, 0, 0, "offset or name of the line"},
    {"sounds", OptionKind::text, false, "high", levels, 0, 0, "level of the line while the buzzer sounds"},
};

class Buzzer final : public Notifier {
public:
    Buzzer(LineAddress address, bool active_low) : address_(std::move(address)), active_low_(active_low) {}

    // The line is held while it sounds only, so that a line that another program holds for a moment is had
    // the next time.
    Attempt deliver(Notice const& notice, std::stop_token stop) override {
        auto const beeps = beeps_of(notice);
        if (beeps.empty()) return Attempt::delivered();
        try {
            OutputLine line(address_, active_low_);
            for (auto const& beep : beeps) {
                line.set(true);
                std::this_thread::sleep_for(beep.sound);
                line.set(false);
                if (stop.stop_requested()) break;
                std::this_thread::sleep_for(beep.pause);
            }
        } catch (std::system_error const& error) {
            return Attempt::try_again(std::string("the buzzer: ") + error.what());
        }
        return Attempt::delivered();
    }

private:
    LineAddress address_;
    bool active_low_;
};

std::unique_ptr<Notifier> make(FreeKeys const& keys, std::filesystem::path const&) {
    auto const number_or_text = [&](std::string_view key) {
        auto const found = keys.find(key);
        auto const* whole = found == keys.end() ? nullptr : std::get_if<std::int64_t>(&found->second.value);
        return whole ? std::to_string(*whole) : text_of(keys, key);
    };
    return std::make_unique<Buzzer>(LineAddress{text_of(keys, "chip"), number_or_text("line")},
                                    text_of(keys, "sounds", "high") == "low");
}

}  // namespace

extern NotifierInfo const info;
NotifierInfo const info{"buzzer", "a buzzer on a GPIO line: the more urgent, the more beeps", options, make};

}  // namespace ingle::buzzer
