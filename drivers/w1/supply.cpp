#include "drivers/w1/supply.hpp"

#include <system_error>
#include <utility>

namespace ingle {

void Supply::use(std::function<void(bool)> cut) {
    std::lock_guard const lock(mutex_);
    if (!cut_) cut_ = std::move(cut);
}

std::string Supply::cycle(Instant lost, Instant now,
                          std::function<void(std::chrono::milliseconds)> const& pause) {
    std::lock_guard const lock(mutex_);
    if (!cut_ || now - lost < lost_for || (last_ && now - *last_ < between)) return {};
    last_ = now;
    try {
        cut_(true);
        pause(off);
        cut_(false);
    } catch (std::system_error const& error) {
        return std::string("the supply of the sensors could not be cut: ") + error.what();
    }
    return "the supply of the sensors was cut for " + std::to_string(off.count() / 1000) +
           " s, because one had not answered for " + std::to_string((now - lost).count() / 60'000) + " min";
}

std::function<void(bool)> cut_through(LineAddress address, bool active_low) {
    auto const line = std::make_shared<std::unique_ptr<OutputLine>>();
    return [line, address = std::move(address), active_low](bool off) {
        if (!off) return line->reset();
        *line = std::make_unique<OutputLine>(address, active_low);
        (*line)->set(true);
    };
}

}  // namespace ingle
