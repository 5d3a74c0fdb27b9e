// The last resort for a 1-Wire bus that hangs: its supply is cut for a moment through a GPIO line. One per
// line, shared by the sensors behind it. Device threads.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "drivers/bus/gpio_line.hpp"
#include "drivers/reading/clock.hpp"

namespace ingle {

class Supply {
public:
    static constexpr Span lost_for{2 * 60'000};  // a sensor that answers again by itself does so sooner
    static constexpr Span between{10 * 60'000};  // two cuts; also of different sensors
    static constexpr std::chrono::milliseconds off{3000};  // until the bus's capacitors are empty

    // `cut`: switches the supply off (true) or on; throws std::system_error. The first one given stays.
    void use(std::function<void(bool)> cut);
    // Cuts the supply if a sensor has been lost since `lost` and it is time; takes as long as `pause`.
    // What was done, in words; "" = nothing.
    std::string cycle(Instant lost, Instant now, std::function<void(std::chrono::milliseconds)> const& pause);

private:
    std::mutex mutex_;
    std::function<void(bool)> cut_;
    std::optional<Instant> last_;
};

// Cuts through a line that is requested for the cut only: without Ingle the supply is on.
std::function<void(bool)> cut_through(LineAddress address, bool active_low);

}  // namespace ingle
